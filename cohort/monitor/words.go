package monitor

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort/text"
)

// Row is a point of a chart as it stands in a file. Days are written
// 2020-12-31.
type Row struct {
	Day      string  `json:"day"`
	Observed int     `json:"observed"`
	Expected float64 `json:"expected"`
	Excess   float64 `json:"excess"` // observed less expected
	Low      int     `json:"low"`    // what chance gives on this one day, see Point
	High     int     `json:"high"`
	Sum      float64 `json:"sum"`
	Limit    float64 `json:"limit"`
	OnLine   bool    `json:"on_line"`  // or beyond it
	Complete bool    `json:"complete"` // all revisions by that day are taken to be known
}

// Rows are a chart's points.
func (c *Chart) Rows() []Row {
	rows := make([]Row, len(c.Points))
	for i, p := range c.Points {
		rows[i] = Row{
			Day: isoDay(p.Day), Observed: p.Observed, Expected: p.Expected, Excess: p.Excess(), Low: p.Low, High: p.High,
			Sum: p.Sum, Limit: c.Limit, OnLine: p.Sum >= c.Limit-touchSlack, Complete: p.Day <= c.Complete,
		}
	}
	return rows
}

// Said is what a chart says, in sentences: observed and expected by the day to
// which revisions are complete; when the line was touched, since when revisions came
// faster than expected and which rows to look at, or what it means that the line was
// not touched; how often chance alone touches it; and what is not known yet.
func (c *Chart) Said() []string {
	var said []string
	add := func(format string, args ...any) { said = append(said, fmt.Sprintf(format, args...)) }
	if k := c.Known; k.Day < c.From {
		add("The whole period, from %s through %s, is so recent that not all of its revisions are known yet.", isoDay(c.From), isoDay(c.Through))
	} else {
		add("From %s through %s, to which revisions are taken as complete: %d revised, %s expected. Chance alone gives %s.",
			isoDay(c.From), isoDay(k.Day), k.Observed, tenths(k.Expected), counts(k.Low, k.High))
	}
	var named []int // rows of stretches before
	for i, s := range c.Stretches {
		said = append(said, c.stretch(s, i > 0, named))
		named = append(named, s.Rows...)
	}
	if len(c.Stretches) == 0 {
		little := "That says little: "
		if c.Touches(c.Ratio) >= likely {
			little = ""
		}
		add("The chart did not touch its line. %s", text.Capital(little+c.tuned()+", it would touch it"+c.toTheEnd()+" in "+of100(c.Touches(c.Ratio))+"."))
	}
	chance := "If revisions come as expected, a chart like this one touches its line in " + of100(c.Chance) + "."
	if c.Error > 0 {
		chance += " That allows for what is expected being an estimate itself."
	}
	said = append(said, chance)
	if c.Ratio > 1 && c.Complete < c.Through {
		add("Revisions after %s are not all known yet; those still to come would raise the chart.", isoDay(max(c.Complete, c.From-1)))
	}
	return said
}

// toTheEnd says up to when a chart is charted, where its numbers are of an earlier day.
func (c *Chart) toTheEnd() string {
	if c.Known.Day >= c.Through {
		return ""
	}
	return " by " + isoDay(c.Through)
}

// likely is the chance from which on a line that was not touched says something.
const likely = .8

// tuned is the condition under which the chart is to touch its line.
func (c *Chart) tuned() string {
	if c.Ratio == 2 {
		return "were there twice the revisions expected"
	}
	return fmt.Sprintf("were there %s times the revisions expected", strconv.FormatFloat(c.Ratio, 'g', 3, 64))
}

// stretch says when a chart stood on its line, and which rows to look at beside those
// that were named.
func (c *Chart) stretch(s Stretch, again bool, named []int) string {
	line := "its line"
	if again {
		line = "its line again"
	}
	until := "It has stood there or beyond since."
	switch {
	case !s.Open && s.Until == s.Touched:
		until = "It left the line the next day."
	case !s.Open:
		until = fmt.Sprintf("It stood there or beyond until %s.", isoDay(s.Until))
	}
	if c.Ratio < 1 {
		return fmt.Sprintf("From %s on fewer were revised than expected: by %s, when the chart touched %s, %d where %s were expected. %s Before that is believed: are revisions missing from the table?",
			isoDay(s.Since), isoDay(s.Touched), line, s.Observed, tenths(s.Expected), until)
	}
	rows := slices.DeleteFunc(slices.Clone(s.Rows), func(row int) bool { return slices.Contains(named, row) })
	joints, which := "these joints", c.list(rows)
	switch {
	case len(rows) == 0:
		which = "those named above"
	case len(rows) < len(s.Rows):
		which = "those named above, and " + which
	case len(rows) == 1:
		joints = "this joint"
	}
	return fmt.Sprintf("From %s on revisions came faster than expected: by %s, when the chart touched %s, %d where %s were expected. %s Look at %s; the chart doesn't say why: %s.",
		isoDay(s.Since), isoDay(s.Touched), line, s.Observed, tenths(s.Expected), until, joints, which)
}

// Said is what is said of all charts together: how many touched their line, and
// how often chance alone makes any of them do so.
func (t *Together) Said() string {
	touched := 0
	for _, c := range t.Charts {
		if len(c.Stretches) > 0 {
			touched++
		}
	}
	return fmt.Sprintf("Of %d charts %d touched the line. If revisions come as expected everywhere, any of them does in %s.", len(t.Charts), touched, of100(t.Chance))
}

// of100 is a chance in words.
func of100(p float64) string {
	switch n := math.Round(100 * p); {
	case p == 0:
		return "none of 100 such periods"
	case n < 1:
		return "less than 1 of 100 such periods"
	case n >= 100 && p < 1:
		return "more than 99 of 100 such periods"
	default:
		return fmt.Sprintf("%.0f of 100 such periods", n)
	}
}

// tenths is a number expected, which is not 0 where it is only small.
func tenths(x float64) string {
	if x > 0 && x < .05 {
		return "fewer than 0.1"
	}
	return fmt.Sprintf("%.1f", x)
}

func counts(low, high int) string {
	if low == high {
		return strconv.Itoa(low)
	}
	return fmt.Sprintf("%d to %d", low, high)
}

// list names the rows of joints.
func (c *Chart) list(rows []int) string {
	words := c.Names(rows)
	if len(rows) == 1 {
		return "row " + words[0]
	}
	return "rows " + strings.Join(words, ", ")
}

// Names are how rows are called, such as those of a stretch.
func (c *Chart) Names(rows []int) []string {
	words := make([]string, len(rows))
	for i, r := range rows {
		words[i] = strconv.Itoa(r)
		if c.Name != nil {
			words[i] = c.Name(r)
		}
	}
	return words
}
