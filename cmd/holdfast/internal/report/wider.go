package report

import (
	"slices"
	"strings"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// widerMark marks a published figure of a wider group than the one it stands
// beside.
const widerMark = "†"

// wider says whether a figure is of more than a group: its bearing, fixation,
// age band or sex is one that the series does not state, or states with others.
// A field that the group pools is no reason.
func wider(a *audit.Audit, g *audit.Group, s *benchmark.Series) bool {
	stated := func(field, word string) bool {
		has, _ := holds(a, g, field)
		return !has || word != "" && !strings.ContainsAny(word, "*|")
	}
	if !stated("bearing", s.Bearing) || !stated("fixation", s.Fixation) || !stated("sex", s.Sex) {
		return true
	}
	has, band := holds(a, g, "age_band")
	if !has {
		return false
	}
	if s.Age == (benchmark.AgeInterval{}) {
		return true
	}
	age, err := benchmark.ParseAge(band)
	return err == nil && age != (benchmark.AgeInterval{}) && age != s.Age
}

// holds says whether a group is of one value of a field, or of those in scope,
// and which; "" for one of several.
func holds(a *audit.Audit, g *audit.Group, field string) (bool, string) {
	for _, v := range g.Values {
		if v.Field == field && !v.All {
			return true, v.Word
		}
	}
	var values []string
	for _, c := range a.Scope {
		if c.Column == field && !slices.Contains(values, c.Value) {
			values = append(values, c.Value)
		}
	}
	if len(values) == 1 {
		return true, values[0]
	}
	return len(values) > 0, ""
}

// widerSign is the mark of a figure of a wider group, explained.
func widerSign(a *audit.Audit, g *audit.Group, c *benchmark.Comparison, f *footnotes) string {
	if !wider(a, g, c.Series) {
		return ""
	}
	f.sign(widerMark, "of a wider group: see the source")
	return widerMark
}

// publishedFigure is a published figure without its limits, and its source.
func publishedFigure(a *audit.Audit, g *audit.Group, c *benchmark.Comparison, refs *references, f *footnotes) string {
	return percent(c.Figure.Revision) + widerSign(a, g, c, f) + " " + refs.mark(c.Series, c.Figure)
}

// publishedEstimate is a published figure with its limits and source.
func publishedEstimate(a *audit.Audit, g *audit.Group, c *benchmark.Comparison, refs *references, f *footnotes) string {
	return percentWith(c.Figure.Revision, c.Figure.Lower, c.Figure.Upper, widerSign(a, g, c, f)) + " " + refs.mark(c.Series, c.Figure)
}
