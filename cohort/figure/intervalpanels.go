package figure

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
)

// panelsOf are the groups of all joints of the joints and procedures asked for,
// one for each panel; empty means any.
func panelsOf(a *audit.Audit, joint, procedure string) []*audit.Group {
	var all []*audit.Group
	for i := range a.Groups {
		g := &a.Groups[i]
		if g.Level == audit.AllJoints && (joint == "" || g.Word("joint") == joint) && (procedure == "" || g.Word("procedure") == procedure) {
			all = append(all, g)
		}
	}
	return all
}

// groupsOf are the groups of one field within a panel, the other fields pooled,
// in the audit's order.
func groupsOf(a *audit.Audit, panel *audit.Group, field string) []*audit.Group {
	var groups []*audit.Group
	for i := range a.Groups {
		g := &a.Groups[i]
		if g.Level == audit.OneField && g.Field() == field && g.Word("joint") == panel.Word("joint") && g.Word("procedure") == panel.Word("procedure") {
			groups = append(groups, g)
		}
	}
	return groups
}

// ErrNothingToDraw: every joint and procedure had to be left out. The error says
// which, and why.
var ErrNothingToDraw = errors.New("figure: nothing to draw")

// leftOut are the panels that a figure has to do without, with the reasons.
type leftOut []string

// Reasons why a panel is left out.
const (
	fewJoints       = "fewer than 10 joints"
	nothingExpected = "no revisions are expected: no published series has a figure at three years or earlier"
	hiddenJoints    = "hidden, so that the figure can be shared"
)

func (l *leftOut) add(all *audit.Group, reason string) {
	*l = append(*l, panelTitle(all.Word("joint"), all.Word("procedure"))+" ("+reason+")")
}

// notes name what is left out.
func (l leftOut) notes() []string {
	if len(l) == 0 {
		return nil
	}
	return []string{"Left out: " + strings.Join(l, "; ") + "."}
}

// err says that nothing is left.
func (l leftOut) err() error {
	return fmt.Errorf("%w: %s", ErrNothingToDraw, text.Plain(strings.Join(l, "; ")))
}

// noPanel says that a figure would be empty.
func noPanel(joint, procedure string) error {
	switch {
	case joint == "" && procedure == "":
		return errors.New("figure: the audit has no joints")
	case procedure == "":
		return fmt.Errorf("figure: the audit has no joints of %s", word(joint))
	case joint == "":
		return fmt.Errorf("figure: the audit has no joints of %s", word(procedure))
	}
	return fmt.Errorf("figure: the audit has no joints of %s, %s", word(joint), word(procedure))
}

// panelTitle is a panel's heading.
func panelTitle(joint, procedure string) string {
	return capitalWord(word(joint)) + ", " + word(procedure)
}

// capitalWord starts a word of the program's own with a capital.
func capitalWord(s string) string {
	if s != "" && s[0] >= 'a' && s[0] <= 'z' {
		return string(s[0]-'a'+'A') + s[1:]
	}
	return s
}

// sources are the publications of a figure's published numbers, in the order
// met. One publication has several series.
type sources []*source

type source struct {
	name, citation string
	series         []*benchmark.Series
}

// add takes in a series.
func (s *sources) add(series *benchmark.Series) {
	i := s.index(series)
	if i < 0 {
		i = len(*s)
		*s = append(*s, &source{name: series.Source, citation: series.Citation})
	}
	if e := (*s)[i]; !slices.Contains(e.series, series) {
		e.series = append(e.series, series)
	}
}

// index is that of a series' publication; −1 if it is not there.
func (s sources) index(series *benchmark.Series) int {
	return slices.IndexFunc(s, func(e *source) bool { return e.name == series.Source && e.citation == series.Citation })
}

// notes name the publications, with letters if there are several, and what of
// them was used if that is asked for.
func (s sources) notes(lead string, of bool) []string {
	var notes []string
	for i, e := range s {
		note := lead
		if len(s) > 1 && !of {
			note += " " + letterOf(i)
		}
		note += ": " + word(e.name)
		if e.citation != "" {
			note += ", " + strings.TrimSuffix(word(e.citation), ".")
		}
		if of {
			var parts []string
			for _, series := range e.series {
				last := series.Figures[len(series.Figures)-1].Years
				parts = append(parts, seriesWords(series)+", up to "+yearsWords(last)+" from operation")
			}
			note += ": " + strings.Join(parts, "; ")
		}
		notes = append(notes, note+".")
	}
	return notes
}

// seriesWords say what a series is of: hip, total, cemented.
func seriesWords(s *benchmark.Series) string {
	var of []string
	for _, w := range []string{s.Joint, s.Procedure, s.Bearing, s.Fixation, s.Sex} {
		if w != "" {
			of = append(of, word(w))
		}
	}
	if s.Age != (benchmark.AgeInterval{}) {
		of = append(of, "age "+s.Age.String())
	}
	return strings.Join(of, ", ")
}

// letterOf is the key of the i-th source: a, b, … z, aa, ab.
func letterOf(i int) string {
	if i < 26 {
		return string(rune('a' + i))
	}
	return letterOf(i/26-1) + letterOf(i%26)
}
