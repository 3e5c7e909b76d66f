package audit

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
	"strings"

	"example.org/holdfast/cohort/benchmark"
)

// csvAfterGroup are the columns after joint, procedure and the fields.
var csvAfterGroup = []string{
	"years", "joints", "patients", "revised", "died", "implant_years",
	"rate_per_100", "rate_lower", "rate_upper", "at_risk", "revised_so_far",
	"km_pct", "km_se_pct", "km_lower_pct", "km_upper_pct",
	"incidence_pct", "incidence_se_pct", "incidence_lower_pct", "incidence_upper_pct",
	"published_pct", "published_lower_pct", "published_upper_pct", "published_estimand", "published_source",
	"difference_pct", "difference_lower_pct", "difference_upper_pct", "reading",
	"observed", "expected", "expected_to_years", "ratio", "ratio_lower", "ratio_upper", "expected_source", "notes",
}

// Columns are the columns of [WriteCSV] for the given fields.
func Columns(by []string) []string {
	return append(append([]string{"joint", "procedure"}, by...), csvAfterGroup...)
}

// WriteCSV writes one row per group and year, UTF-8 with LF line ends, numbers
// in their shortest form that reads back to the same value, and empty cells
// where something is not defined. A heading or text cell that a spreadsheet
// would take for a formula gets a leading apostrophe.
//
// joints, patients, revised, died, implant_years and the rate are of the
// group's whole follow-up; observed, expected and ratio of its follow-up to
// expected_to_years; both stand on each of its rows. A threshold fills the
// published columns only where no published estimate does.
//
// Numbers that a shared audit hides are [Hidden].
func WriteCSV(w io.Writer, a *Audit) error {
	cw := csv.NewWriter(w)
	headings := Columns(a.By)
	for i := range headings {
		headings[i] = Protect(headings[i])
	}
	if err := cw.Write(headings); err != nil {
		return err
	}
	for i := range a.Groups {
		g := &a.Groups[i]
		for j := range g.Rows {
			if err := cw.Write(record(a, g, &g.Rows[j])); err != nil {
				return err
			}
		}
	}
	cw.Flush()
	return cw.Error()
}

// record is one row of the CSV.
func record(a *Audit, g *Group, r *Row) []string {
	var cells []string
	text := func(s string) { cells = append(cells, Protect(s)) }
	number := func(xs ...float64) {
		for _, x := range xs {
			cells = append(cells, a.number(x))
		}
	}
	count := func(n int64) { cells = append(cells, Count(n)) }
	pct := func(xs ...float64) {
		for _, x := range xs {
			cells = append(cells, a.percentage(x))
		}
	}
	empty := func(n int) { cells = append(cells, make([]string, n)...) }

	for _, v := range g.Values {
		text(v.Word)
	}
	number(r.Years)
	count(g.Joints)
	if g.Patients == -1 {
		empty(1)
	} else {
		count(g.Patients)
	}
	count(g.Revised)
	if a.Deaths.Recorded {
		count(g.Died)
	} else {
		empty(1) // 0 would read as if nobody had died
	}
	number(g.ImplantYears, g.Rate.Rate, g.Rate.Lower, g.Rate.Upper)

	if k := r.KaplanMeier; r.Reached {
		number(k.AtRisk, k.Events)
		pct(k.Estimate, k.SE, k.Lower, k.Upper)
	} else {
		number(0)
		empty(5)
	}
	if f := r.Incidence; !r.IncidenceEmpty {
		pct(f.Estimate, f.SE, f.Lower, f.Upper)
	} else {
		empty(4)
	}

	c := r.Comparison
	if c == nil {
		c = r.Threshold
	}
	if c == nil {
		empty(9)
	} else {
		cells = append(cells, percentage(c.Figure.Revision), percentage(c.Figure.Lower), percentage(c.Figure.Upper))
		text(c.Series.Estimand.String())
		text(c.Series.Source)
		if a.hides(c) {
			cells = append(cells, Hidden, Hidden, Hidden, Hidden)
		} else {
			cells = append(cells, percentage(c.Difference), percentage(c.DifferenceLower), percentage(c.DifferenceUpper))
			text(c.Reading.String())
		}
	}
	if e := g.Expected; e == nil {
		empty(7)
	} else {
		number(e.Observed, e.Expected, e.ToYears, e.Ratio, e.Lower, e.Upper)
		text(e.Series.Source)
	}
	text(strings.Join(r.Notes, "; "))
	return cells
}

// Number is the shortest decimal form that reads back to x; empty for NaN.
func Number(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return ""
	}
	if x == 0 {
		x = 0 // no minus sign
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// percentage is a proportion in percent, as Number writes numbers, in the digits
// of the proportion.
func percentage(p float64) string {
	if math.IsInf(p, 0) {
		return ""
	}
	return benchmark.Percent(p)
}

// number is a number of one's own as it is written: in a shared audit one that
// is not a number is hidden.
func (a *Audit) number(x float64) string {
	if a.Shared != nil && math.IsNaN(x) {
		return Hidden
	}
	return Number(x)
}

func (a *Audit) percentage(p float64) string {
	if a.Shared != nil && math.IsNaN(p) {
		return Hidden
	}
	return percentage(p)
}

// hides says that a comparison's own estimate, and with it the reading, is
// hidden.
func (a *Audit) hides(c *benchmark.Comparison) bool {
	return a.Shared != nil && c.Reached && math.IsNaN(c.Own.Estimate)
}

// Protect keeps a spreadsheet from running a text cell as a formula: one that
// starts with = + - @, a tab or a carriage return gets a leading apostrophe.
func Protect(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		return "'" + s
	}
	return s
}
