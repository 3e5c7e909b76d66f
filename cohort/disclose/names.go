package disclose

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"slices"
	"strconv"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/column"
)

// names are the words that stand for words as typed, by field and number.
type names struct{ words map[string][]string }

// newNames numbers the words as typed of each field. Their order is neither that of
// the alphabet nor of the table, from which somebody with a list of the names
// could tell whose number is which: it is made with a key from all exact
// numbers of the audit, and so the same for the same audit, and not to be made
// again by whoever has not the table.
func newNames(a *audit.Audit) *names {
	n := &names{words: make(map[string][]string)}
	h := sha256.New()
	put := func(numbers ...float64) {
		for _, x := range numbers {
			binary.Write(h, binary.LittleEndian, x)
		}
	}
	for i := range a.Groups {
		g := &a.Groups[i]
		for _, v := range g.Values {
			fmt.Fprintf(h, "%q %v\n", v.Word, v.All)
			if !v.All && !kept(v.Field, v.Word) && !slices.Contains(n.words[v.Field], v.Word) {
				n.words[v.Field] = append(n.words[v.Field], v.Word)
			}
		}
		put(float64(g.Joints), float64(g.Revised), float64(g.Died), g.ImplantYears)
		if g.Counts != nil {
			t := g.Counts.Table()
			put(t.Time...)
			put(t.AtRisk...)
			for _, e := range t.Event {
				put(e...)
			}
		}
	}
	key := h.Sum(nil)
	place := func(field, word string) []byte {
		m := hmac.New(sha256.New, key)
		fmt.Fprintf(m, "%q %q", field, word)
		return m.Sum(nil)
	}
	for field, all := range n.words {
		slices.SortFunc(all, func(a, b string) int { return bytes.Compare(place(field, a), place(field, b)) })
	}
	return n
}

// kept says whether a field's value is shared as it is: canonical words, years
// and bands of age.
func kept(field, value string) bool {
	return value == cohort.NotRecorded || field == audit.OperationYear || field == "age_band" || column.Canonical(field, value)
}

// word is how a field's value is shared. Words as typed, names among them, are
// numbered; joined groups have a word of the program's own.
func (n *names) word(field, value string) string {
	if kept(field, value) || value == other {
		return value
	}
	i := slices.Index(n.words[field], value)
	if i < 0 {
		i = len(n.words[field])
		n.words[field] = append(n.words[field], value)
	}
	name := column.Title(field)
	if column.Order(field) != nil {
		name = "other " + name
	}
	return name + " " + strconv.Itoa(i+1)
}

func (n *names) conditions(from []cohort.Condition) []cohort.Condition {
	var to []cohort.Condition
	for _, c := range from {
		to = append(to, cohort.Condition{Column: c.Column, Value: n.word(c.Column, c.Value)})
	}
	return to
}

// reorder puts the groups whose words are numbered in the order of the numbers,
// in the places that they have.
func (n *names) reorder(p *part) {
	for _, f := range p.fields {
		var places []int
		for i, u := range f.units {
			if !kept(f.name, u.word(f.name)) {
				places = append(places, i)
			}
		}
		numbered := make([]*unit, len(places))
		for k, i := range places {
			numbered[k] = f.units[i]
		}
		slices.SortFunc(numbered, func(a, b *unit) int {
			return slices.Index(n.words[f.name], a.word(f.name)) - slices.Index(n.words[f.name], b.word(f.name))
		})
		for k, i := range places {
			f.units[i] = numbered[k]
		}
	}
}

// firstOf is the first day of a day's year.
func firstOf(d cohort.Day) cohort.Day {
	first, err := cohort.ParseDay(fmt.Sprintf("%04d-01-01", d.Year()))
	if err != nil {
		return 0
	}
	return first
}
