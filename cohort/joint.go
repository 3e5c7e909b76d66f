package cohort

import (
	"iter"
	"slices"

	"example.org/holdfast/cohort/internal/link"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/table"
	"example.org/holdfast/survival"
)

// Joint is one joint in use.
type Joint struct {
	File, Row int // of its primary; File is an index into Cohort.Files

	// Patient numbers the patients from 0 in the order of their first rows. A
	// joint of which no patient is known has a number of its own.
	Patient int

	Operation Day
	Age       int  // completed years at the operation; -1 if not recorded
	Days      int  // followed
	Assumed   bool // that it was followed to the closing date: no day last seen says so
	Cause     int  // how follow-up ended: 0 censored, CauseRevision, CauseDeath or CauseOther
	End       End  // the same, and if censored how much is known of it
	Possible  int  // days from the operation to the closing date

	// Reason is why the joint was revised, NotRecorded if that is not known; "" if
	// follow-up did not end in a revision.
	Reason string

	// Values are the words of the fields asked for, in their order.
	Values []string
}

// Joints gives each joint in use and in scope, in the order of files and rows,
// with its follow-up to an endpoint and its words in the fields named. They are
// for callers who need the joints one by one: counts by group are had from
// [Cohort.Tally], many times faster. An [*UnknownFieldError] says which name is no
// field, an [*OptionError] what is wrong with the endpoint.
func (c *Cohort) Joints(e Endpoint, fields ...string) (iter.Seq[Joint], error) {
	var names []string
	for _, wanted := range fields {
		name, err := c.Field(wanted)
		if err != nil {
			return nil, err
		}
		names = append(names, name)
	}
	k, err := c.newCounter(names, e)
	if err != nil {
		return nil, err
	}
	return func(yield func(Joint) bool) {
		whose, numbers, next := c.store.Whose(), make(map[uint64]int), 0
		levels, causes := make([][]func(int) int, len(c.store.Blocks)), make([]func(int) int, len(c.store.Blocks))
		for _, at := range c.store.InOrder() {
			bi, i := int(at.Block), int(at.Index)
			f := &c.linked.fates[bi]
			if len(f.of) == 0 || !f.of[i].used() || !c.has(at) {
				continue
			}
			if levels[bi] == nil {
				levels[bi], causes[bi] = k.levels(bi), k.causesOf(bi)
			}
			b := c.store.Blocks[bi]
			j := Joint{File: b.Table().File, Row: b.Line(i), Operation: Day(b.Day(store.Operation, i)), Age: -1, Days: int(f.of[i].exit()), Cause: causes[bi](i)}
			j.Assumed = f.of[i].has(markAssumed)
			j.Possible = int(Day(c.facts.Closing) - j.Operation)
			j.End = f.of[i].endOf(j.Cause, j.Possible)
			if age := b.Age(i); age > 0 {
				j.Age = age
			}
			if f.of[i].cause() == row.Revised {
				j.Reason = c.text.Extra[table.ExtraReason].Values[c.reasons(bi)(i)]
			}
			known := false
			if f.of[i].has(markSeveral) && !f.warn(i).Has(row.WarnIdentifier) {
				who := whose(at)
				if j.Patient, known = numbers[who]; !known {
					numbers[who] = next
				}
			}
			if !known {
				j.Patient, next = next, next+1
			}
			for d, level := range levels[bi] {
				j.Values = append(j.Values, k.dims[d].levels[level(i)])
			}
			if !yield(j) {
				return
			}
		}
	}, nil
}

// Unrecorded lists the rows of the joints in use and in scope that have no value in a
// field, in the order of files and rows, as problems of its column. Errors are those of
// [Cohort.Joints].
func (c *Cohort) Unrecorded(field string) ([]Problem, error) {
	name, err := c.Field(field)
	if err != nil {
		return nil, err
	}
	d, err := c.dimension(name)
	if err != nil {
		return nil, err
	}
	none := slices.Index(d.levels, NotRecorded)
	if none < 0 {
		return nil, nil
	}
	return c.rowsIn(field, func(bi int) func(int) bool {
		level := d.reader(bi)
		return func(i int) bool { return level(i) == none }
	}), nil
}

// Unseen lists the rows of the joints in use and in scope whose follow-up to the closing
// date is assumed, as Unrecorded does.
func (c *Cohort) Unseen() []Problem {
	return c.rowsIn("last_seen_date", func(bi int) func(int) bool {
		fates := c.linked.fates[bi].of
		return func(i int) bool { return fates[i].has(markAssumed) }
	})
}

// rowsIn lists the rows in use that are meant, as problems of a column.
func (c *Cohort) rowsIn(column string, meant func(block int) func(i int) bool) []Problem {
	var places []row.Place
	for bi := range c.store.Blocks {
		is := meant(bi)
		for i := range c.used(bi) {
			if is(i) {
				places = append(places, row.Place{Block: int32(bi), Index: int32(i)})
			}
		}
	}
	slices.SortFunc(places, c.store.Compare)
	problems := make([]Problem, len(places))
	for k, at := range places {
		b := c.store.Blocks[at.Block]
		problems[k] = Problem{File: b.Table().File, Row: b.Line(int(at.Index)), Column: column}
	}
	return problems
}

// Longest is the longest that a joint in use and in scope could have been followed, in
// days from its operation to the closing date, by joint and procedure.
func (c *Cohort) Longest() (map[[2]string]int, error) {
	joints, err := c.Joints(Endpoint{}, "joint", "procedure")
	if err != nil {
		return nil, err
	}
	longest := make(map[[2]string]int)
	for j := range joints {
		of := [2]string{j.Values[0], j.Values[1]}
		longest[of] = max(longest[of], j.Possible)
	}
	return longest, nil
}

// Sample is the follow-up of the joints in use and in scope, for estimators that
// need it joint by joint, such as those with robust variances: days followed, and
// how follow-up ended. Clusters are the patients. The rows are in the order of
// files and rows. An [*OptionError] says what is wrong with the endpoint.
func (c *Cohort) Sample(e Endpoint) (survival.Sample, error) {
	var s survival.Sample
	joints, err := c.Joints(e)
	if err != nil {
		return s, err
	}
	for j := range joints {
		s.Exit, s.Cause, s.Cluster = append(s.Exit, float64(j.Days)), append(s.Cause, j.Cause), append(s.Cluster, j.Patient)
	}
	return s, nil
}

// Rerevision is what became of a joint after its first revision.
type Rerevision struct {
	File, Row int // of its primary
	Days      int // from the first revision to the next, else to death or the end of follow-up
	Cause     int // 0 censored, CauseRevision or CauseDeath

	// Values are the words of the fields asked for, in their order.
	Values []string
}

// Rerevisions gives each joint in use and in scope that was revised by the closing
// date, in the order of files and rows, with what is recorded of it afterwards: the
// next revision, on a later day, in a table of revisions or of operations; else the
// death; else it was followed to the closing date, or to the day last seen where that
// is known. One revised on the last day of follow-up has 0 days. Where only the first
// revision of a joint is recorded nobody is ever revised again.
// Errors are as for [Cohort.Joints].
func (c *Cohort) Rerevisions(fields ...string) ([]Rerevision, error) {
	joints, err := c.Joints(Endpoint{}, fields...)
	if err != nil {
		return nil, err
	}
	var all []Rerevision
	at := make(map[[2]int]int) // by file and row
	for j := range joints {
		if j.Cause == CauseRevision {
			at[[2]int{j.File, j.Row}] = len(all)
			all = append(all, Rerevision{File: j.File, Row: j.Row, Values: j.Values})
		}
	}
	revised := func(p row.Place) bool {
		f := &c.linked.fates[p.Block]
		return len(f.of) > 0 && f.of[p.Index].cause() == row.Revised
	}
	c.patients(&c.facts, revised, func(int) func([]row.Row, *row.Linked, *link.Linker) {
		return func(rows []row.Row, l *row.Linked, _ *link.Linker) {
			for i := range l.Joints {
				j := &l.Joints[i]
				place := rows[j.Row].At
				b := c.store.Blocks[place.Block]
				if n, known := at[[2]int{b.Table().File, b.Line(int(place.Index))}]; known {
					all[n].Days, all[n].Cause = after(j, row.Day(c.Closing.Day))
				}
			}
		}
	})
	return all, nil
}

// after is what became of a joint after its revision.
func after(j *row.Joint, closing row.Day) (days, cause int) {
	end := closing
	switch {
	case j.Again != row.NoDay && j.Again <= closing:
		end, cause = j.Again, CauseRevision
	case j.Death.Known() && j.Death >= j.Revision && j.Death <= closing:
		end, cause = j.Death, CauseDeath
	case j.Again != row.NoDay || j.Death.Known() && j.Death > closing: // followed to the closing date
	case j.Seen != row.NoDay:
		end = max(j.Revision, min(j.Seen, closing))
	}
	return int(end - j.Revision), cause
}
