package cohort

import (
	"slices"
	"strconv"

	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/survival/tally"
)

// Dimensions of [Cohort.Atoms] that are no fields.
const (
	AtomAge   = "age"   // completed years between the bounds given
	AtomReach = "reach" // the last of the years given that the closing date reaches
)

// atomFields are the fields of Atoms.
var atomFields = []string{"joint", "procedure", "bearing", "polyethylene", "fixation", "sex", "diagnosis"}

// Atoms counts the joints in use in one pass by everything that a published
// series can state of them, so that those of any series are sums of groups:
// joint, procedure, bearing, polyethylene, fixation, sex and diagnosis, with one
// level, not recorded, for a column that no table has; [AtomAge], the ages
// between increasing lower bounds; operation_year; and [AtomReach], the number of
// increasing years since operation that the closing date reaches, which is known
// whatever became of the joint. Then come the fields named.
func (c *Cohort) Atoms(ages []int, years []float64, by []string, e Endpoint) (*tally.Set, error) {
	k, err := c.atoms(ages, years, by, nil, e)
	if err != nil {
		return nil, err
	}
	return k.set()
}

// Lacks says what the cohort lacks to part its joints at some ages and years of
// possible follow-up: nothing, as it has rows.
func (c *Cohort) Lacks([]int, []float64) string { return "" }

// Cells counts as [Cohort.Atoms] does, but how follow-up ended as an [End], so that the
// counts tell all that rows tell of it: EndClosing is 0, and the causes are the other
// ends in their order. After the fields named come further ones, with one level, not
// recorded, where no table has them.
func (c *Cohort) Cells(ages []int, years []float64, by, further []string, e Endpoint) (*tally.Set, error) {
	k, err := c.atoms(ages, years, by, further, e)
	if err != nil {
		return nil, err
	}
	k.ends, k.causes = true, nil
	for _, end := range Ends()[1:] {
		k.causes = append(k.causes, end.String())
	}
	return k.set()
}

// atoms counts by atom.
func (c *Cohort) atoms(ages []int, years []float64, by, further []string, e Endpoint) (*counter, error) {
	k, err := c.counterOf(e)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, wanted := range by {
		name, ok := c.fieldName(wanted)
		if !ok {
			return nil, c.unknownField(wanted)
		}
		if !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	fields := c.Fields()
	for _, name := range slices.Concat(atomFields, []string{fieldOperationYear}, names, further) {
		d := absent(name)
		if slices.Contains(fields, name) {
			found, err := c.dimension(name)
			switch {
			case err == nil:
				d = found
			case slices.Contains(names, name):
				return nil, err
			} // else a column with a value of its own in most rows says nothing that a series could state
		}
		k.dims = append(k.dims, d)
	}
	k.dims = slices.Insert(k.dims, len(atomFields)+1, c.ageBetween(ages), c.reach(years))
	for _, d := range k.dims {
		k.names = append(k.names, d.name)
	}
	return k, k.arrange()
}

// absent is a field that no table has.
func absent(name string) *dimension {
	d := &dimension{name: name, levels: []string{NotRecorded}, word: func(*store.Words, uint32) int { return 0 }}
	d.reader = func(int) func(int) int { return func(int) int { return 0 } }
	return d
}

// ageBetween is the age between lower bounds; the levels are those of AgeBands.
func (c *Cohort) ageBetween(bounds []int) *dimension {
	d := &dimension{name: AtomAge}
	for _, b := range AgeBands(bounds) {
		d.levels = append(d.levels, b.String())
	}
	last := len(d.levels)
	d.levels = append(d.levels, NotRecorded)
	d.reader = c.byAge(func(years int) int {
		n, exact := slices.BinarySearch(bounds, years)
		if exact {
			n++
		}
		return n
	}, last)
	return d
}

// reach is how many of the years since operation the closing date reaches.
func (c *Cohort) reach(years []float64) *dimension {
	d := &dimension{name: AtomReach, levels: []string{"0"}}
	var reached []int // by days since the operation, up to the last of the years
	for i, y := range years {
		d.levels = append(d.levels, strconv.FormatFloat(y, 'f', -1, 64))
		for day := int(DayOfYear(y)); len(reached) < day; {
			reached = append(reached, i)
		}
	}
	closing := c.facts.Closing
	d.reader = func(block int) func(int) int {
		b := c.store.Blocks[block]
		return func(i int) int {
			if days := max(0, int(closing-b.Day(store.Operation, i))); days < len(reached) {
				return reached[days]
			}
			return len(years)
		}
	}
	return d
}
