package gather

import (
	"cmp"
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/survival"
)

// Checking is what a check of tables says beside what was understood of them.
type Checking struct {
	Cohort   *cohort.Cohort // nil where nothing could be read
	Effects  []cohort.Effect
	FollowUp []cohort.FollowUp // all joints, then each joint and procedure if there are several
	Tasks    []Task
}

// CheckOf gathers what there is to do about a cohort's rows, which may be nil; of one that can't be
// used as it is, nothing but the tasks. Errors are of columns that have too many values to group by.
func CheckOf(c *cohort.Cohort, usable bool) (*Checking, error) {
	k := &Checking{Cohort: c}
	if c == nil {
		return k, nil
	}
	if !usable {
		k.Tasks = Tasks(c, nil)
		return k, nil
	}
	var err error
	if k.Effects, err = effectsOf(c, audit.DefaultYears(), cohort.Endpoint{}); err != nil {
		return nil, err
	}
	if k.FollowUp, err = c.FollowUp(); err != nil {
		return nil, err
	}
	k.Tasks = Tasks(c, doubts(k.Effects, survival.DefaultMinAtRisk))
	return k, nil
}

// Task is one thing to do about rows.
type Task struct {
	Instruction
	Rows []cohort.Problem
	said string // what is the matter, where it is no reason of theirs

	// Doubt is what settling them otherwise would do to the estimates, of several the one
	// that moves one furthest; nil where that is not known.
	Doubt *Doubt
}

// Count is how many rows a task is about.
func (t *Task) Count() int { return RowsOf(t.Rows) }

// RowsOf is how many rows some problems are of.
func RowsOf(all []cohort.Problem) int {
	n := 0
	for _, p := range all {
		n += p.Rows()
	}
	return n
}

// Title says what is the matter with a row and those like it.
func (t *Task) Title(p cohort.Problem) string {
	if t.said != "" {
		return t.said
	}
	return p.Reason.String()
}

// Describe says what is the matter with one of the rows.
func (t *Task) Describe(c *cohort.Cohort, p cohort.Problem) string {
	if t.said != "" {
		return t.said
	}
	return c.Describe(p)
}

// Tasks are what there is to do: first what could move an estimate furthest, as doubts are
// ordered; then the problems by their instructions, and what is not recorded; then that about
// which there is nothing to do if its reason is right.
func Tasks(c *cohort.Cohort, doubts []Doubt) []Task {
	all := problems(c)
	var out []Task
	for len(all) > 0 {
		at, _ := instructionFor(all[0].Reason)
		n := 1
		for n < len(all) && slices.Contains(instructions[at].reasons, all[n].Reason) {
			n++
		}
		out = append(out, Task{Instruction: instructions[at], Rows: all[:n]})
		all = all[n:]
	}
	out = append(out, unrecorded(c)...)
	for i := range out {
		if t := &out[i]; !t.Nothing {
			if at := slices.IndexFunc(doubts, t.has); at >= 0 {
				t.Doubt = &doubts[at]
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Task) int { return cmp.Compare(b.rank(), a.rank()) })
	return out
}

// has says whether a doubt is of a task's rows.
func (t *Task) has(d Doubt) bool {
	return d.Problem == t.said || slices.ContainsFunc(t.Rows, func(p cohort.Problem) bool { return slices.Contains(d.Reasons, p.Reason) })
}

// rank is how far its rows could move an estimate; less than nothing where there is nothing to do.
func (t *Task) rank() float64 {
	switch {
	case t.Nothing:
		return -1
	case t.Doubt == nil:
		return 0
	}
	return t.Doubt.Moves
}

// ToDo are those that somebody has to do something about.
func ToDo(tasks []Task) []Task {
	return slices.DeleteFunc(slices.Clone(tasks), func(t Task) bool { return t.Nothing })
}

// DifferentRows is how many rows there is something to do about.
func DifferentRows(tasks []Task) int {
	rows := make(map[[2]int]int) // by file and row, since one may have several things to do; with those that follow it
	for _, t := range ToDo(tasks) {
		for _, p := range t.Rows {
			rows[[2]int{p.File, p.Row}] = p.Rows()
		}
	}
	n := 0
	for _, more := range rows {
		n += more
	}
	return n
}

// Lists are the names by which the rows of a task can be asked for.
func Lists() []string {
	var names []string
	for _, in := range instructions {
		names = append(names, in.List)
	}
	return append(names, "unseen", "no-bearing", "no-fixation")
}

// unrecorded are the joints in use that nobody has looked up, and those without a
// bearing or a fixation, for the tables that have such a column.
func unrecorded(c *cohort.Cohort) []Task {
	var out []Task
	if c.HasColumn("last_seen_date") {
		if rows := c.Unseen(); len(rows) > 0 {
			out = append(out, Task{Instruction: Instruction{List: "unseen", Do: "Look up whether the joint is in place", How: "Neither revised nor dead, and no day last seen: follow-up to the closing date is assumed. Fill in the day last seen, and the revision or the death if there was one."},
				said: cohort.FollowUpAssumed, Rows: rows})
		}
	}
	for _, field := range []string{"bearing", "fixation"} {
		if !slices.Contains(c.Fields(), field) {
			continue
		}
		rows, err := c.Unrecorded(field)
		if err != nil || len(rows) == 0 {
			continue // an error is of too many different values
		}
		out = append(out, Task{Instruction: Instruction{List: "no-" + field, Do: "Fill in the " + field, How: "Until then the joint is in no group by " + field + "."},
			said: field + " not recorded", Rows: rows})
	}
	return out
}

// fewestAtRisk is the number of joints at risk below which no estimate is shown.
const fewestAtRisk = 10

// mostEffectYears is how many of the latest years within reach are shown.
const mostEffectYears = 2

// Within are the places of the latest years of an effect at which enough joints are at risk.
func Within(e *cohort.Effect) []int {
	var at []int
	for i, a := range e.At {
		if a.AtRisk >= fewestAtRisk && !math.IsNaN(a.Now) {
			at = append(at, i)
		}
	}
	return at[max(0, len(at)-mostEffectYears):]
}
