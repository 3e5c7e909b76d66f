package figure

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/monitor"
	"example.org/holdfast/cohort/text"
)

// WatchOptions say what [Watch] draws. The zero value is the default.
type WatchOptions struct {
	Width vg.Length // 0 means DefaultWidth
}

// Watch draws practices over calendar time: revisions observed less those
// expected, with the band that chance gives on any one day, and heavier where the
// chart stood on its line or beyond. A dashed line stands on the day to which
// revisions are taken to be known. There is a panel for each unit, all on one
// scale.
func Watch(w *monitor.Watch, o WatchOptions) (*Figure, error) {
	if err := checkWidth(&o.Width); err != nil {
		return nil, err
	}
	if len(w.Units) == 0 {
		return nil, fmt.Errorf("%w: no joint is watched", ErrNothingToDraw)
	}
	g := &Figure{Title: "Revisions observed less expected, by calendar date",
		data: [][]string{{"unit", "day", "excess", "low", "high", "on_line"}}}
	set := &panels{columns: columnsFor(o.Width, min(len(w.Units), 2))}
	low, high := -1.0, 1.0
	first, last := w.Units[0].Chart.From, w.Units[0].Chart.Through
	for _, u := range w.Units {
		first, last = min(first, u.Chart.From), max(last, u.Chart.Through)
		for _, pt := range u.Chart.Points {
			low = math.Min(low, math.Min(pt.Excess(), float64(pt.Low)-pt.Expected))
			high = math.Max(high, math.Max(pt.Excess(), float64(pt.High)-pt.Expected))
		}
	}
	x, y := dateScale(first, last), signedScale(low, high)
	g.Day = dateOf(last)
	g.Subtitle = "Through " + g.Day.Format("2 January 2006") + "."
	var said []string
	for _, u := range w.Units {
		name := u.Word
		title := "All joints"
		if w.By != "" {
			title = capitalWord(strings.ReplaceAll(w.By, "_", " ")) + " " + word(name)
			g.groups = append(g.groups, name)
		}
		set.all = append(set.all, watchPanel(title, u.Chart, x, y))
		g.data = append(g.data, watchData(name, u.Chart)...)
		if len(said) < 3 {
			k := u.Chart.Known
			said = append(said, fmt.Sprintf("%s: by %s %d revised, %s expected; the chart %s.", title, dateOf(k.Day).Format("2 January 2006"), k.Observed, oneDecimal(k.Expected), touches(len(u.Chart.Stretches))))
		}
	}
	g.Alternative = strings.Join(said, " ")
	g.Notes = []string{
		fmt.Sprintf("Grey: where chance alone leaves the difference on any one day, in %s of 100. A line that is watched for years strays out of it on some day more often.", strconv.FormatFloat(100*w.Units[0].Chart.Level, 'f', -1, 64)),
		fmt.Sprintf("Heavy, with a ring where it begins: the cumulative sum stood on its line, which chance alone makes it do at any time in %.0f of 100 such periods.", 100*w.Chance),
		"After the dashed line not all revisions are known yet; those still to come would raise the curve.",
	}
	return g.stacked(o.Width, set), nil
}

func touches(n int) string {
	switch n {
	case 0:
		return "did not touch its line"
	case 1:
		return "touched its line"
	}
	return fmt.Sprintf("touched its line %d times", n)
}

func dateOf(day int32) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

// dateScale is an axis of calendar days, with ticks at the beginnings of years.
func dateScale(first, last int32) scale {
	s := scale{from: float64(first), to: float64(max(last, first+1))}
	from, to := dateOf(first).Year(), dateOf(last).Year()
	step := 1
	for (to-from)/step > 5 {
		step++
	}
	for year := from; year <= to; year++ {
		at := float64(time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC).Unix() / 86400)
		if at >= s.from && at <= s.to && (year-from)%step == 0 {
			s.ticks = append(s.ticks, tick{at, strconv.Itoa(year)})
		}
	}
	return s
}

// signedScale is an axis around 0.
func signedScale(low, high float64) scale {
	step := 1.0
	for _, step = range []float64{1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000} {
		if (high-low)/step <= 6 {
			break
		}
	}
	s := scale{from: step * math.Floor(low/step), to: step * math.Ceil(high/step)}
	for at := s.from; at <= s.to+step/2; at += step {
		label := strconv.FormatFloat(math.Abs(at), 'f', -1, 64)
		switch {
		case at < 0:
			label = "−" + label
		case at > 0:
			label = "+" + label
		}
		s.ticks = append(s.ticks, tick{at, label})
	}
	return s
}

func watchPanel(title string, c *monitor.Chart, x, y scale) *panel {
	q := &panel{name: title, after: counted(float64(c.Joints)) + " joints", style: labelText, axes: axes{x: x, y: y}, yTitle: "observed − expected", area: 110}
	q.draw = func(p *pen, a axes) { drawWatch(p, a, c) }
	return q
}

func drawWatch(p *pen, a axes, c *monitor.Chart) {
	var above, below []vg.Point
	for _, pt := range c.Points {
		day := float64(pt.Day)
		above = append(above, a.at(day, float64(pt.High)-pt.Expected))
		below = append([]vg.Point{a.at(day, float64(pt.Low)-pt.Expected)}, below...)
	}
	p.named("chance", func() { p.fill(bandInk, a.clipArea(append(above, below...))...) })
	p.named("reference", func() {
		p.line(stroke{ink: dark, width: .6}, a.at(a.x.from, 0), a.at(a.x.to, 0))
		if c.Complete > c.From && c.Complete < c.Through {
			p.line(stroke{ink: dark, width: .6, dashes: []vg.Length{3, 2}}, a.at(float64(c.Complete), a.y.from), a.at(float64(c.Complete), a.y.to))
		}
	})
	p.named("excess", func() {
		for _, part := range a.clipLine(watchLine(a, c, c.From, c.Through)) {
			p.line(stroke{ink: ownInk, width: 1.1}, part...)
		}
	})
	p.named("on the line", func() {
		for _, s := range c.Stretches {
			line := watchLine(a, c, s.Touched, s.Until)
			for _, part := range a.clipLine(line) {
				p.line(stroke{ink: ownInk, width: 2.6}, part...)
			}
			if len(line) > 0 {
				p.marker(circle, line[0], 3, white, ownInk)
			}
		}
	})
}

// watchLine is the difference from one day to another: it falls as revisions are
// expected and rises on the day of one.
func watchLine(a axes, c *monitor.Chart, from, to int32) []vg.Point {
	var line []vg.Point
	before := 0
	for _, pt := range c.Points {
		if pt.Day >= from && pt.Day <= to {
			if pt.Observed != before && len(line) > 0 {
				line = append(line, a.at(float64(pt.Day), float64(before)-pt.Expected))
			}
			line = append(line, a.at(float64(pt.Day), pt.Excess()))
		}
		before = pt.Observed
	}
	return line
}

func watchData(name string, c *monitor.Chart) [][]string {
	var all [][]string
	for _, r := range c.Rows() {
		all = append(all, []string{text.Protect(name), r.Day, audit.Number(r.Excess),
			audit.Number(float64(r.Low) - r.Expected), audit.Number(float64(r.High) - r.Expected), strconv.FormatBool(r.OnLine)})
	}
	return all
}
