package cohort

import (
	"cmp"
	"iter"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/row"
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
	if d.name == fieldAgeBand && c.text.Present["age"] {
		if from, to, ok := agesAsked(value); ok {
			return c.bandsAsked(occurs, value, from, to)
		}
	}
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

// agesAsked reads a range of ages open at one end, such as under 55, <55, 75 and
// over or >=75: from it on, and below to; 0 for no bound.
func agesAsked(value string) (from, to int, ok bool) {
	text := strings.ToLower(strings.Join(strings.Fields(value), " "))
	for _, form := range []struct {
		before, after string
		upper         bool
		more          int
	}{
		{"<=", "", true, 1}, {"≤", "", true, 1}, {"<", "", true, 0}, {"under ", "", true, 0}, {"below ", "", true, 0}, {"younger than ", "", true, 0}, {"up to ", "", true, 1},
		{">=", "", false, 0}, {"≥", "", false, 0}, {">", "", false, 1}, {"over ", "", false, 1}, {"above ", "", false, 1}, {"older than ", "", false, 1}, {"from ", "", false, 0},
		{"", "+", false, 0}, {"", " and over", false, 0}, {"", " or over", false, 0}, {"", " and older", false, 0}, {"", " or older", false, 0}, {"", " and above", false, 0},
	} {
		rest, begins := strings.CutPrefix(text, form.before)
		rest, ends := strings.CutSuffix(rest, form.after)
		age, err := strconv.Atoi(strings.TrimSpace(rest))
		switch {
		case !begins || !ends || err != nil || age < 1 || age > row.MaxAge:
		case form.upper:
			return 0, age + form.more, true
		default:
			return age + form.more, 0, true
		}
	}
	return 0, 0, false
}

// bandsAsked are the age bands that make up a range of ages.
func (c *Cohort) bandsAsked(occurs []string, value string, from, to int) ([]string, error) {
	var levels, all []string
	bounded := false
	for _, b := range c.bands {
		all = append(all, b.String())
		bounded = bounded || from > 0 && b.From == from || to > 0 && b.To == to
		if b.From >= from && (to == 0 || b.To > 0 && b.To <= to) && slices.Contains(occurs, b.String()) {
			levels = append(levels, b.String())
		}
	}
	switch {
	case !bounded:
		bound := from + to // one is 0
		return nil, badOption("age %s: the age bands are %s, and %d is no bound of them; say so with --age-bands %d for example", value, strings.Join(all, ", "), bound, bound)
	case levels == nil:
		return nil, badOption("no row has age_band %q; values found: %s", value, table.ListHeadings(occurs))
	}
	return levels, nil
}
