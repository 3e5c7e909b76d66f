package cohort

import (
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/words"
)

// resolved is what a row's signature means.
type resolved struct {
	core  [store.CoreCount]uint16
	flags row.Flags

	// bare: no cell says anything about a joint. bareUndated: none but what may
	// be a note under the procedure; without a date the row is then no joint.
	bare, bareUndated bool
}

// resolve understands the words of a signature together; at says in which cell
// of the table each column stands, if in any. It is called once per distinct
// signature and decoder.
func (in *interpreter) resolve(sig signature, at *[signatureLength]int) resolved {
	res := resolved{bare: true, bareUndated: true}
	for i, n := range sig {
		if n != 0 && at[i] >= 0 && !words.Label(in.signature[i].typed(n)) {
			res.bare = false
			res.bareUndated = res.bareUndated && (i == sigProcedure || i == sigOperationType)
		}
	}
	if words.Procedure(in.signature[sigProcedure].typed(sig[sigProcedure])).Joint != "" {
		res.bareUndated = false
	}
	typed := func(i int) string {
		if sig[i] == 0 {
			return ""
		}
		return in.signature[i].typed(sig[i])
	}
	note := func(i int, m words.Meaning) {
		if sig[i] != 0 {
			in.signature[i].understood(sig[i], m)
		}
	}
	var values [store.CoreCount]string

	procedure := words.Procedure(typed(sigProcedure))
	taken := words.Meaning{Value: procedure.Procedure, Known: procedure.Known}
	if procedure.Revision || procedure.Reoperation {
		taken = words.Meaning{Value: "not a primary", Known: true}
	}
	note(sigProcedure, taken)
	if sig[sigProcedure] == 0 {
		// "Type of operation" may head primary and revision, or THR and TKR.
		if p := words.Procedure(typed(sigOperationType)); p.Known {
			procedure = p
		}
	}
	if !procedure.Known && !procedure.Revision && !procedure.Reoperation &&
		(procedure.Procedure == "" || words.OperationType(procedure.Procedure).Value == words.Primary) {
		// "Primary" says nothing of the procedure; the joint may, as in "THR".
		if p := words.Procedure(typed(sigJoint)); p.Known {
			procedure.Procedure = p.Procedure
		} else {
			procedure.Procedure = ""
		}
	}
	values[store.Procedure] = procedure.Procedure
	if procedure.Revision || procedure.Reoperation {
		res.flags |= row.FlagNotPrimary
	}
	if sig[sigOperationType] != 0 {
		kind := words.OperationType(typed(sigOperationType))
		note(sigOperationType, kind)
		if kind.Value == words.Revision || kind.Value == words.Reoperation {
			res.flags |= row.FlagNotPrimary | row.FlagOperationTypeNotPrimary
		}
		if kind.Value == words.Primary && kind.Known {
			res.flags |= row.FlagOperationTypePrimary
		}
		procedure.Reoperation = procedure.Reoperation || kind.Value == words.Reoperation
		if res.flags&row.FlagNotPrimary == 0 && !kind.Known && !words.NoOperationType(typed(sigOperationType)) {
			res.flags |= row.FlagOperationTypeUnknown
		}
	}

	if procedure.Reoperation {
		res.flags |= row.FlagReoperation
	}

	joint := words.Joint(typed(sigJoint))
	note(sigJoint, joint)
	values[store.Joint] = joint.Value
	switch {
	case sig[sigJoint] == 0:
		values[store.Joint] = procedure.Joint
	case procedure.Joint != "" && joint.Known && procedure.Joint != joint.Value:
		res.flags |= row.FlagJointContradicts
	}

	side := words.Side(typed(sigSide))
	note(sigSide, side)
	values[store.Side] = side.Value
	if sig[sigSide] == 0 {
		values[store.Side] = procedure.Side
	}
	switch values[store.Side] {
	case words.Bilateral:
		res.flags |= row.FlagBothSides
	case "":
		res.flags |= row.FlagSideMissing
	}

	values[store.Bearing] = in.bearing(sig, values[store.Joint], typed, note, &res.flags)
	values[store.Fixation] = in.fixation(sig, values[store.Joint], typed, note, &res.flags)
	if values[store.Fixation] == "" {
		values[store.Fixation] = procedure.Fixation
	}
	if values[store.Procedure] == words.Resurfacing && values[store.Joint] == words.Hip && words.HasPolyethylene(values[store.Bearing]) {
		res.flags |= row.FlagResurfacingPolyethylene
	}
	for i, v := range values {
		if v != "" {
			res.core[i] = in.core[i].code(v)
		}
	}
	return res
}

// bearing is the bearing word, or what head and liner make it: they know more.
func (in *interpreter) bearing(sig signature, joint string, typed func(int) string, note func(int, words.Meaning), f *row.Flags) string {
	word := words.Bearing(joint, typed(sigBearing))
	note(sigBearing, word.Meaning)
	head, liner := words.Head(typed(sigHead)), words.Liner(typed(sigLiner))
	note(sigHead, head)
	note(sigLiner, liner)
	poly := words.Polyethylene(typed(sigPolyethylene))
	if joint == words.Hip && sig[sigLiner] == 0 { // the polyethylene stands for the liner, if it says one
		said := words.Liner(typed(sigPolyethylene))
		switch {
		case said.Known && (said.Value == words.PlainPolyethylene || said.Value == words.CrosslinkedPE):
			liner = said
			if !poly.Known {
				poly = said
			}
		case poly.Known && poly.Value == words.Conventional:
			liner = words.Meaning{Value: words.PlainPolyethylene, Known: true}
		case poly.Known:
			liner = words.Meaning{Value: words.CrosslinkedPE, Known: true}
		}
	}
	note(sigPolyethylene, poly)
	if word.Refused {
		*f |= row.FlagNotABearing
		return ""
	}
	if joint == words.Knee || !liner.Known || !head.Known && liner.Value != words.DualMobility {
		return word.Value
	}
	derived, ok := words.DeriveBearing(head.Value, liner.Value)
	if !ok && head.Known && liner.Known && !word.Known {
		return head.Value + "-on-" + liner.Value // such as metal on ceramic
	}
	if !ok {
		return word.Value
	}
	if word.Known && word.Value != derived && !words.Refines(derived, word.Value) {
		*f |= row.FlagBearingContradicts
	}
	return derived
}

// fixation is the fixation word, or what the components make it.
func (in *interpreter) fixation(sig signature, joint string, typed func(int) string, note func(int, words.Meaning), f *row.Flags) string {
	word := words.Fixation(typed(sigFixation))
	note(sigFixation, word)
	part := make(map[int]words.Meaning)
	for _, i := range []int{sigCup, sigStem, sigTibia, sigFemur} {
		part[i] = words.ComponentFixation(typed(i))
		note(i, part[i])
	}
	a, b := part[sigCup], part[sigStem]
	if joint == words.Knee {
		a, b = part[sigTibia], part[sigFemur]
	}
	if !a.Known || !b.Known {
		return word.Value
	}
	derived, ok := words.DeriveFixation(joint, a.Value, b.Value)
	if !ok {
		return word.Value
	}
	if word.Known && word.Value != derived {
		*f |= row.FlagFixationContradicts
	}
	return derived
}
