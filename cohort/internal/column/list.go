package column

import "example.org/holdfast/cohort/internal/words"

// The names of the columns, for rules that are about one.
const (
	JointID        = "joint_id"
	Patient        = "patient"
	OperationDate  = "operation_date"
	OperationType  = "operation_type"
	Joint          = "joint"
	Side           = "side"
	Procedure      = "procedure"
	Bearing        = "bearing"
	Head           = "head"
	HeadSize       = "head_size"
	Liner          = "liner"
	Polyethylene   = "polyethylene"
	Fixation       = "fixation"
	CupFixation    = "cup_fixation"
	StemFixation   = "stem_fixation"
	TibiaFixation  = "tibia_fixation"
	FemurFixation  = "femur_fixation"
	Approach       = "approach"
	Technique      = "technique"
	Age            = "age"
	BirthDate      = "birth_date"
	BirthYear      = "birth_year"
	Initials       = "initials"
	Sex            = "sex"
	Diagnosis      = "diagnosis"
	Activity       = "activity"
	ASA            = "asa"
	BMI            = "bmi"
	Smoking        = "smoking"
	Surgeon        = "surgeon"
	Grade          = "grade"
	Hospital       = "hospital"
	RevisionDate   = "revision_date"
	Revised        = "revised"
	RevisionReason = "revision_reason"
	DeathDate      = "death_date"
	Dead           = "dead"
	LastSeenDate   = "last_seen_date"
)

// The names of fields that are worked out, and are no columns.
const (
	AgeBand       = "age_band"
	OperationYear = "operation_year"
)

const dateForms = "a date: 2019-04-03, 3-Apr-2019, or 3/4/2019 if the column shows which number is the day"

// bodyMassIndex has the usual bounds: underweight below 18.5, obese from 30, in
// three classes. 99 stands for a value that is not known.
var bodyMassIndex = &Scale{Bounds: []float64{18.5, 25, 30, 35, 40}, Step: 0.1, Least: 10, Most: 80, Refused: true, Missing: []float64{99}}

// columns in the order of a template. A new column is a literal here and, for
// words of its own, a vocabulary in package words; see Column for what it may say.
var columns = []*Column{
	{
		Name: JointID, Kind: Identifier, Identifying: true,
		Help: "your own number for this implantation; without it the row number is used",
		Headings: `case no, case number, case id, joint no, joint number, record id, record no, record number, operation id, operation number, operation no,
			procedure id, implantation id, row id, fallnummer, fall nr`,
	},
	{
		Name: Patient, Kind: Identifier, Identifying: true, ZeroMissing: true,
		Help: "a pseudonym, the same for both joints of one patient (spaces and case don't matter); counts patients and finds second rows of one joint",
		Headings: `patient id, patient no, patient number, pat id, pat no, patientid, patient identifier, pseudonym, hospital number, hospital no, hosp no, hosp number, nhs no, nhs number,
			hospital id, mrn, medical record number, unit number, patient pseudonym, subject id, patientennummer, pat nr, patienten nr, patienten id, pasient id, pasientnummer,
			patientnummer, patientnr, numero patient, n patient, numero de dossier, n dossier, id paciente, n historia, no historia, numero de historia, historia clinica, numero de historia clinica`,
	},
	{
		Name: OperationDate, Kind: Date, Needed: true, ZeroMissing: true,
		Help: "needed; the day of the primary operation, as " + dateForms,
		Headings: `date of operation, op date, date of op, operation dt, date operation, date op, date of surgery, surgery date, surgical date, dos, doo, date of procedure, procedure date,
			date of primary, primary date, primary op date, primary operation date, date of primary operation, primary surgery date, date of primary surgery,
			index date, index operation date, index surgery date, date of index operation, date of implantation, implantation date, implant date, date implanted, date of implant,
			date of arthroplasty, operated on, op datum, operationsdatum, datum der operation, datum op, date d intervention, date intervention, date de chirurgie,
			operasjonsdato, operationsdato, operatiedatum, fecha de operacion, fecha operacion, fecha de cirugia, fecha cirugia`,
	},
	{
		Name: OperationType, Kind: Words, Closed: true,
		Help:     "primary or revision; rows that say revision are set aside, since one row is one primary",
		Headings: `operation type, type of operation, type of op, op type, type of surgery, surgery type, primary or revision, primary revision, operation category`,
		Read:     words.OperationType, Order: []string{words.Primary, words.Revision, words.Reoperation},
		Until: "until then such rows are set aside",
	},
	{
		Name: Joint, Kind: Words, Closed: true, Uses: Grouping | Published,
		Help:     "hip or knee; another joint is kept as typed",
		Headings: `hip knee, hip or knee, joint replaced, joint operated, joint type, type of joint, operated joint, gelenk, articulation operee, ledd, led, gewricht, articulacion`,
		Read:     words.Joint, Order: []string{words.Hip, words.Knee, "shoulder", "elbow", "wrist", "ankle"},
		MadeFrom: []string{Procedure},
	},
	{
		Name: Side, Kind: Words, Closed: true, Uses: Grouping | MixOperation,
		Help:     "left or right (L, Lt, R, Rt); both in one row is two joints and is set aside",
		Headings: `laterality, operated side, operation side, op side, side of operation, side operated, side of surgery, left right, left or right, l r, r l, seite, cote, zijde, sida, lado`,
		Read:     words.Side, Order: []string{words.Left, words.Right, words.Bilateral},
	},
	{
		Name: Procedure, Kind: Words, Closed: true, Makers: true, Uses: Grouping | Published,
		Help: "total, resurfacing, unicompartmental or patellofemoral, or a common name: THR, TKA, UKR medial, PFJ, HRA",
		Headings: `operation, op, operation performed, procedure performed, procedure name, name of procedure, procedure type, type of procedure, procedure text, operation name, name of operation,
			surgical procedure, primary procedure, operative procedure, arthroplasty type, type of arthroplasty, type of replacement, eingriff, ingreep, ingrep, ingrepp, inngrep, procedimiento`,
		Read: procedure, Order: []string{words.Total, words.Resurfacing, words.Unicompartmental, words.Patellofemoral, words.Hemiarthroplasty},
	},
	{
		Name: Bearing, Kind: Words, Closed: true, Makers: true, Uses: Grouping | MixOperation | Chosen | Published,
		Help: "hip: head on liner, such as MoP, CoXLPE, ceramic-on-ceramic or dual mobility; knee: fixed or mobile",
		Headings: `bearing combination, bearing couple, bearing type, type of bearing, bearing surface, bearing surfaces, bearing material, bearing materials, articulation, articulating surface, articulating surfaces, articulation type,
			bearing couples, gleitpaarung, couple, couple de frottement, articulatie, artikulation, par de friccion`,
		Read: bearing, Order: append(words.HipBearings(), words.FixedBearing, words.MobileBearing),
		MadeFrom: []string{Head},
	},
	{
		Name: Head, Kind: Words, Closed: true, Makers: true,
		Help:     "the material of a hip's head: metal, ceramic or ceramicised metal; with liner it gives the bearing",
		Headings: `head material, femoral head, femoral head material, head type, type of head, material of head, kopfmaterial`,
		Read:     words.Head, Order: []string{words.Metal, words.Ceramic, words.CeramicisedMetal},
		Until: "until then it gives no bearing",
	},
	{
		Name: HeadSize, Title: "head size in mm", Kind: Words, Closed: true, ZeroMissing: true, Uses: Grouping | MixOperation | Chosen,
		Help: "the diameter of a hip's head in mm, 22 to 64 (28, 32mm, 36 mm +4)",
		Headings: `head size mm, size of head, head diameter, head diameter mm, diameter of head, femoral head size, femoral head size mm, femoral head diameter, femoral head diameter mm, size of femoral head,
			kopfgrosse, kopfdurchmesser, taille de tete, hodestorrelse, kopmaat`,
		Read: words.HeadSize, Order: words.HeadSizes(), Scale: &Scale{Step: 1, Least: 22, Most: 64},
	},
	{
		Name: Liner, Kind: Words, Closed: true, Makers: true,
		Help:     "the material of a hip's liner: polyethylene, cross-linked polyethylene, ceramic, metal or dual mobility",
		Headings: `liner material, liner type, type of liner, acetabular liner, insert material, material of liner, cup liner, acetabular liner material`,
		Read:     words.Liner, Order: []string{words.PlainPolyethylene, words.CrosslinkedPE, words.Ceramic, words.Metal, words.DualMobility},
		Until: "until then it gives no bearing",
	},
	{
		Name: Polyethylene, Kind: Words, Closed: true, Makers: true, Uses: Grouping | MixOperation | Chosen | Published,
		Help:     "the polyethylene of a knee's insert: conventional or crosslinked",
		Headings: `poly, poly type, polyethylene type, type of polyethylene, type of poly, pe type, insert polyethylene, polyethylen`,
		Read:     words.Polyethylene, Order: []string{words.Conventional, words.Crosslinked},
	},
	{
		Name: Fixation, Kind: Words, Closed: true, Uses: Grouping | MixOperation | Chosen | Published,
		Help:     "cemented, porous (cementless, uncemented, press-fit), hybrid or reverse hybrid",
		Headings: `cemented, cement, cem, cem uncem, cem or uncem, cemented uncemented, cemented or uncemented, cemented cementless, cemented or cementless, cemented or not, fixation type, type of fixation, method of fixation, fixation method, mode of fixation, implant fixation, cementation, fixierung, verankerung, fiksasjon, fiksering, fixatie, fijacion`,
		Read:     words.Fixation, Order: []string{words.Cemented, words.Porous, words.Hybrid, words.ReverseHybrid},
		MadeFrom: []string{CupFixation, TibiaFixation},
	},
	{
		Name: CupFixation, Kind: Words, Closed: true,
		Help:     "cemented or porous; with stem_fixation it gives a hip's fixation and goes before the word in that column",
		Headings: `acetabular fixation, fixation of cup, fixation cup, acetabulum fixation, fixation of acetabulum, acetabular component fixation, socket fixation, shell fixation, cup cemented, pfannenfixation`,
		Read:     words.ComponentFixation, Order: []string{words.Cemented, words.Porous},
		Until: "until then it gives no fixation",
	},
	{
		Name: StemFixation, Kind: Words, Closed: true,
		Help:     "cemented or porous; see cup_fixation",
		Headings: `fixation of stem, fixation stem, femoral stem fixation, stem cemented, schaftfixation`,
		Read:     words.ComponentFixation, Order: []string{words.Cemented, words.Porous},
		Until: "until then it gives no fixation",
	},
	{
		Name: TibiaFixation, Kind: Words, Closed: true,
		Help:     "cemented or porous; with femur_fixation it gives a knee's fixation and goes before the word in that column",
		Headings: `tibial fixation, fixation of tibia, fixation tibia, tibial component fixation, tibial tray fixation, tray fixation`,
		Read:     words.ComponentFixation, Order: []string{words.Cemented, words.Porous},
		Until: "until then it gives no fixation",
	},
	{
		Name: FemurFixation, Kind: Words, Closed: true,
		Help:     "cemented or porous; see tibia_fixation",
		Headings: `fixation of femur, fixation femur`,
		Read:     words.ComponentFixation, Order: []string{words.Cemented, words.Porous},
		Until: "until then it gives no fixation",
	},
	{
		Name: Approach, Kind: Words, Closed: true, Makers: true, Uses: Grouping | MixOperation | Chosen,
		Help:     "hip: posterior, lateral, anterolateral, anterior or trochanteric; knee: medial parapatellar, midvastus, subvastus, lateral parapatellar or tibial tubercle osteotomy",
		Headings: `appr, surgical approach, operative approach, approach used, type of approach, approach type, hip approach, knee approach, approach to hip, approach to knee, zugang, voie d abord, tilgang, adgang, benadering, abordaje`,
		Read:     words.Approach,
		Order: []string{words.PosteriorApproach, words.LateralApproach, words.AnterolateralApproach, words.AnteriorApproach, words.TrochantericApproach, words.MedialParapatellar, words.MidvastusApproach,
			words.SubvastusApproach, words.LateralParapatellar, words.TubercleOsteotomy, words.OtherApproach},
	},
	{
		Name: Technique, Kind: Words, Closed: true, Makers: true, Uses: Grouping | MixOperation | Chosen,
		Help:     "manual, navigated, robotic-assisted or patient-specific (guides made for the patient)",
		Headings: `surgical technique, operative technique, operation technique, technique used, type of technique, technology, technology used, technology assistance, computer assistance, instrumentation`,
		Read:     words.Technique, Order: []string{words.ManualTechnique, words.Navigated, words.RoboticAssisted, words.PatientSpecific},
	},
	{
		Name: Age, Kind: Number, ZeroMissing: true, Uses: ChosenBy | MixPatient, Field: AgeBand,
		Help: "completed years at operation, 10 to 110; or give birth_date or birth_year",
		Headings: `age at operation, age at op, age at surgery, age at procedure, age at primary, age at implantation, age at index operation, age at time of surgery, age at time of operation, patient age,
			age in years, age years, age yrs, age y, op age, age op, alter, alter bei op, alter bei operation, leeftijd, alder, alder ved operasjon, edad, age a l operation`,
	},
	{
		Name: BirthDate, Kind: Date, Identifying: true, ZeroMissing: true,
		Help: "date of birth, only used to work out the age",
		Headings: `date of birth, dob, d o b, date birth, born, born on, birthdate, birthday, birth dt, patient dob, patient date of birth, geburtsdatum, geb datum, geb, date de naissance, date naissance, ddn, fodselsdato, fodelsedatum,
			fodselsdag, geboortedatum, fecha de nacimiento, fecha nacimiento`,
	},
	{
		Name: BirthYear, Kind: Number, Identifying: true, ZeroMissing: true,
		Help:     "year of birth, where the date may not be kept; the age is then the difference of the years",
		Headings: `year of birth, yob, y o b, year birth, geburtsjahr, jahrgang, annee de naissance, fodselsar, fodelsear, geboortejaar, ano de nacimiento`,
	},
	{
		Name: Initials, Kind: Identifier, Identifying: true,
		Help:     "the patient's initials; with birth date and sex they show one patient under two identifiers",
		Headings: `patient initials, pt initials, inits, initialen, initiales`,
	},
	{
		Name: Sex, Kind: Words, Closed: true, Uses: ChosenBy | Grouping | MixPatient | Published,
		Help:     "female or male (F, M)",
		Headings: `gender, patient sex, patient gender, sex of patient, m f, f m, male female, geschlecht, sexe, kjonn, kon, geslacht, sexo`,
		Read:     words.Sex, Order: []string{words.Female, words.Male},
	},
	{
		Name: Diagnosis, Kind: Words, Uses: Grouping | MixPatient | Published,
		Help: "the indication for the primary operation: osteoarthritis, fracture, avascular necrosis, inflammatory arthritis, dysplasia or childhood hip disease, post-traumatic or other (OA, NOF, AVN, RA, DDH); as typed where none fits",
		Headings: `indication, indication for surgery, indication for operation, indication for primary, primary diagnosis, diagnosis at primary, diagnosis at operation, preoperative diagnosis, pre op diagnosis, preop diagnosis, underlying diagnosis,
			diagnose, diagnostic, diagnostico`,
		Read:  words.Diagnosis,
		Order: []string{words.Osteoarthritis, words.Fracture, words.AvascularNecrosis, words.InflammatoryArthritis, words.ChildhoodDisease, words.PostTraumatic, words.OtherDiagnosis},
	},
	{
		Name: Activity, Kind: Words, Closed: true, Uses: ChosenBy | Grouping | MixPatient,
		Help:     "low, moderate or high; or a number of a scale, kept as typed unless the settings band it",
		Headings: `activity level, level of activity, activity score, activity scale, activity grade, physical activity, activity before operation, preoperative activity, pre op activity, preop activity, aktivitat, aktivitet, niveau d activite`,
		Read:     words.Activity, Order: []string{words.LowActivity, words.ModerateActivity, words.HighActivity}, Scale: &Scale{Step: 1, Most: 100},
	},
	{
		Name: ASA, Title: "ASA", Kind: Words, Closed: true, ZeroMissing: true, Uses: Grouping | MixPatient,
		Help:     "the physical status of the American Society of Anesthesiologists, 1 to 5 (I to V, ASA 2, 2E)",
		Headings: `asa grade, asa score, asa class, asa classification, asa status, asa ps, asa physical status, asa category, physical status, anaesthetic grade`,
		Read:     words.PhysicalStatus, Order: []string{"1", "2", "3", "4", "5"},
	},
	{
		Name: BMI, Title: "BMI", Kind: Words, Closed: true, ZeroMissing: true, Uses: Grouping | MixPatient,
		Help:     "the body mass index in kg/m², 10 to 80; shown in bands",
		Headings: `body mass index, bmi kg m2, bmi score, bmi value, body mass index bmi, body mass index kg m2, bmi at operation, bmi at surgery, bmi at op, imc, indice de masse corporelle, indice de masa corporal, kmi`,
		Read:     words.BodyMassIndex, Order: bodyMassIndex.Bands(bodyMassIndex.Bounds), Scale: bodyMassIndex,
	},
	{
		Name: Smoking, Kind: Words, Closed: true, Uses: Grouping | MixPatient,
		Help:     "never, former or current; non-smoker where only that is known",
		Headings: `smoker, smoking status, smoking history, smoking habit, smoking habits, smokes, current smoker, smoking at operation, tobacco, tobacco use, tobacco history, raucher, rauchen, tabac, tabagisme, royker, roken, tabaco`,
		Read:     words.Smoking, Order: []string{words.NeverSmoked, words.FormerSmoker, words.NonSmoker, words.CurrentSmoker},
	},
	{
		Name: Surgeon, Kind: Names, Uses: Grouping,
		Help: "a name or code to group by; names alike but for case, punctuation and titles are one",
		Headings: `lead surgeon, cons, consultant, consultant surgeon, operating surgeon, surgeon id, surgeon code, surgeon name, name of surgeon, primary surgeon, first surgeon, main surgeon, responsible surgeon, consultant in charge, operator, chirurg, operateur, chirurgien,
			kirurg, chirurgo, cirujano`,
	},
	{
		Name: Grade, Title: "operating grade", Kind: Words, Closed: true, Uses: Grouping | MixOperation,
		Help: "the grade of who operated: consultant, staff grade, fellow, trainee supervised, trainee unsupervised or trainee (ST6, registrar, resident)",
		Headings: `operating grade, surgeon grade, grade of surgeon, operator grade, grade of operator, operating surgeon grade, grade of operating surgeon, lead surgeon grade, grade of lead surgeon, primary surgeon grade, first surgeon grade,
			surgeon level, level of surgeon, training level, level of training, seniority, surgeon seniority, grade or supervision, operated by grade`,
		Read:  words.Grade,
		Order: []string{words.Consultant, words.StaffGrade, words.Fellow, words.SupervisedTrainee, words.UnsupervisedTrainee, words.Trainee, words.OtherGrade},
	},
	{
		Name: Hospital, Kind: Names, Uses: Grouping,
		Help:     "a name or code to group by; names alike but for case, punctuation and titles are one",
		Headings: `site, unit, hospital name, hospital code, name of hospital, hospital site, operating hospital, centre, center, clinic, institution, treatment centre, krankenhaus, klinik, hopital, sykehus, sjukhus, sygehus, ziekenhuis`,
	},
	{
		Name: RevisionDate, Kind: Date, Needed: true, Uses: Outcome,
		Help: "needed; the day of the first revision, empty if there was none; as operation_date",
		Headings: `date of revision, date revised, revised on, rev date, date of rev, date rev, date revision, revision dt, revision operation date, revision op date, date of revision operation, date of revision surgery, revision surgery date, date of first revision, first revision date,
			date of 1st revision, 1st revision date, revision 1 date, date of revision 1, date revision 1, revision date 1, revisionsdatum, datum der revision, wechseldatum, wechsel am, datum des wechsels, date de revision, date de reprise, revisjonsdato, revisionsdato, revisiedatum, fecha de revision, fecha revision`,
		None: words.Revised,
	},
	{
		Name: Revised, Kind: YesNo, Closed: true, Uses: Outcome,
		Help:     "yes or no; a yes without a revision_date is set aside and counted",
		Headings: `revised yes no, revision yes no, is revised, was revised, has been revised, ever revised, revision done, revision performed, revised status, revision status, revised or not, revidiert, revidert, revideret, reviderad`,
		Read:     words.Revised, Order: []string{words.Yes, words.No},
		Until: "until then ignored, as neither yes nor no",
	},
	{
		Name: RevisionReason, Kind: Words, Closed: true, ZeroMissing: true, Uses: Outcome,
		Help: "infection, aseptic loosening, dislocation or instability, periprosthetic fracture and so on",
		Headings: `reason for revision, rev indication, indication for rev, reason revision, reason revised, revised for, reason for rev, rev reason, cause of revision, revision cause, cause revision, indication for revision, revision indication, revision diagnosis, diagnosis at revision,
			revision 1 reason, reason for revision 1, revision reason 1, 1st revision reason, reason for 1st revision, primary reason for revision, main reason for revision, revisionsgrund, revisionsursache, grund der revision, wechselgrund, grund des wechsels, revisionsindikation, cause de revision, cause de reprise, revisjonsarsak, revisionsarsag, revisionsorsak, reden revisie, motivo de revision`,
		Read: words.Reason, Order: []string{
			words.Infection, words.AsepticLoosening, words.Lysis, words.Dislocation, words.PeriprostheticFracture, words.Wear, words.MetalReaction, words.ComponentFracture,
			words.Malposition, words.Pain, words.Stiffness, words.DiseaseProgression, words.PatellarProblem, words.LegLength, words.OtherReason,
		},
	},
	{
		Name: DeathDate, Kind: Date, Uses: Outcome,
		Help: "the day of death, empty if alive; without deaths both estimates come out too low",
		Headings: `date of death, rip date, date rip, date of rip, death dt, date death, date died, died on, verstorben am, gestorben am, decede le, date deceased, deceased on, deceased date, dead date, todesdatum, sterbedatum, date de deces, date deces, dodsdato, dodsdatum, overlijdensdatum, datum overlijden,
			fecha de muerte, fecha de defuncion, fecha de fallecimiento`,
		None: words.Dead,
	},
	{
		Name: Dead, Kind: YesNo, Closed: true, Uses: Outcome,
		Help:     "yes or no; a yes without a death_date ends follow-up when last seen",
		Headings: `deceased, is dead, died yes no, death yes no, alive or dead, alive dead, dead alive, dead or alive, vital status, living status, verstorben, decede, overleden, fallecido`,
		Read:     words.Dead, Order: []string{words.Yes, words.No},
		Until: "until then ignored, as neither yes nor no",
	},
	{
		Name: LastSeenDate, Kind: Date, ZeroMissing: true, Uses: Outcome,
		Help: "the last day the joint was known to be in place, where follow-up does not reach the closing date",
		Headings: `last seen, date last seen, last seen on, last contact, last contact date, date of last contact, date last contact, last follow up, last followup, last fu, last f u, last follow up date, last followup date, last fu date, date of last follow up,
			date of last followup, date of last fu, date last follow up, last review, last review date, date of last review, last clinic, last clinic date, last appointment, last visit, last visit date, date of last visit, latest follow up, latest follow up date,
			most recent follow up, letzter kontakt, letzte kontrolle, letzte nachuntersuchung, letzte vorstellung, zuletzt gesehen, date de dernier contact, dernier contact, date dernieres nouvelles, derniere consultation, dernier controle,
			siste kontakt, siste kontroll, senaste kontakt, senaste kontroll, sidste kontakt, laatste controle, laatste contact, ultimo contacto, ultima visita, ultimo control, ultima consulta`,
	},
}
