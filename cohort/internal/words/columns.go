package words

import "slices"

// The columns of the outcomes table.
const (
	ColumnJointID        = "joint_id"
	ColumnPatient        = "patient"
	ColumnOperationDate  = "operation_date"
	ColumnOperationType  = "operation_type"
	ColumnJoint          = "joint"
	ColumnSide           = "side"
	ColumnProcedure      = "procedure"
	ColumnBearing        = "bearing"
	ColumnHead           = "head"
	ColumnLiner          = "liner"
	ColumnPolyethylene   = "polyethylene"
	ColumnFixation       = "fixation"
	ColumnCupFixation    = "cup_fixation"
	ColumnStemFixation   = "stem_fixation"
	ColumnTibiaFixation  = "tibia_fixation"
	ColumnFemurFixation  = "femur_fixation"
	ColumnAge            = "age"
	ColumnBirthDate      = "birth_date"
	ColumnBirthYear      = "birth_year"
	ColumnInitials       = "initials"
	ColumnSex            = "sex"
	ColumnDiagnosis      = "diagnosis"
	ColumnSurgeon        = "surgeon"
	ColumnHospital       = "hospital"
	ColumnRevisionDate   = "revision_date"
	ColumnRevised        = "revised"
	ColumnRevisionReason = "revision_reason"
	ColumnDeathDate      = "death_date"
	ColumnDead           = "dead"
	ColumnLastSeenDate   = "last_seen_date"
)

type column struct {
	name        string
	description string
	headings    string // close variants, folded, separated by commas
}

const dateForms = "a date: 2019-04-03, 3-Apr-2019, or 3/4/2019 if the column shows which number is the day"

var columns = []column{
	{ColumnJointID, "your own number for this implantation; without it the row number is used",
		`case no, case number, case id, joint no, joint number, record id, record no, record number, operation id, operation number, operation no,
		procedure id, implantation id, row id, fallnummer`},
	{ColumnPatient, "a pseudonym, the same for both joints of one patient (spaces and case don't matter); counts patients and finds second rows of one joint",
		`patient id, patient no, patient number, pat id, pat no, patientid, patient identifier, pseudonym, hospital number, hospital no, hosp no,
		hospital id, mrn, medical record number, unit number, patient pseudonym, subject id, patientennummer, patienten id, pasient id, pasientnummer,
		patientnummer, patientnr, numero patient, id paciente`},
	{ColumnOperationDate, "needed; the day of the primary operation, as " + dateForms,
		`date of operation, op date, date of op, operation dt, date operation, date op, date of surgery, surgery date, surgical date, dos, doo, date of procedure, procedure date,
		date of primary, primary date, primary op date, primary operation date, date of primary operation, primary surgery date, date of primary surgery,
		index date, index operation date, index surgery date, date of index operation, date of implantation, implantation date, implant date, date implanted, date of implant,
		date of arthroplasty, operated on, op datum, operationsdatum, datum der operation, datum op, date d intervention, date intervention, date de chirurgie,
		operasjonsdato, operationsdato, operatiedatum, fecha de operacion, fecha operacion, fecha de cirugia, fecha cirugia`},
	{ColumnOperationType, "primary or revision; rows that say revision are set aside, since one row is one primary",
		`operation type, type of operation, type of op, op type, type of surgery, surgery type, primary or revision, primary revision, operation category`},
	{ColumnJoint, "hip or knee; another joint is kept as typed",
		`joint replaced, joint operated, joint type, type of joint, operated joint, gelenk, articulation operee, ledd, led, gewricht, articulacion`},
	{ColumnSide, "left or right (L, Lt, R, Rt); both in one row is two joints and is set aside",
		`laterality, operated side, operation side, op side, side of operation, side operated, side of surgery, left right, left or right, l r, r l, seite, cote, zijde, sida, lado`},
	{ColumnProcedure, "total, resurfacing, unicompartmental or patellofemoral, or a common name: THR, TKA, UKR medial, PFJ, HRA",
		`operation, op, operation performed, procedure performed, procedure name, name of procedure, procedure type, type of procedure, procedure text, operation name, name of operation,
		surgical procedure, primary procedure, operative procedure, arthroplasty type, type of arthroplasty, type of replacement, eingriff, ingreep, ingrep, inngrep, procedimiento`},
	{ColumnBearing, "hip: head on liner, such as MoP, CoXLPE, ceramic-on-ceramic or dual mobility; knee: fixed or mobile",
		`bearing combination, bearing couple, bearing type, type of bearing, bearing surface, bearing surfaces, bearing material, bearing materials, articulation, articulating surface, articulating surfaces, articulation type,
		bearing couples, gleitpaarung, couple de frottement`},
	{ColumnHead, "the material of a hip's head: metal, ceramic or ceramicised metal; with liner it gives the bearing",
		`head material, femoral head, femoral head material, head type, type of head, material of head, kopfmaterial`},
	{ColumnLiner, "the material of a hip's liner: polyethylene, cross-linked polyethylene, ceramic, metal or dual mobility",
		`liner material, liner type, type of liner, acetabular liner, insert material, material of liner, cup liner, acetabular liner material`},
	{ColumnPolyethylene, "the polyethylene of a knee's insert: conventional or crosslinked",
		`poly, poly type, polyethylene type, type of polyethylene, type of poly, pe type, insert polyethylene, polyethylen`},
	{ColumnFixation, "cemented, porous (cementless, uncemented, press-fit), hybrid or reverse hybrid",
		`fixation type, type of fixation, method of fixation, fixation method, mode of fixation, implant fixation, cementation, fixierung, verankerung, fiksasjon, fiksering, fixatie, fijacion`},
	{ColumnCupFixation, "cemented or porous; with stem_fixation it gives a hip's fixation and goes before the word in that column",
		`acetabular fixation, fixation of cup, fixation cup, acetabulum fixation, fixation of acetabulum, acetabular component fixation, socket fixation, shell fixation, cup cemented, pfannenfixation`},
	{ColumnStemFixation, "cemented or porous; see cup_fixation",
		`fixation of stem, fixation stem, femoral stem fixation, stem cemented, schaftfixation`},
	{ColumnTibiaFixation, "cemented or porous; with femur_fixation it gives a knee's fixation and goes before the word in that column",
		`tibial fixation, fixation of tibia, fixation tibia, tibial component fixation, tibial tray fixation, tray fixation`},
	{ColumnFemurFixation, "cemented or porous; see tibia_fixation",
		`fixation of femur, fixation femur`},
	{ColumnAge, "completed years at operation, 10 to 110; or give birth_date or birth_year",
		`age at operation, age at op, age at surgery, age at procedure, age at primary, age at implantation, age at index operation, age at time of surgery, age at time of operation, patient age,
		age in years, age years, age yrs, age y, op age, age op, alter, alter bei op, alter bei operation, leeftijd, alder, alder ved operasjon, edad, age a l operation`},
	{ColumnBirthDate, "date of birth, only used to work out the age",
		`date of birth, dob, d o b, date birth, born, born on, birthdate, birthday, birth dt, patient dob, patient date of birth, geburtsdatum, geb datum, geb, date de naissance, date naissance, ddn, fodselsdato, fodelsedatum,
		fodselsdag, geboortedatum, fecha de nacimiento, fecha nacimiento`},
	{ColumnBirthYear, "year of birth, where the date may not be kept; the age is then the difference of the years",
		`year of birth, yob, y o b, year birth, geburtsjahr, jahrgang, annee de naissance, fodselsar, fodelsear, geboortejaar, ano de nacimiento`},
	{ColumnInitials, "the patient's initials; with birth date and sex they show one patient under two identifiers",
		`patient initials, pt initials, inits, initialen, initiales`},
	{ColumnSex, "female or male (F, M)",
		`gender, patient sex, patient gender, sex of patient, m f, f m, male female, geschlecht, sexe, kjonn, kon, geslacht, sexo`},
	{ColumnDiagnosis, "the indication for the primary operation; kept as typed",
		`indication, indication for surgery, indication for operation, indication for primary, primary diagnosis, diagnosis at primary, diagnosis at operation, preoperative diagnosis, pre op diagnosis, preop diagnosis, underlying diagnosis,
		diagnose, diagnostic, diagnostico`},
	{ColumnSurgeon, "a name or code to group by; kept as typed",
		`lead surgeon, consultant, consultant surgeon, operating surgeon, surgeon id, surgeon code, surgeon name, name of surgeon, primary surgeon, first surgeon, main surgeon, responsible surgeon, consultant in charge, operator, chirurg, operateur, chirurgien,
		kirurg, chirurgo, cirujano`},
	{ColumnHospital, "a name or code to group by; kept as typed",
		`site, unit, hospital name, hospital code, name of hospital, hospital site, operating hospital, centre, center, clinic, institution, treatment centre, krankenhaus, klinik, hopital, sykehus, sjukhus, sygehus, ziekenhuis`},
	{ColumnRevisionDate, "needed; the day of the first revision, empty if there was none; as operation_date",
		`date of revision, date revised, revised on, rev date, date of rev, date rev, date revision, revision dt, revision operation date, revision op date, date of revision operation, date of revision surgery, revision surgery date, date of first revision, first revision date,
		date of 1st revision, 1st revision date, revisionsdatum, datum der revision, wechseldatum, date de revision, date de reprise, revisjonsdato, revisionsdato, revisiedatum, fecha de revision, fecha revision`},
	{ColumnRevised, "yes or no; a yes without a revision_date is set aside and counted",
		`revised yes no, revision yes no, is revised, was revised, has been revised, ever revised, revision done, revision performed, revised status, revision status, revised or not, revidiert, revidert, revideret, reviderad`},
	{ColumnRevisionReason, "infection, aseptic loosening, dislocation or instability, periprosthetic fracture and so on",
		`reason for revision, reason revision, reason revised, revised for, reason for rev, rev reason, cause of revision, revision cause, cause revision, indication for revision, revision indication, revision diagnosis, diagnosis at revision,
		primary reason for revision, main reason for revision, revisionsgrund, revisionsursache, cause de revision, cause de reprise, revisjonsarsak, revisionsarsag, revisionsorsak, reden revisie, motivo de revision`},
	{ColumnDeathDate, "the day of death, empty if alive; without deaths both estimates come out too low",
		`date of death, death dt, date death, date died, died on, date deceased, deceased on, deceased date, dead date, todesdatum, sterbedatum, date de deces, date deces, dodsdato, dodsdatum, overlijdensdatum, datum overlijden,
		fecha de muerte, fecha de defuncion, fecha de fallecimiento`},
	{ColumnDead, "yes or no; a yes without a death_date ends follow-up when last seen",
		`deceased, is dead, died yes no, death yes no, alive or dead, alive dead, dead alive, dead or alive, vital status, living status, verstorben, decede, overleden, fallecido`},
	{ColumnLastSeenDate, "the last day the joint was known to be in place, where follow-up does not reach the closing date",
		`last seen, date last seen, last seen on, last contact, last contact date, date of last contact, date last contact, last follow up, last followup, last fu, last f u, last follow up date, last followup date, last fu date, date of last follow up,
		date of last followup, date of last fu, date last follow up, last review, last review date, date of last review, last clinic, last clinic date, last appointment, last visit, last visit date, date of last visit, latest follow up, latest follow up date,
		most recent follow up, letzter kontakt, letzte kontrolle, date de dernier contact, dernier contact, date dernieres nouvelles, siste kontakt, siste kontroll, senaste kontakt, sidste kontakt, laatste controle, laatste contact, ultimo contacto`},
}

// Columns returns the names of all columns of the outcomes table, in the order
// of a template.
func Columns() []string {
	names := make([]string, len(columns))
	for i, c := range columns {
		names[i] = c.name
	}
	return names
}

// Needed returns the columns without which a table cannot be analysed.
func Needed() []string { return []string{ColumnOperationDate, ColumnRevisionDate} }

// Description returns one line on what a column holds and which forms are
// accepted, or nothing for a column that is not in Columns.
func Description(name string) string {
	if i := slices.IndexFunc(columns, func(c column) bool { return c.name == name }); i >= 0 {
		return columns[i].description
	}
	return ""
}

// Identifying reports whether the cells of a column may identify a patient, so
// that they must not reach a message, a log or a report: patient, joint_id
// (often a case number), birth_date, birth_year and initials, and headings of a table's
// own such as "Surname", "Initials" or "Postcode". A heading that names the
// surgeon's or hospital's own name is not among them.
func Identifying(name string) bool {
	switch name {
	case ColumnPatient, ColumnJointID, ColumnBirthDate, ColumnBirthYear, ColumnInitials:
		return true
	}
	return identifying.class[Fold(name)] != ""
}

var identifying = newVocabulary("identifying", `name, names, full name, patient name, name of patient, pat name, patients name, surname, last name, family name,
	forename, forenames, first name, first names, given name, given names, middle name, maiden name, initials, patient initials, pt initials, pt name, pt,
	nhs no, nhs number, chi, chi number, ni number, national insurance number, national id, national identity number, id number, personal number, personnummer, fodselsnummer, cpr,
	cpr number, cpr nummer, bsn, ssn, social security number, medicare number, insurance number, passport number, health card number, hospital no, hospital number,
	address, home address, street, post code, postcode, postal code, zip, zip code, phone, phone number, telephone, telephone number, tel, mobile phone, mobile number,
	email, e mail, email address, next of kin, nachname, vorname, patientenname, nom, prenom, nom du patient, efternavn, fornavn, etternavn, efternamn, fornamn,
	achternaam, voornaam, apellido, apellidos, nombre, adresse, adres, direccion`)
