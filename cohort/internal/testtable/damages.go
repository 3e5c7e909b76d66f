package testtable

import (
	"math/rand/v2"
	"slices"

	"example.org/holdfast/cohort"
)

// Damage is one way in which a table differs from a clean one.
type Damage struct {
	Name string
	Does string
	Kind Kind

	// Refused is the error with which the table should be refused; nil if it
	// should be read. A table that is read gives the clean audit, without the
	// joints of the rows that the draft expects to be listed.
	Refused func(error) bool

	// Alone says that the damage costs joints or is refused, and is not
	// combined with others.
	Alone bool

	// Says are parts of what should be said of the file.
	Says []string

	// Warns are reasons to warn of joints that the clean table has not.
	Warns []cohort.Reason

	stage  stage
	groups []string // no two damages of one group are combined
	apply  func(d *Draft, r *rand.Rand)
}

// stage is the order in which damages are applied: each sees what those before
// it left.
type stage int

const (
	faults   stage = iota // rows that can't be used
	tables                // which tables there are
	parts                 // columns for other columns
	spelling              // words
	gaps                  // missing values
	days                  // dates
	cells                 // what is typed around a value, and how a workbook holds it
	heads                 // headings
	shape                 // columns
	lines                 // rows
	file                  // how a file is written
)

// Apply changes the draft.
func (x Damage) Apply(d *Draft, r *rand.Rand) { x.apply(d, r) }

// Together says whether all of several damages can be applied to one table.
func Together(several []Damage) bool {
	used := make(map[string]bool)
	for _, x := range several {
		for _, g := range append(slices.Clone(x.groups), x.Name) {
			if used[g] {
				return false
			}
			used[g] = true
		}
	}
	return true
}

// InOrder sorts damages by the order in which they are applied.
func InOrder(several []Damage) {
	slices.SortStableFunc(several, func(a, b Damage) int { return int(a.stage - b.stage) })
}

// Damages lists the damages.
func Damages() []Damage {
	return slices.Concat(faultDamages, tableDamages, partDamages, wordDamages, dateDamages, cellDamages, headingDamages, lineDamages, fileDamages, bookDamages, unsaidDamages)
}

// lose expects that a row is set aside for a reason.
func (d *Draft) lose(r *Row, reasons ...cohort.Reason) {
	d.Expected = append(d.Expected, Expected{r, reasons})
}

// some are so many rows of the first table for which keep holds, of joints
// whose patients have no other, spread over the table.
func (d *Draft) some(r *rand.Rand, n int, keep func(j Joint) bool) []*Row {
	count := make(map[string]int)
	for _, j := range d.Joints {
		count[j.cells["patient"]]++
	}
	var found []*Row
	for _, row := range d.Tables[0].Rows {
		if j := row.Joint; j >= 0 && count[d.Joints[j].cells["patient"]] == 1 && (keep == nil || keep(d.Joints[j])) {
			found = append(found, row)
		}
	}
	r.Shuffle(len(found), func(i, j int) { found[i], found[j] = found[j], found[i] })
	return found[:min(n, len(found))]
}

// cell of a row of the first table.
func (d *Draft) cell(r *Row, column string) *Cell { return &r.Cells[d.Tables[0].at(column)] }
