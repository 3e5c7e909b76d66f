package plan

import (
	"io"
	"math"

	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/tidy"
)

// NoteFew: with so few joints nothing is read.
const NoteFew = "fewer than 10: nothing is read"

// row is one number; what there is not is NaN or "".
type row struct {
	joint, procedure, item, source                      string
	years, joints, revised, published, lower, upper     float64
	truth, ratio, perYear, dying, after, bound, numbers float64
	notes                                               []string
}

func (r row) tidy() tidy.Row {
	return tidy.Row{}.Text("joint", r.joint).Text("procedure", r.procedure).Text("item", r.item).Number("years", r.years).Number("joints", r.joints).
		Number("revised", r.revised).Text("source", r.source).Number("published", r.published).Number("published_lower", r.lower).Number("published_upper", r.upper).
		Number("bound", r.bound).Number("truth", r.truth).Number("ratio", r.ratio).Number("per_year", r.perYear).Number("dying", r.dying).Number("after_years", r.after).
		Number("value", r.numbers).Notes("notes", r.notes)
}

func newRow(item string, years, value float64) row {
	nan := math.NaN()
	return row{item: item, years: years, numbers: value, joints: nan, revised: nan, published: nan, lower: nan, upper: nan, truth: nan, ratio: nan, perYear: nan, dying: nan, after: nan, bound: nan}
}

// rows are a plan's numbers.
func (p *Plan) rows() []tidy.Row {
	rows := []tidy.Row{}
	for _, part := range p.Parts {
		for _, b := range part.Beside {
			for _, r := range b.rows() {
				r.joint, r.procedure = part.Joint, part.Procedure
				rows = append(rows, r.tidy())
			}
		}
		for _, truth := range part.When {
			for _, c := range truth.Chances {
				r := newRow("bound shown", p.Years, c.Shown)
				r.joint, r.procedure, r.bound, r.truth, r.after, r.perYear, r.dying = part.Joint, part.Procedure, p.Bound, truth.Revision, float64(c.Year), part.PerYear, part.Dying
				rows = append(rows, r.tidy())
			}
		}
	}
	for _, w := range p.With {
		r := newRow("joints that show the bound", p.Years, float64(w.Joints))
		r.bound, r.revised = p.Bound, float64(w.Revised)
		rows = append(rows, r.tidy())
	}
	for _, n := range p.Needed {
		r := newRow("joints needed", p.Years, float64(n.Joints))
		r.bound, r.truth = p.Bound, n.Revision
		rows = append(rows, r.tidy())
	}
	return rows
}

func (b Beside) rows() []row {
	of := func(item string, value float64) row {
		r := newRow(item, b.Figure.Years, value)
		r.joints, r.published = float64(b.Joints), b.Figure.Revision
		if b.Figure.HasLimits() {
			r.lower, r.upper = b.Figure.Lower, b.Figure.Upper
		}
		if b.Series != nil {
			r.source = b.Series.Source
		}
		return r
	}
	above, below := math.NaN(), math.NaN()
	if b.Reach.Above <= b.Reach.Joints {
		above = float64(b.Reach.Above)
	}
	if b.Reach.Below >= 0 {
		below = float64(b.Reach.Below)
	}
	rows := []row{of("above from", above), of("below to", below)}
	if b.Joints < benchmark.FewestAtRisk {
		for i := range rows {
			rows[i].notes = []string{NoteFew}
		}
		return rows
	}
	for i, ratio := range Ratios() {
		r := of("chance above", b.Chance[i])
		r.ratio = ratio
		rows = append(rows, r)
	}
	return append(rows, of("smallest ratio above", b.Above), of("greatest ratio below", b.Below))
}

// Columns are the columns of WriteCSV.
func Columns() []string { return row{}.tidy().Columns() }

// WriteCSV writes one row per number, UTF-8 with LF line ends, numbers in their
// shortest form that reads back to the same value, and empty cells where something
// is not defined. Revision, published, true or as a bound, and chances are proportions.
// The items:
//
//	above from, below to  numbers revised of joints, all followed to years, that read so beside
//	                      published; empty where none does
//	chance above          of such a reading if true revision is ratio times published
//	smallest ratio above, greatest ratio below
//	                      ratios of true to published revision that 80 of 100 such series find
//	bound shown           share of the practices simulated, with per_year more joints a year and dying of
//	                      patients a year, whose upper limit at years is not above bound after_years from now,
//	                      if truth is revised from now on
//	joints that show the bound
//	                      all followed, of which revised are revised
//	joints needed         they and every larger number show the bound in 80 of 100 series if truth is revised
func WriteCSV(w io.Writer, p *Plan) error { return tidy.WriteCSV(w, Columns(), p.rows()) }

// WriteJSON writes a plan as one JSON object, with the names of the CSV. What is not
// defined is null.
func WriteJSON(w io.Writer, p *Plan) error {
	return tidy.WriteJSON(w, struct {
		Level float64    `json:"level"`
		Runs  int        `json:"runs"`
		Seed  uint64     `json:"seed"`
		Rows  []tidy.Row `json:"rows"`
	}{p.Level, p.Runs, p.Seed, p.rows()})
}
