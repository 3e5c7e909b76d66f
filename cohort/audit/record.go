package audit

import (
	"bytes"
	"cmp"
	"encoding/json"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
)

// record is one row of an output: named values, in order. CSV and JSON are
// written from it.
type record []entry

// entry is a named value. The empty one is not defined: an empty cell, null.
type entry struct {
	name   string
	value  string
	number bool     // value is a number, or Hidden
	list   []string // a list in JSON, joined in a cell; instead of a value
	nested any      // in JSON alone
}

func (r *record) text(name, value string) { *r = append(*r, entry{name: name, value: value}) }
func (r *record) number(name, value string) {
	*r = append(*r, entry{name: name, value: value, number: true})
}
func (r *record) codes(name string, list []string) {
	*r = append(*r, entry{name: name, list: slices.Clip(append([]string{}, list...))})
}

func (r *record) nested(name string, value any) {
	*r = append(*r, entry{name: name, nested: value})
}

func names(r record) []string {
	all := make([]string, 0, len(r))
	for _, e := range r {
		all = append(all, text.Protect(e.name))
	}
	return all
}

func cells(r record) []string { return appendCells(make([]string, 0, len(r)), r) }

func appendCells(all []string, r record) []string {
	for _, e := range r {
		switch {
		case e.nested != nil:
		case e.list != nil:
			all = append(all, text.Protect(strings.Join(e.list, "; ")))
		case e.number:
			all = append(all, e.value)
		default:
			all = append(all, text.Protect(e.value))
		}
	}
	return all
}

// MarshalJSON writes an object with the names in their order.
func (r record) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	b.WriteByte('{')
	for i, x := range r {
		if i > 0 {
			b.WriteByte(',')
		}
		if err := e.Encode(x.name); err != nil {
			return nil, err
		}
		b.WriteByte(':')
		switch {
		case x.nested != nil:
			if err := e.Encode(x.nested); err != nil {
				return nil, err
			}
		case x.list != nil:
			if err := e.Encode(x.list); err != nil {
				return nil, err
			}
		case x.value == "":
			b.WriteString("null")
		case x.number:
			b.WriteString(x.value)
		default:
			if err := e.Encode(x.value); err != nil {
				return nil, err
			}
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// with is a row of the comparisons with values of its own, in which All stays and all else
// is empty.
func (r record) with(set map[string]string) record {
	r = slices.Clone(r)
	for i := range r {
		if value, there := set[r[i].name]; there || r[i].value != "All" {
			r[i].value = value
		}
		if r[i].list != nil {
			r[i].list = []string{}
		}
	}
	return r
}

// values are a group's words by field.
func (g *Group) record() record {
	r := make(record, 0, len(g.Values))
	for _, v := range g.Values {
		r.text(v.Field, v.Word)
	}
	return r
}

// whole adds what a group's whole follow-up comes to.
func (a *Audit) whole(r *record, g *Group) {
	r.number("joints", Count(g.Joints))
	r.number("patients", known(g.Patients != -1, Count(g.Patients)))
	r.number("revised", Count(g.Revised))
	r.number("died", known(a.Deaths.Recorded, Count(g.Died))) // 0 would read as if nobody had died
	r.number("implant_years", Number(g.ImplantYears))
	r.number("rate_per_100", Number(g.Rate.Rate))
	r.number("rate_lower", Number(g.Rate.Lower))
	r.number("rate_upper", Number(g.Rate.Upper))
}

func known(there bool, value string) string {
	if there {
		return value
	}
	return ""
}

// estimates adds those of a group at one time.
func (a *Audit) estimates(r *record, row *Row) {
	k, f := row.KaplanMeier, row.Incidence
	atRisk := "0"
	if row.Reached {
		atRisk = Number(k.AtRisk)
	}
	r.number("at_risk", atRisk)
	r.number("revised_so_far", known(row.Reached, Number(k.Events)))
	for _, x := range []struct {
		name  string
		value float64
	}{{"km_pct", k.Estimate}, {"km_se_pct", k.SE}, {"km_lower_pct", k.Lower}, {"km_upper_pct", k.Upper}} {
		r.number(x.name, known(row.Reached, percentage(x.value)))
	}
	for _, x := range []struct {
		name  string
		value float64
	}{{"incidence_pct", f.Estimate}, {"incidence_se_pct", f.SE}, {"incidence_lower_pct", f.Lower}, {"incidence_upper_pct", f.Upper}} {
		r.number(x.name, known(!row.IncidenceEmpty, percentage(x.value)))
	}
}

// published adds the 1-KM figures read at one time of a group.
func (a *Audit) published(r *record, row *Row) {
	figures, together := row.Read(benchmark.OneMinusKaplanMeier)
	least, most := math.NaN(), math.NaN()
	var series []*benchmark.Series
	origin, reading := "", ""
	for _, b := range figures {
		least, most = lower(least, b.Figure.Revision), higher(most, b.Figure.Revision)
		series = append(series, b.Series)
		origin = b.origin()
	}
	if together != nil {
		reading = together.Code()
	}
	r.number("published_figures", known(len(figures) > 0, Count(int64(len(figures)))))
	r.number("published_registers", known(len(figures) > 0, Count(int64(benchmark.Registers(series)))))
	r.number("published_least_pct", percentage(least))
	r.number("published_most_pct", percentage(most))
	r.text("published_origin", origin)
	r.text("reading", reading)
}

func lower(a, b float64) float64 {
	if a != a {
		return b
	}
	return min(a, b)
}

func higher(a, b float64) float64 {
	if a != a {
		return b
	}
	return max(a, b)
}

// origin is file or built-in.
func (b *Beside) origin() string {
	if b.Series.User {
		return "file"
	}
	return "built-in"
}

// columnsOfRow is how many columns a row has at least, beside the words of its group.
const columnsOfRow = 32

// row is a group at one time, of whose whole follow-up what there is to say is given.
func (a *Audit) row(r record, words, whole record, row *Row) record {
	r = append(r, words...)
	r.number("years", Number(row.Years))
	r = append(r, whole...)
	a.estimates(&r, row)
	a.published(&r, row)
	r.codes("notes", row.Notes)
	return r
}

// unstatable are the fields grouped by that no series can state.
func (a *Audit) unstatable() []string {
	return slices.DeleteFunc(slices.Clone(a.By), func(f string) bool { return slices.Contains(Statable(), f) })
}

// comparisons are published figures and the own joints of their kinds, sums over the
// parts of groups, and units beside their department. In JSON they have citations.
func (a *Audit) comparisons(by []string) []record {
	var all []record
	for _, b := range slices.Concat(a.Beside, a.Unmet) {
		all = append(all, a.comparison(b, by).cited(b.Series))
	}
	bare := a.comparison(&Beside{Series: &benchmark.Series{}}, by)
	for i := range a.Groups {
		g := &a.Groups[i]
		for _, s := range g.Sums {
			if s.Instead && g.Pooling != Cell {
				all = append(all, s.record(g, bare).cited(s.Series))
			}
		}
	}
	for _, u := range a.Department {
		all = append(all, u.record(bare).cited(&benchmark.Series{}))
	}
	return all
}

// cited is a row with the citation of its series, in JSON alone.
func (r record) cited(s *benchmark.Series) record {
	r.nested("citation", word(s.Citation))
	return r
}

// comparison is a published figure and the own joints of its kind.
func (a *Audit) comparison(b *Beside, by []string) record {
	r := slices.Concat(b.kind(by), a.ownBeside(b), b.source(), a.difference(b), a.reading(b), b.expectation())
	var notes []string
	if b.Comparison != nil {
		notes = b.Comparison.Notes.Codes()
	}
	if b.Assumed {
		notes = append(notes, noteAssumed)
	}
	r.codes("notes", notes)
	return r
}

// kind is which own joints a figure stands beside.
func (b *Beside) kind(by []string) record {
	s := b.Series
	var r record
	r.text("joint", b.Joint)
	r.text("procedure", b.Procedure)
	for _, x := range [][2]string{{"bearing", s.Bearing}, {"polyethylene", s.Polyethylene}, {"fixation", s.Fixation},
		{"age_band", s.Age.String()}, {"sex", s.Sex}, {"diagnosis", s.Diagnosis}} {
		r.text(x[0], cmp.Or(wordOf(b.Group, x[0]), x[1], "All"))
	}
	for _, field := range by {
		r.text(field, cmp.Or(wordOf(b.Within, field), "All"))
	}
	return r
}

// wordOf is the word of a field among values; "" for all, or none of it.
func wordOf(values []Value, field string) string {
	for _, v := range values {
		if v.Field == field && !v.All {
			return v.Word
		}
	}
	return ""
}

// ownBeside are the own joints beside a figure, and how they match.
func (a *Audit) ownBeside(b *Beside) record {
	var r record
	r.number("joints", Count(b.Joints))
	r.number("revised", Count(b.Revised))
	r.number("not_recorded", Count(b.NotRecorded))
	r.number("years", Number(b.Figure.Years))
	r.text("estimand", b.Series.Estimand.String())
	r.text("origin", b.origin())
	r.text("match", string(b.Match))
	r.text("reason", b.Reason)
	a.compared(&r, b.Comparison, "own_pct", func(c *benchmark.Comparison) float64 { return c.Own.Estimate })
	a.compared(&r, b.Comparison, "own_lower_pct", func(c *benchmark.Comparison) float64 { return c.Own.Lower })
	a.compared(&r, b.Comparison, "own_upper_pct", func(c *benchmark.Comparison) float64 { return c.Own.Upper })
	atRisk := "0"
	if c := b.Comparison; c != nil && c.Reached {
		atRisk = Number(c.Own.AtRisk)
	}
	r.number("at_risk", atRisk)
	return r
}

// compared is a proportion of a comparison whose own estimate is there.
func (a *Audit) compared(r *record, c *benchmark.Comparison, name string, value func(*benchmark.Comparison) float64) {
	text := ""
	if c != nil && c.Reached {
		text = percentage(value(c))
	}
	r.number(name, text)
}

// source is what is published.
func (b *Beside) source() record {
	s, f := b.Series, b.Figure
	var r record
	r.text("source", s.Source)
	r.text("register", s.Register)
	r.text("country", s.Country)
	r.text("setting", s.Setting.String())
	r.text("subset", s.Subset)
	r.number("period_from", calendar(s.PeriodFrom))
	r.number("period_to", calendar(s.PeriodTo))
	r.text("covers", f.Covers)
	r.number("published_pct", percentage(f.Revision))
	r.number("published_lower_pct", percentage(f.Lower))
	r.number("published_upper_pct", percentage(f.Upper))
	r.number("level", Number(cmp.Or(f.Level, 0.95)))
	return r
}

// difference is own less published.
func (a *Audit) difference(b *Beside) record {
	var r record
	a.compared(&r, b.Comparison, "difference_pct", func(c *benchmark.Comparison) float64 { return c.Difference })
	a.compared(&r, b.Comparison, "difference_lower_pct", func(c *benchmark.Comparison) float64 { return c.DifferenceLower })
	a.compared(&r, b.Comparison, "difference_upper_pct", func(c *benchmark.Comparison) float64 { return c.DifferenceUpper })
	return r
}

// reading is what is read of a figure alone, and with those of the same joints.
func (a *Audit) reading(b *Beside) record {
	c := b.Comparison
	reading, with, together, sides := "", "", "", ""
	if b.Read() {
		reading, with, together = c.Reading.String(), Count(int64(b.ReadWith)), b.Together.Code()
		if b.First {
			sides = Count(int64(b.Together.Sides))
		}
	}
	if b.Match == AThreshold {
		reading = c.Words()
	}
	var r record
	r.text("reading", reading)
	r.number("read_with", with)
	r.text("together", together)
	r.number("sides", sides)
	return r
}

// expectation is observed and expected by a figure's series.
func (b *Beside) expectation() record {
	var e benchmark.Ratio
	there := b.Ratio != nil
	if there {
		e = *b.Ratio
	}
	var r record
	r.number("observed", known(there, Number(e.Observed)))
	r.number("expected", known(there, Number(e.Expected)))
	r.number("expected_to_years", known(there, Number(e.ToYears)))
	r.number("joints_counted", known(there, Count(e.Joints)))
	r.number("interpolation_pct", known(there, percentage(e.Interpolation)))
	r.number("ratio", known(there, Number(e.Ratio)))
	r.number("ratio_lower", known(there, Number(e.Lower)))
	r.number("ratio_upper", known(there, Number(e.Upper)))
	return r
}

// calendar is a year of a published period; empty where not stated.
func calendar(year int) string { return known(year != 0, Number(float64(year))) }
