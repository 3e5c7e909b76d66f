package audit

import (
	"bytes"
	"cmp"
	"encoding/json"
	"math"
	"slices"
	"unicode/utf8"

	"example.org/holdfast/cohort/benchmark"
)

// record is one row of an output: named values, in order. CSV and JSON are
// written from it.
type record []entry

// entry is a named value. A text that is empty and a number that is NaN are not
// defined: an empty cell, null.
type entry struct {
	name   string
	form   form
	text   string
	value  float64  // of a number or a proportion
	list   []string // a list in JSON, joined in a cell
	nested []record // of an object, or of several
}

type form uint8

const (
	aText form = iota
	aNumber
	aProportion // written in percent
	aList
	isObject  // the first of nested, in JSON alone, as are
	isObjects // all of nested,
	isRemark  // and a text
	isCells   // text is cells of CSV as they are written, in CSV alone
)

func (r *record) text(name, s string) { *r = append(*r, entry{name: name, text: s}) }

func (r *record) number(name string, x float64) {
	*r = append(*r, entry{name: name, form: aNumber, value: x})
}

func (r *record) proportion(name string, p float64) {
	*r = append(*r, entry{name: name, form: aProportion, value: p})
}

func (r *record) codes(name string, list []string) {
	*r = append(*r, entry{name: name, form: aList, list: list})
}

func (r *record) object(name string, of record) {
	*r = append(*r, entry{name: name, form: isObject, nested: []record{of}})
}

func (r *record) objects(name string, of []record) {
	*r = append(*r, entry{name: name, form: isObjects, nested: of})
}

func (r *record) remark(name, s string) {
	*r = append(*r, entry{name: name, form: isRemark, text: s})
}

// appendNumber adds a number or proportion; nothing if it is not defined.
func (e *entry) appendNumber(b []byte) []byte {
	switch {
	case math.IsNaN(e.value) || math.IsInf(e.value, 0):
		return b
	case e.form == aProportion:
		return benchmark.AppendPercent(b, e.value)
	}
	return appendNumber(b, e.value)
}

func names(r record) []string {
	all := make([]string, 0, len(r))
	for _, e := range r {
		all = append(all, e.name)
	}
	return all
}

// MarshalJSON writes an object with the names in their order.
func (r record) MarshalJSON() ([]byte, error) { return r.appendJSON(nil, ""), nil }

// appendJSON adds the object as [json.Indent] writes it, with a line each, behind a line's
// beginning.
func (r record) appendJSON(b []byte, line string) []byte {
	return appendLines(b, "{}", line, r, func(b []byte, line string, x entry) []byte {
		b = append(appendText(b, x.name), ": "...)
		from := len(b)
		switch x.form {
		case aText, isRemark:
			if x.text != "" {
				b = appendText(b, x.text)
			}
		case aNumber, aProportion:
			b = x.appendNumber(b)
		case aList:
			b = appendLines(b, "[]", line, x.list, func(b []byte, _, s string) []byte { return appendText(b, s) })
		case isObject:
			b = x.nested[0].appendJSON(b, line)
		case isObjects:
			b = appendLines(b, "[]", line, x.nested, func(b []byte, line string, r record) []byte { return r.appendJSON(b, line) })
		}
		if len(b) == from {
			b = append(b, "null"...)
		}
		return b
	})
}

// appendLines adds the members of an object or a list, between brackets.
func appendLines[T any](b []byte, brackets, line string, of []T, add func(b []byte, line string, x T) []byte) []byte {
	b = append(b, brackets[0])
	for i, x := range of {
		if i > 0 {
			b = append(b, ',')
		}
		b = add(append(append(append(b, '\n'), line...), ' '), line+" ", x)
	}
	if len(of) > 0 {
		b = append(append(b, '\n'), line...)
	}
	return append(b, brackets[1])
}

// appendText adds a text as JSON has it. What stands in most needs no look at how.
func appendText(b []byte, s string) []byte {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c >= utf8.RuneSelf || c == '"' || c == '\\' {
			var of bytes.Buffer
			e := json.NewEncoder(&of)
			e.SetEscapeHTML(false)
			e.Encode(s) // to memory, and a text: without an error
			return append(b, bytes.TrimSuffix(of.Bytes(), []byte("\n"))...)
		}
	}
	return append(append(append(b, '"'), s...), '"')
}

// with is a row of the comparisons with values of its own, in which All stays and all else
// is empty.
func (r record) with(own record) record {
	r = slices.Clone(r)
	for i := range r {
		at := slices.IndexFunc(own, func(e entry) bool { return e.name == r[i].name })
		switch {
		case at >= 0:
			r[i] = own[at]
		case r[i].text != "All":
			r[i] = entry{name: r[i].name, form: r[i].form, value: math.NaN()}
		}
	}
	return r
}

// values are a group's words by field.
func (g *Group) record() record {
	r := make(record, 0, len(g.Values))
	for _, v := range g.Values {
		r.text(v.Field, v.told())
	}
	return r
}

// allTyped is a value that says "All" itself, which stands for what is pooled.
const allTyped = "“All”"

// told is a value as it stands in a file.
func (v Value) told() string {
	if !v.All && v.Word == "All" {
		return allTyped
	}
	return v.Word
}

// whole adds what a group's whole follow-up comes to.
func (a *Audit) whole(r *record, g *Group) {
	r.number("joints", float64(g.Joints))
	r.number("patients", known(g.Patients != -1, float64(g.Patients)))
	r.number("revised", float64(g.Revised))
	r.number("died", known(a.Deaths.Recorded, float64(g.Died))) // 0 would read as if nobody had died
	r.number("implant_years", g.ImplantYears)
	r.number("rate_per_100", g.Rate.Rate)
	r.number("rate_lower", g.Rate.Lower)
	r.number("rate_upper", g.Rate.Upper)
}

// known is a number that is not defined unless it is there.
func known(there bool, x float64) float64 {
	if there {
		return x
	}
	return math.NaN()
}

// estimates adds those of a group at one time.
func (a *Audit) estimates(r *record, row *Row) {
	k, f := &row.KaplanMeier, &row.Incidence
	atRisk := 0.0
	if row.Reached {
		atRisk = k.AtRisk
	}
	r.number("at_risk", atRisk)
	r.number("revised_so_far", known(row.Reached, k.Events))
	for _, x := range []struct {
		name  string
		value float64
	}{{"km_pct", k.Estimate}, {"km_se_pct", k.SE}, {"km_lower_pct", k.Lower}, {"km_upper_pct", k.Upper}} {
		r.proportion(x.name, known(row.Reached, x.value))
	}
	for _, x := range []struct {
		name  string
		value float64
	}{{"incidence_pct", f.Estimate}, {"incidence_se_pct", f.SE}, {"incidence_lower_pct", f.Lower}, {"incidence_upper_pct", f.Upper}} {
		r.proportion(x.name, known(!row.IncidenceEmpty, x.value))
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
	r.number("published_figures", known(len(figures) > 0, float64(len(figures))))
	r.number("published_registers", known(len(figures) > 0, float64(benchmark.Registers(series))))
	r.proportion("published_least_pct", least)
	r.proportion("published_most_pct", most)
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
	r.number("years", row.Years)
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
	r.remark("citation", s.Citation)
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
			return v.told()
		}
	}
	return ""
}

// ownBeside are the own joints beside a figure, and how they match.
func (a *Audit) ownBeside(b *Beside) record {
	var r record
	r.number("joints", float64(b.Joints))
	r.number("revised", float64(b.Revised))
	r.number("not_recorded", float64(b.NotRecorded))
	r.number("years", b.Figure.Years)
	r.text("estimand", b.Series.Estimand.String())
	r.text("origin", b.origin())
	r.text("match", string(b.Match))
	r.text("reason", b.Reason)
	a.compared(&r, b.Comparison, "own_pct", func(c *benchmark.Comparison) float64 { return c.Own.Estimate })
	a.compared(&r, b.Comparison, "own_lower_pct", func(c *benchmark.Comparison) float64 { return c.Own.Lower })
	a.compared(&r, b.Comparison, "own_upper_pct", func(c *benchmark.Comparison) float64 { return c.Own.Upper })
	atRisk := 0.0
	if c := b.Comparison; c != nil && c.Reached {
		atRisk = c.Own.AtRisk
	}
	r.number("at_risk", atRisk)
	return r
}

// compared is a proportion of a comparison whose own estimate is there.
func (a *Audit) compared(r *record, c *benchmark.Comparison, name string, value func(*benchmark.Comparison) float64) {
	p := math.NaN()
	if c != nil && c.Reached {
		p = value(c)
	}
	r.proportion(name, p)
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
	r.proportion("published_pct", f.Revision)
	r.proportion("published_lower_pct", f.Lower)
	r.proportion("published_upper_pct", f.Upper)
	r.number("level", cmp.Or(f.Level, 0.95))
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
	reading, together, with, sides := "", "", math.NaN(), math.NaN()
	if b.Read() {
		reading, together, with = c.Reading.String(), b.Together.Code(), float64(b.ReadWith)
		if b.First {
			sides = float64(b.Together.Sides)
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
	r.number("observed", known(there, e.Observed))
	r.number("expected", known(there, e.Expected))
	r.number("expected_to_years", known(there, e.ToYears))
	r.number("joints_counted", known(there, float64(e.Joints)))
	r.proportion("interpolation_pct", known(there, e.Interpolation))
	r.number("ratio", known(there, e.Ratio))
	r.number("ratio_lower", known(there, e.Lower))
	r.number("ratio_upper", known(there, e.Upper))
	return r
}

// calendar is a year of a published period; empty where not stated.
func calendar(year int) float64 { return known(year != 0, float64(year)) }
