package cohort

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/link"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
)

// Revision is one row that records a revision apart from its primary: of a
// table of revisions, or of a table of operations of any kind.
type Revision struct {
	File, Row int
	// Outcome is RevisionJoined, RevisionLater, RevisionWithoutPrimary,
	// RevisionBeforePrimary, RevisionUndated or RevisionUnlinkable.
	Outcome Reason
	// Of is the row of the primary; 0 if there is none.
	OfFile, Of int
	// Missing are the columns without which a row can't be joined: patient,
	// joint and side, as far as they say nothing of one joint.
	Missing []string
}

// Problems lists what is to be said of rows, in the order of files and rows: those
// that [Cohort.SetAside], [Cohort.Warnings] and [Cohort.Linked] list. Rows that follow
// one another and can't be read, or are no joints and have no patient and no day, are
// one problem from Row to To, so that any number of them takes up no room.
func (c *Cohort) Problems() []Problem {
	all := c.list(func(p *patientInHand, yield func(Problem)) {
		p.each(func(i int, fate *row.Fate) {
			if fate.Reason.SetsAside() {
				yield(p.problem(i))
			}
			if fate.Reason == row.Used {
				p.warnings(i, yield)
			}
		})
		p.joined(yield)
	})
	return c.withRanges(all, func(t *store.Table) bool { return t.Role != row.Primaries || c.hasNothing() })
}

// SetAside lists every row set aside, each with its reason.
func (c *Cohort) SetAside() []Problem {
	return oneByOne(c.withRanges(c.keptAside(), func(t *store.Table) bool { return t.Role == row.Primaries && c.hasNothing() }))
}

// keptAside lists the rows set aside of which there is a record.
func (c *Cohort) keptAside() []Problem {
	return c.list(func(p *patientInHand, yield func(Problem)) {
		p.each(func(i int, fate *row.Fate) {
			if fate.Reason.SetsAside() {
				yield(p.problem(i))
			}
		})
	})
}

// withRanges adds to a list of problems the rows of some tables that are not kept.
func (c *Cohort) withRanges(all []Problem, of func(t *store.Table) bool) []Problem {
	before := len(all)
	for _, t := range c.store.Tables {
		if !of(t) {
			continue
		}
		for _, r := range t.Aside {
			p := Problem{File: t.File, Row: int(r.From), Reason: r.Reason}
			if r.Reason == row.NotAJoint && t.Role == row.Primaries {
				p.Column = "operation_date"
			}
			if r.To > r.From {
				p.To = int(r.To)
			}
			all = append(all, p)
		}
	}
	if len(all) > before {
		all = inOrder(all)
	}
	return all
}

// oneByOne has a problem for each row.
func oneByOne(all []Problem) []Problem {
	if !slices.ContainsFunc(all, func(p Problem) bool { return p.To > 0 }) {
		return all
	}
	var each []Problem
	for _, p := range all {
		each = slices.AppendSeq(each, p.Each())
	}
	return each
}

// inOrder are problems in the order of files and rows, those of one row as they were. They are
// large, and may be many: where each goes is found first.
func inOrder(all []Problem) []Problem {
	type place struct{ file, row, at int }
	places := make([]place, len(all))
	for i, p := range all {
		places[i] = place{p.File, p.Row, i}
	}
	slices.SortFunc(places, func(a, b place) int {
		return cmp.Or(cmp.Compare(a.file, b.file), cmp.Compare(a.row, b.row), cmp.Compare(a.at, b.at))
	})
	ordered := slices.Grow([]Problem(nil), len(all)) // nil of none
	for _, p := range places {
		ordered = append(ordered, all[p.at])
	}
	return ordered
}

// Warnings lists what was warned of in rows that are used.
func (c *Cohort) Warnings() []Problem {
	return c.list(func(p *patientInHand, yield func(Problem)) {
		p.each(func(i int, fate *row.Fate) {
			if fate.Reason == row.Used {
				p.warnings(i, yield)
			}
		})
	})
}

// Linked lists the rows of the tables that are joined to the primaries: each
// revision with what became of it, each death that could not be used, and the
// rows that are no such thing or can't be read; in the order of file and row.
func (c *Cohort) Linked() []Problem {
	all := c.list((*patientInHand).joined)
	return oneByOne(c.withRanges(all, func(t *store.Table) bool { return t.Role != row.Primaries }))
}

// Revisions lists the rows that record revisions apart from their primaries,
// and what became of each.
func (c *Cohort) Revisions() []Revision {
	var all []Revision
	for _, p := range c.list(func(p *patientInHand, yield func(Problem)) {
		for i := range p.rows {
			if isOutcome(p.linked.Fates[i].Reason) {
				yield(p.problem(i))
			}
		}
	}) {
		r := Revision{File: p.File, Row: p.Row, Outcome: p.Reason, OfFile: p.OfFile, Of: p.Of}
		if p.Missing != "" {
			r.Missing = strings.Split(p.Missing, " and ")
		}
		all = append(all, r)
	}
	return all
}

// Outcomes counts what became of them, in the order of the reasons.
func (c *Cohort) Outcomes() []ReasonCount {
	rows := make(map[Reason]int)
	for _, t := range c.linked.ties {
		if isOutcome(t.reason) {
			rows[t.reason]++
		}
	}
	var counts []ReasonCount
	for _, reason := range slices.Sorted(maps.Keys(rows)) {
		counts = append(counts, ReasonCount{reason, rows[reason]})
	}
	return counts
}

// patientInHand is one patient with what the patient's rows come to.
type patientInHand struct {
	cohort *Cohort
	rows   []row.Row
	linked *row.Linked
}

// remarkable says of which rows there is something to list: those that are no joint in
// use, those warned of, and those of tables that are joined.
func (c *Cohort) remarkable(at row.Place) bool {
	f := &c.linked.fates[at.Block]
	if len(f.of) == 0 || !f.of[at.Index].used() || f.warn(int(at.Index)) != 0 {
		return true
	}
	return len(c.linked.asked) > 0 && c.linked.asked[at] != nil
}

// list links the patients of remarkable rows anew to find remarks on them, and puts those in
// the order of file and row.
func (c *Cohort) list(remark func(p *patientInHand, yield func(Problem))) []Problem {
	parts := make([][]Problem, c.store.Parts())
	c.patients(&c.facts, c.remarkable, func(part int) func([]row.Row, *row.Linked, *link.Linker) {
		add := func(p Problem) { parts[part] = append(parts[part], p) }
		p := &patientInHand{cohort: c}
		return func(rows []row.Row, l *row.Linked, _ *link.Linker) {
			p.rows, p.linked = rows, l
			remark(p, add)
		}
	})
	return inOrder(slices.Concat(parts...))
}

func (p *patientInHand) role(i int) row.Role { return p.cohort.store.Tables[p.rows[i].Table].Role }

// each visits the rows of the primaries in scope.
func (p *patientInHand) each(visit func(i int, fate *row.Fate)) {
	for i := range p.rows {
		if p.role(i) == row.Primaries && p.cohort.has(p.rows[i].At) {
			visit(i, &p.linked.Fates[i])
		}
	}
}

// joined visits what is to be said of the rows of tables joined to the primaries.
func (p *patientInHand) joined(yield func(Problem)) {
	for i := range p.rows {
		if p.role(i) != row.Primaries && p.linked.Fates[i].Reason != row.Used {
			yield(p.problem(i))
		}
	}
}

// place is a row as files number it.
func (c *Cohort) place(at row.Place) (file, line int) {
	b := c.store.Blocks[at.Block]
	return b.Table().File, b.Line(int(at.Index))
}

// problem is the reason for which a row is not a joint in use.
func (p *patientInHand) problem(i int) Problem {
	fate := &p.linked.Fates[i]
	found := Problem{Reason: fate.Reason, Column: fate.Column.String()}
	found.File, found.Row = p.cohort.place(p.rows[i].At)
	if fate.Of >= 0 {
		found.OfFile, found.Of = p.cohort.place(p.rows[fate.Of].At)
	}
	switch {
	case isOutcome(fate.Reason):
		p.outcome(i, &found)
	case fate.Of < 0:
		p.locate(i, &found)
	}
	return found
}

// outcome says which columns a row that records a revision lacks, or else by
// which it does.
func (p *patientInHand) outcome(i int, found *Problem) {
	r := &p.rows[i]
	var missing []string
	if r.Patient == 0 || p.linked.Nobodys && p.role(i) == row.Primaries {
		missing = append(missing, "patient")
	}
	if r.Joint == 0 {
		missing = append(missing, "joint")
	}
	if r.Side == 0 || r.Flags&row.FlagBothSides != 0 {
		missing = append(missing, "side")
	}
	switch {
	case found.Reason == RevisionUnlinkable && len(missing) > 0:
		found.Column, found.Missing = missing[0], strings.Join(missing, " and ")
	case p.role(i) == row.Revisions && p.cohort.Files[found.File].Has("revision_date"):
		found.Column = "revision_date"
	case p.role(i) == row.Revisions:
		found.Column = "operation_date"
	case r.Flags&row.FlagOperationTypeNotPrimary == 0:
		found.Column = "procedure"
	default:
		found.Column = "operation_type"
	}
}

// warnings lists what is said of a row though it is used.
func (p *patientInHand) warnings(i int, yield func(Problem)) {
	var w Problem
	w.File, w.Row = p.cohort.place(p.rows[i].At)
	for _, q := range p.cohort.linked.asked[p.rows[i].At] {
		one := w
		one.Reason, one.Column = q.reason, "patient"
		one.OfFile, one.Of = p.cohort.place(q.of)
		yield(one)
	}
	for reason, column := range p.linked.Fates[i].Warn.All() {
		one := w
		one.Reason, one.Column = reason, column.String()
		p.locate(i, &one)
		yield(one)
	}
}

// locate says in which row the value stands that a problem is about, if it came
// from another row.
func (p *patientInHand) locate(i int, found *Problem) {
	fate := &p.linked.Fates[i]
	from := int32(-1)
	switch {
	case p.role(i) != row.Primaries:
	case found.Reason == RevisionDatesDiffer, found.Reason == RevisedWithoutDate, found.Column == "revision_date":
		from = fate.RevisionFrom
	case found.Column == "death_date", found.Column == "dead":
		from = fate.DeathFrom
	}
	if from >= 0 {
		found.AtFile, found.At = p.cohort.place(p.rows[from].At)
	}
}
