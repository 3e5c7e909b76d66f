package words

// Canonical diagnoses for which a joint is replaced.
const (
	Osteoarthritis        = "osteoarthritis"
	Fracture              = "fracture"
	AvascularNecrosis     = "avascular necrosis"
	InflammatoryArthritis = "inflammatory arthritis"
	ChildhoodDisease      = "dysplasia or childhood hip disease"
	PostTraumatic         = "post-traumatic"
	OtherDiagnosis        = "other"
)

// Classes of words that lead from a joint's arthritis to its cause, or set two
// diagnoses side by side; and of arthritis of no kind.
const (
	secondary = "secondary to"
	beside    = "with"
	arthritis = "arthritis"
)

var diagnoses = newVocabulary(
	Osteoarthritis, `osteoarthritis, osteo arthritis, oa, osteoarthrosis, osteo arthrosis, osteoarthritic, arthrosis, arthrose, artrose, artros, artrosis,
		degenerative joint disease, djd, degenerative arthritis, degenerative osteoarthritis, degeneration, coxarthrosis, coxarthrose, coxartrose, cox arthrose,
		coxartros, coxartrosis, gonarthrosis, gonarthrose, gonartrose, gonartros, gonartrosis, hip oa, knee oa, patellofemoral oa, pfoa, pf oa`,
	Fracture, `fracture, fractures, fractured, fx, hip fracture, nof, fnof, nof fracture, fractured nof, neck of femur, fractured neck of femur, neck of femur fracture, femoral neck fracture,
		subcapital fracture, intracapsular fracture, displaced intracapsular fracture, acute fracture, acute hip fracture, proximal femoral fracture,
		acetabular fracture, pathological fracture, fragility fracture, fraktur, oberschenkelhalsfraktur, schenkelhalsfraktur, schenkelhalsbruch, fractura, fractuur, brudd,
		larhalsbrudd, hoftebrudd, hoftefraktur, hoftfraktur, heupfractuur, fracture du col, fracture du col du femur`,
	AvascularNecrosis, `avascular necrosis, avn, osteonecrosis, osteo necrosis, aseptic necrosis, ischaemic necrosis, ischemic necrosis, onfh,
		femoral head necrosis, head necrosis, necrosis of femoral head, sonk, necrosis, osteonekrose, huftkopfnekrose, hueftkopfnekrose, femurkopfnekrose,
		nekrose, osteonecrose, osteonecrosis of femoral head, avascular necrosis of femoral head, avn femoral head, avn of femoral head, avn head, caputnekrose`,
	InflammatoryArthritis, `inflammatory arthritis, inflammatory, inflammatory arthropathy, inflammatory joint disease, rheumatoid, rheumatoid arthritis, ra, rheumatoid disease, rheumatoide arthritis,
		rheuma, psoriatic arthritis, psoriatic arthropathy, psa, psoriatic, ankylosing spondylitis, ank spond, spondyloarthropathy, seronegative arthritis,
		seronegative arthropathy, jia, jra, jca, juvenile idiopathic arthritis, juvenile rheumatoid arthritis, juvenile chronic arthritis, juvenile arthritis, polyarthritis,
		polyarthrite rhumatoide, artritis reumatoide, reumatoid artritt, reumatoid artrit, reumatoide artritis, leddgikt, bechterew`,
	ChildhoodDisease, `dysplasia or childhood hip disease, childhood hip disease, dysplasia, hip dysplasia, dysplastic, dysplastic hip, ddh, cdh, chd, developmental dysplasia,
		developmental dysplasia of hip, congenital dislocation, congenital hip dislocation, congenital dislocation of hip, congenital hip dysplasia, congenital dysplasia,
		acetabular dysplasia, perthes, perthes disease, legg calve perthes, legg calve perthes disease, legg perthes, lcpd, sufe, scfe, slipped epiphysis,
		slipped upper femoral epiphysis, slipped capital femoral epiphysis, slipped femoral epiphysis, skfe, multiple epiphyseal dysplasia, dysplasie, huftdysplasie,
		hueftdysplasie, dysplasiecoxarthrose, dysplasiekoxarthrose, dysplasi, hoftedysplasi, hoftdysplasi, heupdysplasie, displasia, dysplasie de hanche, dysplastic oa, dysplastic osteoarthritis, dysplastic arthrosis`,
	PostTraumatic, `post traumatic, posttraumatic, post traumatic arthritis, posttraumatic arthritis, post trauma, post traumatic arthrosis, traumatic arthritis, ptoa, post fracture,
		old fracture, previous fracture, fracture sequelae, sequelae of fracture, sequelae of trauma, previous trauma, old trauma, failed fixation, failed internal fixation,
		failed dhs, failed osteosynthesis, non union, nonunion, malunion, mal union, posttraumatisch, posttraumatische arthrose, posttraumatische artrose,
		post traumatique, posttraumatisk, postraumatica, postraumatico`,
	OtherDiagnosis, `other, others, other diagnosis, misc, miscellaneous, sonstige, sonstiges, andere, autre, autres, annet, andet, annat, overig, overige, otro, otra, otros`,
	secondary, `secondary, secondary to, due to, following, after, from, because of, caused by, sec, sec to, 2ry to, 2ndary to`,
	beside, `with`,
	arthritis, `arthritis, arthropathy, arthritic`,
	filler, `primary, prim, idiopathic, end stage, endstage, severe, moderate, mild, advanced, progressive, symptomatic, bone on bone, grade, kellgren lawrence, kl, stage, ficat,
		1, 2, 3, 4, i, ii, iii, iv, of, the, for, and of, in, left, l, lt, right, r, rt, both, bilateral, bilat, side, sided, hip, hips, knee, knees, joint, medial, lateral, compartment,
		medial compartment, lateral compartment, med, lat, tricompartmental, bicompartmental, varus, valgus, displaced, undisplaced, traumatic, acute, chronic, head, femur, femoral head, femoral, primare, primaire`,
)

// Diagnosis reads the indication for a primary replacement. A side, a joint, a
// compartment, a grade and words such as "primary" and "end stage" are passed
// over. Osteoarthritis with its cause, as in "OA secondary to dysplasia" and
// "post-traumatic OA", is the cause. A cell with two diagnoses that are not so
// connected is unknown and stays as typed, and so does "arthritis" or "trauma"
// alone, which may be of several kinds.
func Diagnosis(s string) Meaning {
	found, ok := diagnoses.classes(tokens(s))
	if !ok {
		return unknown(s)
	}
	caused, with := found[secondary], found[beside]
	delete(found, secondary)
	delete(found, beside)
	if len(found) > 1 {
		delete(found, arthritis)
	}
	if caused && found[Fracture] && len(found) == 2 { // what is left of an old fracture
		delete(found, Fracture)
		found[PostTraumatic] = true
	}
	if found[PostTraumatic] || caused || with && !found[Fracture] {
		if len(found) == 2 {
			delete(found, Osteoarthritis)
		}
	}
	if class, ok := found.only(); ok && class != arthritis {
		return known(class)
	}
	return unknown(s)
}
