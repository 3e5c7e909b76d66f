package table

import (
	"cmp"
	"slices"
	"strings"
	"unicode"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/words"
)

// CommonValues are the values under a heading that is not understood, to see
// what it may mean.
type CommonValues struct {
	File    int
	Heading Heading

	// Values are at most five, the commonest first, of those that stand in two
	// rows or more; Known is false. None are given of a column that may identify
	// patients, and Looks then says what it looks like.
	Values []Word

	// Looks is "dates", "long numbers", "free text" or "many different values";
	// "" if it looks like none of these, or is empty.
	Looks string

	// Deaths and Revisions are in how many rows a word for one stands, whatever is
	// said of it.
	Deaths, Revisions int
}

// Limits of what is counted under a heading that is not understood.
const (
	mostValues   = 200 // different ones
	longestValue = 40  // bytes
	shownValues  = 5
	mostWords    = 5 // of one value; more are a sentence
)

// CommonValues lists them for each heading of no known column that is not left
// out and does not itself name what identifies a patient; file is the table's
// place among all. They are counted with Options.EveryColumn only.
func (f File) CommonValues(file int) []CommonValues {
	var all []CommonValues
	for i, v := range f.values {
		if v == nil {
			continue
		}
		values := CommonValues{File: file, Heading: f.Headings[i], Deaths: v.deaths, Revisions: v.revisions}
		if values.Looks = v.looks(); values.Looks == "" {
			values.Values = v.commonest()
		}
		all = append(all, values)
	}
	return all
}

// valueCount counts the values of one column. What it says depends on the cells
// alone, not on which of several counted which.
type valueCount struct {
	rows   map[string]int
	over   bool // there are more than mostValues
	filled int
	dates  int
	long   int

	deaths, revisions int
}

func newValueCount() *valueCount { return &valueCount{rows: make(map[string]int)} }

func (v *valueCount) add(c []byte) {
	v.filled++
	death, revision := words.Tells(string(c))
	if death {
		v.deaths++
	}
	if revision {
		v.revisions++
	}
	if raw := dates.Parse(c, dates.Options{PivotSet: true}); raw != dates.Missing && !raw.Bad() {
		v.dates++
	}
	if len(c) > longestValue {
		v.long++
		return
	}
	if _, ok := v.rows[string(c)]; ok || len(v.rows) < mostValues {
		v.rows[string(c)]++
	} else {
		v.over = true
	}
}

func (v *valueCount) merge(o *valueCount) {
	v.over = v.over || o.over
	v.filled += o.filled
	v.dates += o.dates
	v.long += o.long
	v.deaths += o.deaths
	v.revisions += o.revisions
	for value, n := range o.rows {
		v.rows[value] += n
	}
}

// looks says what a column looks like that may identify patients.
func (v *valueCount) looks() string {
	if v.filled > 0 && 2*v.dates >= v.filled {
		return "dates"
	}
	if v.over || len(v.rows) > mostValues || len(v.rows) > 2 && 3*len(v.rows) > v.filled {
		return "many different values"
	}
	if v.long > 0 || v.dates > 0 {
		return "free text"
	}
	looks := ""
	for value := range v.rows {
		digits, letters := 0, 0
		for _, r := range value {
			switch {
			case r >= '0' && r <= '9':
				digits++
			case unicode.IsLetter(r):
				letters++
			}
		}
		switch {
		case digits >= 6 && letters < digits:
			return "long numbers"
		case digits >= 6:
			looks = "free text"
		case column.MayIdentify("", value), len(strings.Fields(value)) > mostWords, words.NamesSomebody(value), words.MayName(value):
			looks = "free text"
		}
	}
	return looks
}

func (v *valueCount) commonest() []Word {
	var all []Word
	for value, n := range v.rows {
		if n > 1 {
			all = append(all, Word{Typed: value, Rows: n})
		}
	}
	slices.SortFunc(all, func(a, b Word) int {
		return cmp.Or(-cmp.Compare(a.Rows, b.Rows), cmp.Compare(a.Typed, b.Typed))
	})
	return all[:min(len(all), shownValues)]
}

// countsValues says whether the values under a heading are to be counted.
func countsValues(h Heading) bool {
	return h.Column == "" && h.How == Unmatched && h.Typed != "" && h.Typed != hiddenHeading && !column.Identifying(h.Typed)
}
