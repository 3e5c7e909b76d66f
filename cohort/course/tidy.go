package course

import (
	"io"
	"math"

	"example.org/holdfast/cohort/internal/tidy"
	"example.org/holdfast/survival"
)

// Row is one number of a course. What there is not is NaN or "".
type Row struct {
	Joint, Procedure        string
	Item                    string  // see WriteCSV
	Of                      string  // the reason, or the period
	Years                   float64 // since the operation or the first revision
	AtRisk, Revised         float64
	Value, SE, Lower, Upper float64
}

// Rows are a course's numbers, for files.
func (k *Course) Rows() []Row {
	var all []Row
	for i := range k.Parts {
		p := &k.Parts[i]
		nan := math.NaN()
		add := func(item, of string, years float64, x survival.Point) {
			all = append(all, Row{p.Joint, p.Procedure, item, of, years, x.AtRisk, x.Events, x.Estimate, x.SE, x.Lower, x.Upper})
		}
		for _, pt := range p.Points {
			if !pt.Reached {
				continue
			}
			for n, r := range p.Reasons {
				add("incidence", r.Word, pt.Years, pt.Reasons[n])
			}
			add("died first", "", pt.Years, pt.Death)
			add("free", "", pt.Years, pt.Free)
		}
		for _, r := range p.Rates {
			all = append(all, Row{p.Joint, p.Procedure, "rate", r.Title, nan, r.PersonTime, r.Events, r.Rate.Rate, nan, r.Lower, r.Upper})
		}
		if p.Again != nil {
			for n, x := range p.Again.Points {
				add("revised again", "", p.Again.Years[n], x)
			}
		}
		if p.Smoothed != nil {
			for _, x := range p.Smoothed.Point {
				const year = 365.25
				all = append(all, Row{p.Joint, p.Procedure, "smoothed hazard", "", x.Time / year, nan, nan, 100 * year * x.Estimate, 100 * year * x.SE, 100 * year * x.Lower, 100 * year * x.Upper})
			}
		}
	}
	return all
}

// written are a course's rows as they are written.
func (k *Course) written() []tidy.Row {
	rows := []tidy.Row{}
	for _, r := range k.Rows() {
		rows = append(rows, r.tidy())
	}
	return rows
}

func (r Row) tidy() tidy.Row {
	return tidy.Row{}.Text("joint", r.Joint).Text("procedure", r.Procedure).Text("item", r.Item).Text("of", r.Of).Number("years", r.Years).
		Number("at_risk", r.AtRisk).Number("revised", r.Revised).Number("value", r.Value).Number("se", r.SE).Number("lower", r.Lower).Number("upper", r.Upper)
}

// Columns are the columns of WriteCSV.
func Columns() []string { return Row{}.tidy().Columns() }

// WriteCSV writes one row per number, UTF-8 with LF line ends, numbers in their
// shortest form that reads back to the same value, and empty cells where something
// is not defined. The items:
//
//	incidence        of the reason in of, a proportion; revised counts those so far
//	died first       the proportion dead and never revised
//	free             the proportion alive and not revised
//	rate             revisions per 100 implant-years in the period in of; at_risk is implant-years
//	revised again    one minus Kaplan–Meier, years since the first revision
//	smoothed hazard  revisions per 100 implant-years
//
// A text cell that a spreadsheet would take for a formula gets a leading apostrophe.
func WriteCSV(w io.Writer, k *Course) error { return tidy.WriteCSV(w, Columns(), k.written()) }

// WriteJSON writes a course as one JSON object, with the names of the CSV. What is
// not defined is null.
func WriteJSON(w io.Writer, k *Course) error {
	return tidy.WriteJSON(w, struct {
		Level    float64    `json:"level"`
		Rows     []tidy.Row `json:"rows"`
		Method   []string   `json:"method"`
		Cautions []string   `json:"cautions"`
	}{k.level(), k.written(), k.Method, k.Cautions})
}

// method says in words how the numbers were made.
func method(k *Course, o Options) []string {
	m := []string{
		"Event: first revision, any operation that adds, removes or exchanges a component. Unit: the joint. Time: whole days from operation; a year is 365.25 days.",
		"By reason: cumulative incidence (Aalen–Johansen), the other reasons and death competing, so that all add up to 100 %. It is what happened to these patients, not what the implant would do if nobody died.",
		"Rates: revisions per 100 implant-years with exact Poisson limits, by time since operation; a day on a bound is before it.",
		"After the first revision: one minus Kaplan–Meier of the next recorded revision, with death ending follow-up.",
	}
	if o.Smooth {
		m = append(m, "Smoothed hazard: kernel of Epanechnikov with the boundary kernels of Müller and Wang (1994), up to the last day with 10 at risk.")
	}
	return m
}

func cautions() []string {
	return []string{
		"A description of one practice's own table, not a verdict on it. Small numbers; revisions done elsewhere may be missing, and a reason is as good as its record.",
		"Not a basis for a decision about one patient. It does not replace the national registry, the department's governance, or licensed clinical judgement.",
	}
}
