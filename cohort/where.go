package cohort

import (
	"cmp"
	"slices"
	"strings"
	"sync/atomic"

	"example.org/holdfast/cohort/internal/store"
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
		occurs, found := c.occurring(d), false
		for _, candidate := range c.synonyms(name, w.Value) {
			for _, level := range occurs {
				if !strings.EqualFold(level, candidate) {
					continue
				}
				found = true
				if values[level] = true; !slices.Contains(part.Scope, Condition{name, level}) {
					part.Scope = append(part.Scope, Condition{name, level})
				}
			}
		}
		if !found {
			return nil, badOption("no row has %s %q; values found: %s", name, w.Value, table.ListHeadings(occurs))
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

// occurring lists the levels of a dimension that some row of the primaries has.
func (c *Cohort) occurring(d *dimension) []string {
	occurs := make([]atomic.Bool, len(d.levels))
	store.Parallel(len(c.store.Blocks), func(bi int) {
		level := d.reader(bi)
		for i := range c.linked.fates[bi].reason {
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

// synonyms are what a value asked for may be called in a field.
func (c *Cohort) synonyms(name, value string) []string {
	all := []string{value}
	if name == fieldAgeBand {
		return append(all, strings.NewReplacer("–", "-", " ", "").Replace(value))
	}
	for _, f := range slices.Concat(c.text.Core[:], c.text.Extra) {
		if m := f.Understand(value); f.Name == name && m.Known {
			all = append(all, m.Value)
		}
	}
	return all
}
