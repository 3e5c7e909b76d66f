package cohort

import (
	"cmp"
	"iter"
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/table"
)

// Where is the part of the cohort whose rows have, for each column named, one of
// the values named for it; values may be synonyms. Nothing is read or linked
// again: a row outside the part still is the revision, or tells the death, of one
// inside. Columns are those of [Cohort.Fields]; others must be kept when the
// tables are read (Options.Keep), which an [*UnknownFieldError] says. A value
// that no row has is an [*OptionError].
func (c *Cohort) Where(conditions ...Condition) (*Cohort, error) {
	if len(conditions) == 0 {
		return c, nil
	}
	part := *c
	part.Scope, part.narrow = slices.Clone(c.Scope), slices.Clone(c.narrow)
	byField := make(map[string]map[string]bool)
	var dims []*dimension
	for _, w := range conditions {
		name, ok := c.fieldName(w.Column)
		if !ok {
			return nil, c.unknownField(w.Column)
		}
		d, err := c.dimension(name)
		if err != nil {
			return nil, err
		}
		values := byField[name]
		if values == nil {
			values = make(map[string]bool)
			byField[name] = values
			dims = append(dims, d)
		}
		levels, err := c.asked(d, w.Value)
		if err != nil {
			return nil, err
		}
		for _, level := range levels {
			if values[level] = true; !slices.Contains(part.Scope, Condition{name, level}) {
				part.Scope = append(part.Scope, Condition{name, level})
			}
		}
	}
	for _, d := range dims {
		n := narrowing{d, make([]bool, len(d.levels))}
		for i, level := range d.levels {
			n.in[i] = byField[d.name][level]
		}
		part.narrow = append(part.narrow, n)
	}
	slices.SortFunc(part.Scope, func(a, b Condition) int {
		return cmp.Or(cmp.Compare(a.Column, b.Column), cmp.Compare(a.Value, b.Value))
	})
	return part.remembering(), nil
}

// Values lists the words that joints in use and in scope have in a field, in the
// order in which groups are shown. An [*UnknownFieldError] says that the name is no
// field.
func (c *Cohort) Values(field string) ([]string, error) {
	name, err := c.Field(field)
	if err != nil {
		return nil, err
	}
	d, err := c.dimension(name)
	if err != nil {
		return nil, err
	}
	return d.among(len(c.store.Blocks), c.used), nil
}

// occurring lists the levels of a dimension that some row of the primaries has.
func (c *Cohort) occurring(d *dimension) []string {
	return d.among(len(c.store.Blocks), func(block int) iter.Seq[int] {
		return func(yield func(int) bool) {
			for i := range c.linked.fates[block].of {
				if !yield(i) {
					return
				}
			}
		}
	})
}

// asked are the levels of a dimension that a value asked for stands for, at least
// one.
func (c *Cohort) asked(d *dimension, value string) ([]string, error) {
	occurs, meant := c.occurring(d), c.synonyms(d.name, value)
	var levels []string
	for _, level := range occurs {
		if slices.ContainsFunc(meant, func(m string) bool { return strings.EqualFold(level, m) }) {
			levels = append(levels, level)
		}
	}
	switch {
	case len(levels) == 0:
		return nil, badOption("no row has %s %q; values found: %s", d.name, value, table.ListHeadings(occurs))
	case len(levels) > 1 && column.IsOf(d.name, column.Names):
		return nil, badOption("%s %q may be %s: write one of these", d.name, value, table.ListHeadings(levels))
	}
	return levels, nil
}

// synonyms are what a value asked for may be called in a field.
func (c *Cohort) synonyms(name, value string) []string {
	all := []string{value}
	switch {
	case name == fieldAgeBand:
		return append(all, strings.NewReplacer("–", "-", " ", "").Replace(value))
	case column.IsOf(name, column.Names):
		return append(all, c.text.NamesAsked(name, value)...)
	}
	for _, f := range slices.Concat(c.text.Core[:], c.text.Extra) {
		if m := f.Understand(value); f.Name == name && m.Known {
			all = append(all, m.Value)
		}
	}
	return all
}
