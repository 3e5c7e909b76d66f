package table

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
)

// Heading is one heading of a table and the column it was taken for.
type Heading struct {
	Typed  string
	Column string // "" for a column of the user's own
	How    HeadingMatch

	// Between lists the columns it could mean, where that is not clear; it is
	// then taken for none.
	Between []string
}

// HeadingMatch says how a heading was matched.
type HeadingMatch uint8

const (
	Unmatched    HeadingMatch = iota // no known column; kept under its own name
	ByName                           // the column's own name
	ByVariant                        // a close variant, such as "Date of operation"
	BySettings                       // the user's own mapping
	LeftOut                          // left out by the user's own mapping
	OtherHeading                     // a variant of a column that another heading names exactly
)

// String describes the match.
func (m HeadingMatch) String() string {
	return [...]string{"not a known column", "by name", "by a close variant", "by the settings", "left out", "not used: another heading names this column"}[m]
}

// Words in the names of sheets of revisions and of deaths.
var (
	revisionSheets = []string{"revision", "revisions", "rev", "revs", "revised", "redo", "redos", "redone"}
	deathSheets    = []string{"death", "deaths", "died", "dead", "deceased", "rip", "mortality"}
)

// sheetOf is the first sheet whose name has one of several words; "" if there is
// none.
func sheetOf(sheets, named []string) string {
	for _, s := range sheets {
		for _, word := range strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return !unicode.IsLetter(r) }) {
			if slices.Contains(named, word) {
				return s
			}
		}
	}
	return ""
}

// LikelySheets are, of the sheets of a workbook that are not read, those whose
// names say that they hold revisions and deaths; "" for none.
func LikelySheets(notRead []string) (revisions, deaths string) {
	return sheetOf(notRead, revisionSheets), sheetOf(notRead, deathSheets)
}

// TwoColumnsError says that two headings were taken for one column.
type TwoColumnsError struct {
	File          string
	Column        string
	First, Second string
}

func (e *TwoColumnsError) Error() string {
	if e.First == e.Second {
		return fmt.Sprintf("%s: the heading %q stands twice; rename or remove one", e.File, e.First)
	}
	return fmt.Sprintf("%s: the headings %q and %q both mean %s; rename or remove one, or leave one out in a settings file, under [columns]: %q = \"\"", e.File, e.First, e.Second, e.Column, e.Second)
}

// ListHeadings names at most a screenful of headings.
func ListHeadings(headings []string) string {
	const most = 40
	if len(headings) == 0 {
		return "none"
	}
	quoted := make([]string, 0, most)
	for _, h := range headings[:min(most, len(headings))] {
		if len(h) > 60 {
			h = strings.ToValidUTF8(h[:60], "") + "…"
		}
		quoted = append(quoted, fmt.Sprintf("%q", h))
	}
	if more := len(headings) - most; more > 0 {
		return fmt.Sprintf("%s and %d more", strings.Join(quoted, ", "), more)
	}
	return strings.Join(quoted, ", ")
}

// clearHeadings takes the headings of a checked cohort for what they are: "cause" is
// why follow-up ended, and no question.
func clearHeadings(headings []Heading) {
	for i := range headings {
		headings[i].Between = nil
	}
}

// matchHeadings says what each heading of a table means. The user's own
// mapping comes first, then exact names, then close variants; two headings
// for one column are an error unless one of them is the column's exact name, and
// the first is then taken for it; an abbreviation gives way to any other. The headings come with the place of each column
// among them.
func matchHeadings(file string, typed []string, o *Options) (headings []Heading, by map[string]int, twice error) {
	mapping := make(map[string]string, len(o.Columns))
	for heading, name := range o.Columns {
		mapping[column.Plain(heading)] = name
	}
	headings = make([]Heading, len(typed))
	by = make(map[string]int) // column → index of its heading
	ranks := make([]int, len(typed))
	var errs []error
	for i, t := range typed {
		h, short := Heading{Typed: t}, false
		if name, ok := mapping[column.Plain(t)]; ok {
			h.Column, h.How = name, BySettings
			if name == "" {
				h.How = LeftOut
			}
		} else {
			m := column.Heading(t)
			h.Column, h.Between, short = m.Column, m.Between, m.Short
			switch {
			case m.Exact:
				h.How = ByName
			case m.Column != "":
				h.How = ByVariant
			}
		}
		headings[i], ranks[i] = h, rankOf(h.How, short)
		if h.Column == "" {
			continue
		}
		j, taken := by[h.Column]
		if !taken {
			by[h.Column] = i
			continue
		}
		stronger, weaker := i, j
		if ranks[i] <= ranks[j] {
			stronger, weaker = j, i
		}
		if ranks[i] == ranks[j] && !short {
			errs = append(errs, &TwoColumnsError{file, h.Column, headings[j].Typed, t})
		}
		by[h.Column] = stronger
		headings[weaker].Column, headings[weaker].How = "", OtherHeading
	}
	return headings, by, together(errs...)
}

// shownHeadings are headings as they may be shown.
func shownHeadings(headings []Heading) []string {
	shown := slices.Clone(headings)
	hideHeadings(shown)
	typed := make([]string, len(shown))
	for i, h := range shown {
		typed[i] = h.Typed
	}
	return typed
}

// isHeadings says whether a row looks like the headings of a table: it names
// the day and something else that is known.
func isHeadings(cells []string, o *Options, holds row.Role) bool {
	known := make(map[string]bool)
	for _, cell := range cells {
		if name := o.Column(cell); name != "" {
			known[name] = true
		} else if m := column.Heading(cell); slices.Contains(m.Between, "operation_date") {
			known["operation_date"] = true // not clear, and a heading all the same
		} else if holds == row.Deaths && slices.Contains(m.Between, column.DeathDate) {
			known["death_date"] = true
		}
	}
	if len(known) < 2 {
		return false
	}
	switch holds {
	case row.Deaths:
		return known["death_date"]
	case row.Revisions:
		return known["revision_date"] || known["operation_date"]
	}
	return known["operation_date"]
}

// settleDeaths takes in a list of deaths the only heading that may be the day for
// it, if none is.
func settleDeaths(headings []Heading, by map[string]int) {
	at := -1
	for i, h := range headings {
		if h.Column != "" || h.How != Unmatched || !slices.Contains(h.Between, column.DeathDate) {
			continue
		}
		if at >= 0 {
			return
		}
		at = i
	}
	if _, ok := by[column.DeathDate]; !ok && at >= 0 {
		headings[at] = Heading{Typed: headings[at].Typed, Column: column.DeathDate, How: ByVariant}
		by[column.DeathDate] = at
	}
}

// inTwoRows gives headings that are empty the text right above them, where that
// names a column which no other heading names, or may mean several. One that is not clear, as "Date", is
// read with the text above it, or above the first of the cells that this goes over, if
// both together name such a column. Any other text above may be a title, and anybody's
// data.
func inTwoRows(headings, upper []string, o *Options) []string {
	named := make(map[string]bool)
	for _, h := range headings {
		if name := o.Column(h); name != "" {
			named[name] = true
		}
	}
	all := slices.Clone(headings)
	over := ""
	for i, above := range upper {
		over = cmp.Or(above, over)
		switch both := over + " " + all[i]; {
		case all[i] == "":
			if name := o.Column(above); name != "" && !named[name] || len(column.Heading(above).Between) > 0 {
				all[i] = above
				if name != "" {
					named[name] = true
				}
			}
		case over != "" && o.Column(all[i]) == "":
			if name := o.Column(both); name != "" && !named[name] {
				all[i], named[name] = both, true
			}
		}
	}
	return all
}

// isData says whether a line taken for headings is more likely a row: no
// heading is known, and one is a date.
func isData(headings []Heading) bool {
	date := false
	for _, h := range headings {
		if h.How != Unmatched {
			return false
		}
		raw := dates.Parse([]byte(h.Typed), dates.Options{PivotSet: true})
		date = date || raw != dates.Missing && !raw.Bad()
	}
	return date
}

// column is the column a heading stands for, by the settings or else by its
// words; "" for one of the user's own.
func (o *Options) Column(heading string) string {
	for typed, name := range o.Columns {
		if column.Plain(typed) == column.Plain(heading) {
			return name
		}
	}
	return column.Heading(heading).Column
}

// rankOf says which of two headings of a column goes before.
func rankOf(m HeadingMatch, short bool) int {
	switch {
	case m == BySettings:
		return 3
	case m == ByName:
		return 2
	case m == ByVariant && !short:
		return 1
	}
	return 0
}
