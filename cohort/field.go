package cohort

import (
	"cmp"
	"fmt"
	"iter"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/parallel"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/table"
	"example.org/holdfast/cohort/internal/words"
)

// Fields derived from others, by which a cohort can be grouped too.
const (
	fieldAgeBand       = column.AgeBand
	fieldOperationYear = column.OperationYear
)

// plainColumn is a name as columns are written: lower case, underscores.
func plainColumn(name string) string { return strings.ReplaceAll(column.Plain(name), " ", "_") }

// UnknownFieldError says that a cohort can't be grouped or narrowed by a name.
type UnknownFieldError struct {
	Wanted string
	Known  []string // the fields, and the tables' other headings that could be one
}

func (e *UnknownFieldError) Error() string {
	if slices.Contains(e.Known, e.Wanted) {
		return fmt.Sprintf("column %q was not kept to group or select by when the tables were read (Options.Keep)", e.Wanted)
	}
	return fmt.Sprintf("no column %q to group or select by%s; there are %s", e.Wanted, words.DidYouMean(e.Wanted, e.Known), strings.Join(e.Known, ", "))
}

// Fields lists what the cohort can be grouped by: its columns of words, the
// age band and the year of operation.
func (c *Cohort) Fields() []string {
	var names []string
	for _, f := range c.text.Core {
		if c.hasCore(f.Name) {
			names = append(names, f.Name)
		}
	}
	if c.text.Present["age"] {
		names = append(names, fieldAgeBand)
	}
	names = append(names, fieldOperationYear)
	for _, f := range c.text.Extra {
		if c.text.Present[f.Name] && !slices.Contains(names, f.Name) {
			names = append(names, f.Name)
		}
	}
	return names
}

// Groupable says whether the cohort can be grouped by a field: it has it, and not
// as many values of it as rows.
func (c *Cohort) Groupable(field string) bool {
	if !slices.Contains(c.Fields(), field) {
		return false
	}
	_, err := c.dimension(field)
	return err == nil
}

// fieldName is the field a name stands for: its own, or a heading's.
func (c *Cohort) fieldName(wanted string) (string, bool) {
	if name, ok := column.Named(c.Fields(), wanted); ok {
		return name, true
	}
	for name, typed := range c.text.Headed {
		if column.Plain(typed) == column.Plain(wanted) {
			return column.Named(c.Fields(), name)
		}
	}
	if m := column.Heading(wanted); m.Column != "" {
		return column.Named(c.Fields(), m.Column)
	}
	return "", false
}

// Field is the field that a name stands for: its own, or that of a heading. Joint
// and procedure are fields of every cohort. An [*UnknownFieldError] says that the name
// is none.
func (c *Cohort) Field(name string) (string, error) {
	if name == "joint" || name == "procedure" {
		return name, nil
	}
	field, ok := c.fieldName(name)
	if !ok {
		return "", c.unknownField(name)
	}
	return field, nil
}

// among lists the levels that some of the given rows of the blocks have.
func (d *dimension) among(blocks int, rows func(block int) iter.Seq[int]) []string {
	occurs := make([]atomic.Bool, len(d.levels))
	parallel.Each(blocks, func(block int) {
		level := d.reader(block)
		for i := range rows(block) {
			if l := level(i); !occurs[l].Load() {
				occurs[l].Store(true)
			}
		}
	})
	var levels []string
	for l, name := range d.levels {
		if occurs[l].Load() {
			levels = append(levels, name)
		}
	}
	return levels
}

// dimension is the field of a name.
func (c *Cohort) dimension(name string) (*dimension, error) {
	ofField := func(f *table.Field, at int) (*dimension, error) {
		if f.Full {
			return nil, f.TooMany()
		}
		rank, ordered := f.Ranks()
		d := &dimension{name: f.Name, levels: ordered}
		d.word = func(w *store.Words, n uint32) int { return int(rank[w.Code(n, at)]) }
		d.reader = func(block int) func(int) int {
			b := c.store.Blocks[block]
			return func(i int) int { return d.word(b.Words(), b.Word(i)) }
		}
		if at == store.Side {
			d.supposed = func(r *row.Row) int {
				if int(r.Side) >= len(rank) { // a side that no row has
					return -1
				}
				return int(rank[r.Side])
			}
		}
		return d, nil
	}
	for k, f := range c.text.Core {
		if f.Name == name {
			return ofField(f, k)
		}
	}
	for k, f := range c.text.Extra {
		if f.Name == name && !(name == fieldAgeBand && c.text.Present["age"]) {
			if f.TooDistinct(c.store.Rows()) {
				return nil, badOption("column %q has a value of its own in most rows: it is no column to group or select by", name)
			}
			return ofField(f, store.CoreCount+k)
		}
	}
	switch name {
	case fieldAgeBand:
		return c.ageBands(), nil
	case fieldOperationYear:
		return c.years(), nil
	}
	return nil, c.unknownField(name)
}

// ageBands is the field of age bands.
func (c *Cohort) ageBands() *dimension {
	d := &dimension{name: fieldAgeBand}
	for _, b := range c.bands {
		d.levels = append(d.levels, b.String())
	}
	last := len(d.levels)
	d.levels = append(d.levels, NotRecorded)
	d.reader = c.byAge(c.bandOf, last)
	d.supposed = func(r *row.Row) int {
		if r.Age.Years < row.MinAge || r.Age.Years > row.MaxAge {
			return last
		}
		return c.bandOf(int(r.Age.Years))
	}
	return d
}

// byAge reads a level of the age in years, or that of an age not recorded.
func (c *Cohort) byAge(level func(years int) int, none int) func(block int) func(int) int {
	levels := [row.MaxAge + 1]int{none}
	for years := row.MinAge; years <= row.MaxAge; years++ {
		levels[years] = level(years)
	}
	return func(block int) func(int) int {
		b := c.store.Blocks[block]
		return func(i int) int { return levels[b.Age(i)] }
	}
}

// years is the field of years of operation.
func (c *Cohort) years() *dimension {
	d := &dimension{name: fieldOperationYear}
	for y := dates.MinYear; y <= dates.MaxYear; y++ {
		d.levels = append(d.levels, strconv.Itoa(y))
	}
	d.levels = append(d.levels, NotRecorded)
	d.reader = func(block int) func(int) int {
		b := c.store.Blocks[block]
		return func(i int) int {
			op := b.Day(store.Operation, i)
			if !op.Known() {
				return len(d.levels) - 1
			}
			return Day(op).Year() - dates.MinYear
		}
	}
	return d
}

// unknownField names the fields there are, and headings that would be one if
// asked for.
func (c *Cohort) unknownField(wanted string) error {
	known := c.Fields()
	for _, f := range c.Files {
		for _, h := range f.Headings {
			name := cmp.Or(h.Column, h.Typed)
			other := h.Column == "" && h.How == Unmatched || column.IsOf(h.Column, column.Words) || column.IsOf(h.Column, column.Names)
			if other && !column.Identifying(name) && !slices.Contains(known, name) {
				known = append(known, name)
			}
		}
	}
	return &UnknownFieldError{wanted, known}
}

// HasColumn says whether a table has a column, or a value was assumed for it.
func (c *Cohort) HasColumn(name string) bool {
	_, ok := c.fieldName(name)
	return ok || c.text.Present[name]
}
