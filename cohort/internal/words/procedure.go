package words

import "strings"

// ProcedureMeaning is what a procedure typed as free text says. One cell often
// names more than the procedure: "Left cemented THR" names the joint, the side
// and the fixation too.
type ProcedureMeaning struct {
	// Procedure is the canonical procedure if Known, else the cell as typed,
	// cleaned.
	Procedure string
	// Joint, Side and Fixation are canonical, and empty where the cell does not
	// say or contradicts itself. They are given for an unknown procedure too.
	Joint, Side, Fixation string
	// Known says that every word was understood and names one procedure.
	Known bool
	// Revision says that a word for a revision occurs, whether or not the rest
	// of the cell was understood.
	Revision bool
	// Reoperation says that the cell names an operation on the joint that
	// neither implants nor exchanges anything, such as a washout, a
	// manipulation or a closed reduction. Like a revision it is not a primary.
	Reoperation bool
}

// phrase classes of a procedure
const (
	asTotal          = "total"
	asPartial        = "partial"
	asHipTotal       = "hip total"
	asKneeTotal      = "knee total"
	asShoulderTotal  = "shoulder total"
	asAnkleTotal     = "ankle total"
	asResurfacing    = "resurfacing"
	asHipResurfacing = "hip resurfacing"
	asUni            = "uni"
	asPatellofemoral = "patellofemoral"
	asPatella        = "patella resurfacing"
	asSecondary      = "secondary"
	asHemi           = "hemi"
	asHemiKind       = "hemi kind"
	asCompartment    = "compartment"
	asPrimary        = "primary"
	asRevision       = "revision"
	asStage          = "stage"
	asReoperation    = "reoperation"
	asConversion     = "conversion"
	asOsteosynthesis = "osteosynthesis"
	asAnd            = "and"
)

var procedures = newVocabulary(
	asTotal, `total, totale, totalen, tep, totalprothese, totalendoprothese, prothese totale, totalprotese, totalprotes`,
	asPartial, `partial`,
	asHipTotal, `thr, tha, thp, total hip replacement, total hip arthroplasty, total hip, tep hufte, huft tep, hufttep, htep, h tep, pth,
		prothese totale de hanche, prothese totale hanche, totale heupprothese, total hofteprotese, total hoftprotes, protesis total de cadera, ptc`,
	asKneeTotal, `tkr, tka, tkp, total knee replacement, total knee arthroplasty, total knee, tep knie, knie tep, knietep, ktep, k tep, ptg,
		prothese totale du genou, prothese totale de genou, prothese totale genou, totale knieprothese, total kneprotese, total knaprotes,
		protesis total de rodilla, ptr`,
	asShoulderTotal, `tsr, tsa`,
	asAnkleTotal, `tar, taa`,
	asResurfacing, `resurfacing, surface replacement, resurfacing arthroplasty`,
	asHipResurfacing, `hra, hr, hip resurfacing, hip resurfacing arthroplasty, total hip resurfacing, hip surface replacement`,
	asUni, `unicompartmental, unicondylar, unicompartment, uni compartmental, uni condylar, uni, ukr, uka, pkr, pka, ukp, unikondylar,
		unikompartimentell, unicompartimentale, puc, partial knee, partial knee replacement, partial knee arthroplasty,
		unicompartmental knee replacement, unicompartmental knee arthroplasty, schlittenprothese, schlitten, hemischlitten, monoschlitten`,
	asPatellofemoral, `patellofemoral, patello femoral, pfj, pfa, pfr, pfjr, pfja, patellofemoral joint`,
	asPatella, `patellar resurfacing, patella resurfacing, patella resurfaced, patellar replacement`,
	asSecondary, `secondary`,
	asHemi, `hemi, hemiarthroplasty, hemi arthroplasty, hemiarthroplasties, hemiprothese, hemiprotese, hemiprotes, duokopfprothese, duokopf, half hip`,
	asHemiKind, `bipolar, unipolar, monopolar`,
	asCompartment, `medial, lateral, med, lat, medial compartment, lateral compartment`,
	asPrimary, `primary, prim, primar, primaire, primaer, primara, index`,
	asRevision, `revision, rev, revised, revisions, revision of, rerevision, re revision, exchange, exchanged, redo, re do, redone, liner change, head change, poly change,
		liner swap, head swap, poly swap, insert swap, bearing swap,
		liner and head change, head and liner change, component change, explant, explantation, girdlestone, excision arthroplasty, spacer, cement spacer,
		removal of prosthesis, removal of implant, removal of implants, removal of components, implant removal, prosthesis removal,
		wechsel, teilwechsel, komplettwechsel, revisie, revisjon, revisionsoperation, reprise, recambio`,
	asStage, `1st stage, first stage, stage 1, stage one, 2nd stage, second stage, stage 2, stage two`,
	asReoperation, `reoperation, re operation, washout, wash out, lavage, debridement, dair, mua, manipulation, manipulation under anaesthetic, manipulation under anaesthesia,
		manipulation under anesthesia, closed reduction, open reduction, reduction of dislocation, orif, aspiration, arthroscopy, arthrolysis,
		haematoma evacuation, hematoma evacuation, wound revision, revision of wound, wound debridement`,
	asConversion, `conversion, converted, convert`,
	asOsteosynthesis, `dhs, dynamic hip screw, sliding hip screw, im nail, nail, intramedullary nail, cannulated screws, screws, screw, plate, fixation,
		internal fixation, fracture fixation, failed fixation, failed, osteotomy, hto, arthrodesis, fusion, ankylosis`,
	Hip, `hip, hips, hip joint, hufte, hanche, hofte, hoft, heup, cadera`,
	Knee, `knee, knees, knee joint, knie, genou, kne, kna, knae, rodilla`,
	"shoulder", `shoulder, shoulders, schulter, epaule, skulder, axel, schouder, hombro`,
	"elbow", `elbow, elbows, ellenbogen, coude, albue, armbage, elleboog, codo`,
	"ankle", `ankle, ankles, sprunggelenk, cheville, ankel, fotled, enkel, tobillo`,
	"wrist", `wrist, wrists`,
	Left, `left, l, lt, left sided, links, gauche, venstre, vanster`,
	Right, `right, r, rt, right sided, rechts, droite, hojre, hoyre, hoger`,
	Bilateral, `bilateral, bilat, b l, both, beidseits`,
	Cemented, cementedWords,
	Porous, porousWords,
	Hybrid, hybridWords,
	ReverseHybrid, reverseHybridWords,
	asAnd, `and, with, und`,
	filler, `replacement, replacements, arthroplasty, arthroplasties, prosthesis, endoprosthesis, joint, joint replacement, joint arthroplasty, implant, surgery, operation,
		procedure, side, elective, planned, scheduled, urgent, emergency, routine, standard, complex, simple, robotic, robot assisted, robotic assisted, navigated, computer assisted,
		computer navigated, minimally invasive, mis, cruciate retaining, posterior stabilised, posterior stabilized, of, to, from, for, a, the,
		for oa, for osteoarthritis, for ra, for rheumatoid arthritis, for avn, for avascular necrosis, for osteonecrosis, for ddh, for dysplasia,
		for fracture, for nof, for fractured neck of femur, for trauma, for arthritis,
		non revision, not revision, not a revision, no revision`,
)

// Procedure reads a procedure typed as free text.
//
// Known procedures are total, resurfacing, unicompartmental, patellofemoral
// and hemiarthroplasty. "Hip replacement" names a joint but no procedure and
// is unknown. Medial and lateral are accepted for a unicompartmental knee and
// dropped; so are words such as "primary", "robotic" and "for fracture".
//
// Words for a revision, an exchange, a spacer or a removal of the implant set
// Revision, and so do the first and second stage, unless both sides are named:
// then the stages are those of two primaries. A debridement with exchange is
// a revision, one without is a reoperation.
//
// A conversion is a revision if it starts from an arthroplasty ("hemi to THR",
// "UKR to TKR"): a component is exchanged, though it may have been implanted
// elsewhere. From a fixation, an osteotomy or a fusion ("DHS to THR") it is a
// primary. One that does not say from what ("conversion THR") is unknown.
func Procedure(s string) ProcedureMeaning {
	found, understood := procedureClasses(s)
	m := ProcedureMeaning{
		Procedure: Clean(s),
		Side:      sideNamed(found),
		Joint:     jointNamed(found),
		Fixation:  oneOf(found, Cemented, Porous, Hybrid, ReverseHybrid),
	}
	named := proceduresNamed(found)
	m.Revision = found[asRevision] ||
		found[asStage] && m.Side != Bilateral ||
		found[asPatella] && (found[asSecondary] || len(named) == 0) ||
		found[asConversion] && (len(named) > 1 || len(named) == 1 && !named[Total])
	m.Reoperation = found[asReoperation] && !m.Revision

	procedure, one := named.only()
	switch {
	case !understood, !one, m.Reoperation:
	case m.Joint == "" && len(jointsNamed(found)) > 0: // contradictory joints
	case m.Fixation == "" && (found[Cemented] || found[Porous] || found[Hybrid] || found[ReverseHybrid]):
	case found[asCompartment] && procedure != Unicompartmental,
		procedure == asPartial,
		found[asHemiKind] && procedure != Hemiarthroplasty,
		(found[asOsteosynthesis] != found[asConversion]) && !m.Revision,
		procedure == Resurfacing && m.Joint == Knee,
		found[asSecondary] && !found[asPatella]:
	default:
		m.Procedure, m.Known = procedure, true
	}
	return m
}

// operationTypes are cells of a column of operation types that say nothing, or
// something else, in any other.
var operationTypes = newVocabulary(
	Primary, `p, pri, 1ry, 1ary`,
	Revision, `r, 2ry, 2ary, secondary`,
)

// OperationType reads a column that says whether an operation was a first
// one: primary, revision or reoperation. P and R, 1° and 2° are read as whole
// cells. A procedure that is known and not a revision, such as "THR", is a
// primary.
func OperationType(s string) Meaning {
	whole := Fold(strings.NewReplacer("°", "ry", "º", "ry").Replace(s))
	if class, ok := operationTypes.class(whole); ok {
		return known(class)
	}
	m := Procedure(s)
	found, understood := procedureClasses(s)
	switch {
	case m.Revision:
		return known(Revision)
	case m.Reoperation:
		return known(Reoperation)
	case m.Known, understood && found[asPrimary] && !found[asConversion]:
		return known(Primary)
	}
	return unknown(s)
}

// NoOperationType reports whether a cell of a column of operation types, not
// understood as one, says nothing about it: every word is known, and they name
// the joint, the side or the urgency, as in "elective" and "hip replacement".
func NoOperationType(s string) bool {
	found, understood := procedureClasses(s)
	for _, class := range []string{asConversion, asOsteosynthesis, asSecondary, asStage} {
		understood = understood && !found[class]
	}
	return understood && !OperationType(s).Known
}

// Joint reads a joint: hip, H, knee, K, shoulder, elbow, ankle or wrist, also where
// a procedure or a side stands beside it ("left hip", "THR"). Any other is
// given back in lower case and unknown.
func Joint(s string) Meaning {
	found, understood := procedureClasses(s)
	if joint := jointNamed(found); understood && joint != "" {
		return known(joint)
	}
	switch Fold(s) {
	case "h":
		return known(Hip)
	case "k":
		return known(Knee)
	}
	return unknown(lower(s))
}

// procedureClasses returns the classes of all phrases of a cell, passing over
// words that nobody knows, and whether there were none of those.
func procedureClasses(s string) (found set, understood bool) {
	found, understood = make(set), true
	for words := tokens(s); len(words) > 0; {
		class, n := procedures.next(words)
		if n == 0 {
			understood = false
			n = 1
		}
		if class != filler {
			found[class] = true
		}
		words = words[n:]
	}
	return found, understood
}

// oneOf returns the one class among several that was found, or nothing.
func oneOf(found set, classes ...string) string {
	one := ""
	for _, class := range classes {
		if found[class] {
			if one != "" {
				return ""
			}
			one = class
		}
	}
	return one
}

func sideNamed(found set) string {
	if found[Bilateral] || found[Left] && found[Right] && found[asAnd] {
		return Bilateral
	}
	return oneOf(found, Left, Right)
}

func jointNamed(found set) string {
	joint, _ := jointsNamed(found).only()
	return joint
}

func jointsNamed(found set) set {
	joints := make(set)
	for class, joint := range map[string]string{
		Hip: Hip, asHipTotal: Hip, asHipResurfacing: Hip,
		Knee: Knee, asKneeTotal: Knee, asUni: Knee, asPatellofemoral: Knee,
		"shoulder": "shoulder", asShoulderTotal: "shoulder", "ankle": "ankle", asAnkleTotal: "ankle",
		"elbow": "elbow", "wrist": "wrist",
	} {
		if found[class] {
			joints[joint] = true
		}
	}
	if found[asPartial] && len(joints) == 0 {
		joints[Knee] = true
	}
	return joints
}

// proceduresNamed returns the canonical procedures named. "Partial" is one
// only for the knee.
func proceduresNamed(found set) set {
	named := make(set)
	for class, procedure := range map[string]string{
		asTotal: Total, asHipTotal: Total, asKneeTotal: Total, asShoulderTotal: Total, asAnkleTotal: Total,
		asResurfacing: Resurfacing, asHipResurfacing: Resurfacing,
		asUni: Unicompartmental, asPatellofemoral: Patellofemoral, asHemi: Hemiarthroplasty,
	} {
		if found[class] {
			named[procedure] = true
		}
	}
	if found[asPartial] {
		if joints := jointsNamed(found); len(joints) == 1 && joints[Knee] {
			named[Unicompartmental] = true
		} else {
			named[asPartial] = true // no canonical procedure: keeps the cell unknown
		}
	}
	return named
}
