package words

// Canonical reasons for revision.
const (
	Infection              = "infection"
	AsepticLoosening       = "aseptic loosening"
	Lysis                  = "lysis"
	Dislocation            = "dislocation or instability"
	PeriprostheticFracture = "periprosthetic fracture"
	Wear                   = "wear or liner failure"
	MetalReaction          = "adverse reaction to metal debris"
	ComponentFracture      = "component fracture"
	Malposition            = "malposition"
	Pain                   = "pain"
	Stiffness              = "stiffness"
	DiseaseProgression     = "progression of disease"
	PatellarProblem        = "patellar problem"
	LegLength              = "leg length"
	OtherReason            = "other"
)

const componentNames = `cup, stem, acetabulum, acetabular, femur, femoral, tibia, tibial, shell, socket, tray, component, components,
		both, both components, implant, prosthesis`

var reasons = newVocabulary(
	Infection, `infection, infected, infect, infections, pji, periprosthetic joint infection, peri prosthetic joint infection,
		prosthetic joint infection, periprosthetic infection, sepsis, septic, septic loosening, infected loosening, loosening infected,
		infektion, infekt, protheseninfekt, protheseninfektion, fruhinfekt, spatinfekt, periprothetische infektion, infeksjon, infectie, infeccion, infiziert, infecte`,
	AsepticLoosening, `aseptic loosening, loosening, loose, mechanical loosening, lockerung, aseptische lockerung, prothesenlockerung, pfannenlockerung, schaftlockerung, descellement,
		descellement aseptique, aseptisk losning, losning, aseptisk lossning, lossning, aseptische loslating, loslating, aflojamiento, aflojamiento aseptico`,
	Lysis, `lysis, osteolysis, bone lysis, osteolytic, osteolyse, osteolisis, lysis without loosening`,
	Dislocation, `dislocation or instability, dislocation, dislocations, dislocated, dislocating, instability, unstable, subluxation,
		subluxing, luxation, luxasjon, luxatie, luxacion, instabilitat, instabilite, instabilitet, instabiliteit, inestabilidad`,
	PeriprostheticFracture, `periprosthetic fracture, peri prosthetic fracture, periprosthetic fractures, ppf, ppfx, ppff, pp fracture,
		periprosthetic fx, periprosthetic femoral fracture, peri prosthetic femoral fracture, periprosthetic femur fracture,
		fracture periprosthetic, femoral fracture, femur fracture, fractured femur, bone fracture, periprothetische fraktur, fracture periprothetique, periprostetisk fraktur,
		periprotesefraktur, periprothetische fractuur, fractura periprotesica`,
	Wear, `wear or liner failure, wear, worn, liner failure, liner wear, liner dissociation, liner dislodgement, liner fracture, ceramic liner fracture, liner breakage,
		insert failure, insert fracture, polyethylene failure, poly failure, abrieb, pe abrieb, inlayabrieb, verschleiss, inlayverschleiss, usure, slitage, slijtage, desgaste`,
	MetalReaction, `adverse reaction to metal debris, adverse reaction to metal, armd, metallosis, altr, alval, pseudotumour, pseudotumor,
		pseudo tumour, pseudo tumor, adverse local tissue reaction, metal debris, reaction to metal debris, metallose`,
	ComponentFracture, `component fracture, implant fracture, stem fracture, fractured stem, fracture of stem, broken stem, cup fracture, fractured cup,
		ceramic fracture, ceramic head fracture, fractured ceramic, fractured ceramic head, fractured component,
		fractured implant, broken implant, broken component, implant breakage, component breakage, tray fracture, fractured tray,
		femoral component fracture, tibial component fracture, acetabular component fracture, prosthesis fracture, implantatbruch`,
	Malposition, `malposition, mal position, malpositioned, malpositioning, malalignment, mal alignment, malaligned, malrotation, malorientation,
		fehlstellung, malposisjon, malpositie, malposicion`,
	Pain, `pain, painful, schmerz, schmerzen, douleur, douleurs, smerte, smerter, smarta, pijn, dolor`,
	Stiffness, `stiffness, stiff, arthrofibrosis, reduced rom, limited rom, poor rom, reduced range of motion, limited range of motion,
		poor range of motion, steifheit, arthrofibrose, raideur, stivhet, stivhed, stelhet, stijfheid, rigidez`,
	DiseaseProgression, `progression of disease, disease progression, progression, progression of oa, progression of osteoarthritis,
		progression of arthritis, progression of arthrosis, oa progression, osteoarthritis progression, arthritis progression,
		progressive oa, progressive osteoarthritis, progressive arthritis`,
	PatellarProblem, `patellar problem, patella problem, patellar problems, patella problems, patellar maltracking, patella maltracking, maltracking,
		patellar tracking, patellar pain, patella pain, patellar dislocation, patella dislocation, patellar instability,
		patellar resurfacing, patella resurfacing, secondary patellar resurfacing, secondary patella resurfacing`,
	LegLength, `leg length, leg length discrepancy, leg length inequality, leg length difference, limb length, limb length discrepancy,
		limb length inequality, lld, beinlangendifferenz`,
	OtherReason, `other, others, other reason, other reasons, misc, miscellaneous, sonstige, sonstiges, andere, anderes, autre, autres, annet,
		andet, annat, overig, overige, otro, otra, otros`,
	filler, componentNames+`, due to, for, of, the, and, or, with, hip, knee, joint, bearing, insert, liner, poly, polyethylene, pe, deep, chronic, acute, early,
		late, recurrent, suspected, persistent, unexplained, medial, lateral, compartment`,
)

// Reason reads the reason for a revision, one of those in Order for
// revision_reason. Component words are accepted and dropped: loosening of the
// cup, of the stem and of both are all "aseptic loosening". Loosening without
// a word of infection counts as aseptic, septic loosening as infection. A
// fracture that does not say of what is unknown, and so is a cell with two
// different reasons.
func Reason(s string) Meaning { return reasons.read(s) }
