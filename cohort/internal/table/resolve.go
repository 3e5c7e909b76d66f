package table

import (
	"cmp"

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

// resolving is one signature on its way to its meaning.
type resolving struct {
	*interpreter
	sig signature
	resolved
}

// typed is the word of a column as typed, or as explained by the settings.
func (r *resolving) typed(i int) string {
	if r.sig[i] == 0 {
		return ""
	}
	return r.signature[i].typed(r.sig[i])
}

// note notes what a column's word was taken for.
func (r *resolving) note(i int, m words.Meaning) {
	if r.sig[i] != 0 {
		r.signature[i].understood(r.sig[i], m)
	}
}

// resolve understands the words of a signature together; at says in which cell
// of the table each column stands, if in any. It is called once per distinct
// signature and decoder.
func (in *interpreter) resolve(sig signature, at *[signatureLength]int) resolved {
	r := &resolving{interpreter: in, sig: sig}
	r.blanks(at)
	procedure := r.procedure()
	r.operationType(&procedure)
	var values [store.CoreCount]string
	values[store.Procedure] = procedure.Procedure
	values[store.Joint] = r.joint(procedure)
	values[store.Side] = r.side(procedure)
	values[store.Bearing] = r.bearing(values[store.Joint])
	values[store.Fixation] = cmp.Or(r.fixation(values[store.Joint]), procedure.Fixation)
	if values[store.Procedure] == words.Resurfacing && values[store.Joint] == words.Hip && words.HasPolyethylene(values[store.Bearing]) {
		r.flags |= row.FlagResurfacingPolyethylene
	}
	for i, v := range values {
		if v != "" {
			r.resolved.core[i] = in.core[i].code(v)
		}
	}
	return r.resolved
}

// blanks says how far the words tell of a joint at all.
func (r *resolving) blanks(at *[signatureLength]int) {
	r.bare, r.bareUndated = true, words.Procedure(r.typed(sigProcedure)).Joint == ""
	for i, n := range r.sig {
		if n != 0 && at[i] >= 0 && !words.Label(r.typed(i)) {
			r.bare = false
			r.bareUndated = r.bareUndated && (i == sigProcedure || i == sigOperationType)
		}
	}
}

// procedure is what the column of that name says, or others that may say it.
func (r *resolving) procedure() words.ProcedureMeaning {
	procedure := words.Procedure(r.typed(sigProcedure))
	taken := words.Meaning{Value: procedure.Procedure, Known: procedure.Known}
	if procedure.Revision || procedure.Reoperation {
		taken = words.Meaning{Value: "not a primary", Known: true}
	}
	r.note(sigProcedure, taken)
	if r.sig[sigProcedure] == 0 {
		// "Type of operation" may head primary and revision, or THR and TKR.
		if p := words.Procedure(r.typed(sigOperationType)); p.Known {
			procedure = p
		}
	}
	if !procedure.Known && !procedure.Revision && !procedure.Reoperation &&
		(procedure.Procedure == "" || words.OperationType(procedure.Procedure).Value == words.Primary) {
		// "Primary" says nothing of the procedure; the joint may, as in "THR".
		procedure.Procedure = ""
		if p := words.Procedure(r.typed(sigJoint)); p.Known {
			procedure.Procedure = p.Procedure
		}
	}
	return procedure
}

// operationType tells primaries from other operations.
func (r *resolving) operationType(procedure *words.ProcedureMeaning) {
	if procedure.Revision || procedure.Reoperation {
		r.flags |= row.FlagNotPrimary
	}
	if r.sig[sigOperationType] != 0 {
		kind := words.OperationType(r.typed(sigOperationType))
		r.note(sigOperationType, kind)
		if kind.Value == words.Revision || kind.Value == words.Reoperation {
			r.flags |= row.FlagNotPrimary | row.FlagOperationTypeNotPrimary
		}
		if kind.Value == words.Primary && kind.Known {
			r.flags |= row.FlagOperationTypePrimary
		}
		procedure.Reoperation = procedure.Reoperation || kind.Value == words.Reoperation
		if r.flags&row.FlagNotPrimary == 0 && !kind.Known && !words.NoOperationType(r.typed(sigOperationType)) {
			r.flags |= row.FlagOperationTypeUnknown
		}
	}
	if procedure.Reoperation {
		r.flags |= row.FlagReoperation
	}
}

// joint is the joint's own word, or the procedure's.
func (r *resolving) joint(procedure words.ProcedureMeaning) string {
	joint := words.Joint(r.typed(sigJoint))
	r.note(sigJoint, joint)
	switch {
	case r.sig[sigJoint] == 0:
		return procedure.Joint
	case procedure.Joint != "" && joint.Known && procedure.Joint != joint.Value:
		r.flags |= row.FlagJointContradicts
	}
	return joint.Value
}

// side is the side's own word, or the procedure's.
func (r *resolving) side(procedure words.ProcedureMeaning) string {
	side := words.Side(r.typed(sigSide))
	r.note(sigSide, side)
	if r.sig[sigSide] == 0 {
		side.Value = procedure.Side
	}
	switch side.Value {
	case words.Bilateral:
		r.flags |= row.FlagBothSides
	case "":
		r.flags |= row.FlagSideMissing
	}
	return side.Value
}

// bearing is the bearing word, or what head and liner make it: they know more.
func (r *resolving) bearing(joint string) string {
	word := words.Bearing(joint, r.typed(sigBearing))
	r.note(sigBearing, word.Meaning)
	head, liner := words.Head(r.typed(sigHead)), words.Liner(r.typed(sigLiner))
	r.note(sigHead, head)
	r.note(sigLiner, liner)
	poly := words.Polyethylene(r.typed(sigPolyethylene))
	if joint == words.Hip && r.sig[sigLiner] == 0 { // the polyethylene stands for the liner, if it says one
		said := words.Liner(r.typed(sigPolyethylene))
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
	r.note(sigPolyethylene, poly)
	if word.Refused {
		r.flags |= row.FlagNotABearing
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
		r.flags |= row.FlagBearingContradicts
	}
	return derived
}

// fixation is the fixation word, or what the components make it.
func (r *resolving) fixation(joint string) string {
	word := words.Fixation(r.typed(sigFixation))
	r.note(sigFixation, word)
	part := make(map[int]words.Meaning)
	for _, i := range []int{sigCup, sigStem, sigTibia, sigFemur} {
		part[i] = words.ComponentFixation(r.typed(i))
		r.note(i, part[i])
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
		r.flags |= row.FlagFixationContradicts
	}
	return derived
}
