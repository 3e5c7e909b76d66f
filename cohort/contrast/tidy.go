package contrast

import (
	"fmt"
	"io"
	"math"
	"strings"

	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/tidy"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/regress"
)

// Note codes of this package. Those of points of a curve are among the notes too;
// see package audit.
const (
	NoteBeyond       = "beyond follow-up"
	NoteNear         = "near the line"
	NoteBilateral    = "bilateral"
	NotePenalised    = "penalised"
	NoteTooFew       = "too few to adjust"
	NoteFewForP      = "fewer than 5 revised"
	NoteChanges      = "not proportional"
	NoteFewPatients  = "few patients revised"
	NoteNoLimit      = "no upper limit"
	NoteNoLowerLimit = "no lower limit"
	NoteDays         = "in days"
	noteSeparated    = "separated: "
)

// Item names of Row.Item that readers may want to pick.
const (
	ItemDifference = "difference"
	ItemRatio      = "hazard ratio"
)

// Row is one number of a contrast. What there is not is NaN, 0 degrees of freedom,
// or "".
type Row struct {
	Joint, Procedure, Between, Within string
	Item, Group, Against              string
	Years                             float64
	Estimand                          string
	Value, SE, Lower, Upper           float64
	DF                                int
	P                                 float64
	Notes                             []string
}

// rows collects the rows of one joint and procedure.
type rows struct {
	k   *Contrast
	p   *Part
	all []Row
}

// row is one without a number but its value.
func (r *rows) row(item, group string, value float64) *Row {
	nan := math.NaN()
	r.all = append(r.all, Row{Joint: r.p.Joint, Procedure: r.p.Procedure, Between: r.k.Between, Item: item, Group: group,
		Years: nan, Value: value, SE: nan, Lower: nan, Upper: nan, P: nan})
	return &r.all[len(r.all)-1]
}

// Rows are a contrast's numbers, one each, for files.
func (k *Contrast) Rows() []Row {
	var all []Row
	for i := range k.Parts {
		r := &rows{k: k, p: &k.Parts[i]}
		for g := range r.p.Groups {
			r.row("joints", r.p.Groups[g].Word, float64(r.p.Groups[g].Joints))
			r.row("revised", r.p.Groups[g].Word, float64(r.p.Groups[g].Revised))
		}
		r.tests()
		r.differences()
		switch m := r.p.Model; {
		case m == nil:
		case m.Refused == "":
			r.model(m)
		case !m.Unfit:
			r.noModel()
		}
		r.standard()
		r.byStratum()
		all = append(all, r.all...)
	}
	return all
}

// tests are the tests over the whole follow-up.
func (r *rows) tests() {
	if r.p.LogRank == nil {
		return
	}
	for g := range r.p.Groups {
		r.row("observed", r.p.Groups[g].Word, r.p.LogRank.Observed[g])
		r.row("expected", r.p.Groups[g].Word, r.p.LogRank.Expected[g])
	}
	r.test("logrank", r.p.LogRank, false)
	if t := r.p.Within; t != nil {
		for g := range r.p.Groups {
			r.row("expected within", r.p.Groups[g].Word, t.Expected[g]).Within = strings.Join(r.k.Within, ",")
		}
		r.test("logrank within", t, true)
	}
	r.test("gray", r.p.Gray, false)
	r.test("gray within", r.p.GrayWithin, true)
}

func (r *rows) test(item string, t *survival.Test, within bool) {
	if t == nil {
		return
	}
	row := r.row(item, "", t.ChiSquare.Value)
	if row.DF = t.DF; r.p.Revised >= FewestForP {
		row.P = t.P
	} else {
		row.Notes = append(row.Notes, NoteFewForP)
	}
	if within {
		row.Within = strings.Join(r.k.Within, ",")
	}
	if r.p.Bilateral > 0 {
		row.Notes = append(row.Notes, NoteBilateral)
	}
}

// differences are those of cumulative revision and of restricted means.
func (r *rows) differences() {
	for _, d := range r.p.Differences {
		row := r.row(ItemDifference, r.p.Groups[d.Group].Word, d.Difference)
		row.Against, row.Years, row.Estimand = r.p.Groups[d.Against].Word, d.Years, d.Estimand.String()
		row.SE, row.Lower, row.Upper = d.SE, d.Lower, d.Upper
		if d.Reached {
			row.Notes = append(row.Notes, d.Reading.String())
		}
		row.Notes = append(row.Notes, d.Notes...)
		for _, pair := range d.Published {
			row := r.row("published difference", r.p.Groups[d.Group].Word, pair.Difference)
			row.Against, row.Years, row.Estimand, row.Lower, row.Upper = r.p.Groups[d.Against].Word, d.Years, d.Estimand.String(), pair.Lower, pair.Upper
			row.Notes = append(row.Notes, pair.Source)
		}
	}
	m := r.p.Means
	if m == nil {
		return
	}
	for i, g := range m.Groups {
		if i == m.Against {
			continue
		}
		d := m.Difference[i]
		row := r.row("restricted mean difference", r.p.Groups[g].Word, d.Difference)
		row.Against, row.Years, row.Estimand = r.p.Groups[r.p.Against].Word, m.Years, survival.OneMinusKaplanMeier.String()
		row.SE, row.Lower, row.Upper = d.SE, d.Lower, d.Upper
		row.Notes = append(row.Notes, NoteDays)
		if math.IsNaN(d.SE) {
			row.Notes = append(row.Notes, survival.NoEvents.String())
		}
		if r.p.Shared > 0 {
			row.Notes = append(row.Notes, NoteBilateral)
		}
	}
}

func (r *rows) model(m *Model) {
	var notes []string
	if m.Kind == regress.Penalised {
		notes = append(notes, NotePenalised)
	}
	if m.Changes() {
		notes = append(notes, NoteChanges)
	}
	plain := notes
	if r.p.Bilateral > 0 {
		plain = append(notes[:len(notes):len(notes)], NoteBilateral)
	}
	for _, x := range m.Ratios {
		r.ratio(ItemRatio, x, plain)
	}
	for _, x := range m.Covariates {
		r.ratio(ItemRatio, x, plain)
	}
	if r.p.RevisedPatients < fewestPatients {
		notes = append(notes[:len(notes):len(notes)], NoteFewPatients)
	}
	for _, x := range m.ByPatient {
		r.ratio("hazard ratio by patient", x, notes)
	}
	for _, period := range m.Periods {
		for _, x := range period.Ratios {
			r.ratio("hazard ratio "+period.String(), x, nil)
		}
	}
	for _, x := range m.Subdistribution {
		r.ratio("subdistribution hazard ratio", x, nil)
	}
	row := r.row("loglik", "", m.LogLikelihood)
	row.DF, row.P, row.Notes = m.LikelihoodRatio.DF, m.LikelihoodRatio.P, notes
	if m.Proportional == nil {
		return
	}
	for _, t := range m.Proportional {
		row := r.row("proportional", t.Name, t.Value)
		row.DF, row.P = t.DF, t.P
	}
	row = r.row("proportional", "all", m.Together.Value)
	row.DF, row.P = m.Together.DF, m.Together.P
}

// noModel says of each ratio that there is none, for too few revisions.
func (r *rows) noModel() {
	for g := range r.p.Groups {
		if g != r.p.Against {
			row := r.row(ItemRatio, r.p.Groups[g].Word, math.NaN())
			row.Against, row.Notes = r.p.Groups[r.p.Against].Word, []string{NoteTooFew}
		}
	}
}

// ratio is a row of a ratio. Those of the groups are named by their words, those of
// covariates with their field.
func (r *rows) ratio(item string, x Ratio, notes []string) {
	group, against := x.Word, x.Against
	switch {
	case x.Word == "":
		group = agePer10
	case x.Field != r.k.Between:
		group, against = x.Field+"="+x.Word, x.Field+"="+x.Against
	}
	row := r.row(item, group, x.Ratio)
	row.Against, row.SE, row.Lower, row.Upper, row.P = against, x.SE, x.Lower, x.Upper, x.P
	row.Notes = append(row.Notes, notes...)
	if x.Separated {
		row.Notes = append(row.Notes, noteSeparated+x.Field+"="+x.Word)
	}
	if math.IsInf(x.Upper, 1) {
		row.Notes = append(row.Notes, NoteNoLimit)
	}
	if x.Lower == 0 {
		row.Lower = math.NaN()
		row.Notes = append(row.Notes, NoteNoLowerLimit)
	}
}

func (r *rows) standard() {
	m := r.p.Standard
	if m == nil || m.Not != "" {
		return
	}
	for i, g := range m.Groups {
		row := r.row("standardised", r.p.Groups[g].Word, m.Points[i].Estimate)
		row.Years, row.Estimand, row.SE, row.Lower, row.Upper = m.Years, survival.OneMinusKaplanMeier.String(), m.Points[i].SE, m.Points[i].Lower, m.Points[i].Upper
	}
	for i, d := range m.Difference {
		if i != m.Against {
			row := r.row("standardised difference", r.p.Groups[m.Groups[i]].Word, d.Difference)
			row.Against, row.Years, row.Estimand, row.Lower, row.Upper = r.p.Groups[r.p.Against].Word, m.Years, survival.OneMinusKaplanMeier.String(), d.Lower, d.Upper
		}
	}
}

// byStratum are revisions observed and expected by the strata that a source publishes,
// and of all of them.
func (r *rows) byStratum() {
	for _, s := range r.p.ByStratum {
		add := func(group string, x *benchmark.Ratio) {
			for _, row := range []*Row{r.row("observed by stratum", group, x.Observed), r.row("expected by stratum", group, x.Expected), r.row("ratio by stratum", group, x.Ratio)} {
				row.Within, row.Notes = strings.Join(s.By, ","), []string{s.Source}
			}
			row := &r.all[len(r.all)-1]
			row.Lower, row.Upper = x.Lower, x.Upper
		}
		for _, x := range s.Parts {
			add(x.Series.Stratum(), x)
		}
		add("all", &s.Ratio)
	}
}

// String names a period.
func (p Period) String() string {
	switch {
	case p.From == 0:
		return "up to " + text.InYears(p.To)
	case math.IsInf(p.To, 1):
		return "after " + text.InYears(p.From)
	}
	return fmt.Sprintf("%s to %s", text.Number(p.From), text.InYears(p.To))
}

// tidy is a row as it is written.
func (r Row) tidy() tidy.Row {
	return tidy.Row{}.Text("joint", r.Joint).Text("procedure", r.Procedure).Text("between", r.Between).Text("within", r.Within).Text("item", r.Item).
		Text("group", r.Group).Text("against", r.Against).Number("years", r.Years).Text("estimand", r.Estimand).
		Number("value", r.Value).Number("se", r.SE).Number("lower", r.Lower).Number("upper", r.Upper).Count("df", r.DF).Number("p", r.P).Notes("notes", r.Notes)
}

// written are a contrast's rows as they are written.
func (k *Contrast) written() []tidy.Row {
	rows := []tidy.Row{}
	for _, r := range k.Rows() {
		rows = append(rows, r.tidy())
	}
	return rows
}

// Columns are the columns of WriteCSV.
func Columns() []string { return Row{}.tidy().Columns() }

// WriteCSV writes one row per number, UTF-8 with LF line ends, numbers in their
// shortest form that reads back to the same value, and empty cells where something
// is not defined. A text cell that a spreadsheet would take for a formula gets a
// leading apostrophe.
func WriteCSV(w io.Writer, k *Contrast) error { return tidy.WriteCSV(w, Columns(), k.written()) }

// WriteJSON writes a contrast as one JSON object: what was asked for, what was left
// out and why, and rows with the names of the CSV. What is not defined is null.
func WriteJSON(w io.Writer, k *Contrast) error {
	refused := []string{}
	for _, p := range k.Parts {
		refused = append(refused, p.Reasons()...)
	}
	return tidy.WriteJSON(w, struct {
		Event    string     `json:"event"`
		Between  string     `json:"between"`
		Within   []string   `json:"within"`
		Adjust   []string   `json:"adjust"`
		Level    float64    `json:"level"`
		Rows     []tidy.Row `json:"rows"`
		Refused  []string   `json:"refused"`
		Method   []string   `json:"method"`
		Cautions []string   `json:"cautions"`
	}{k.Endpoint.String(), k.Between, append([]string{}, k.Within...), append([]string{}, k.Adjust...), k.level(), k.written(), refused, k.Method, k.Cautions})
}

// Reasons are the sentences that say what there is not, and why.
func (p *Part) Reasons() []string {
	var all []string
	add := func(s string) {
		if s != "" {
			all = append(all, s)
		}
	}
	add(p.Refused)
	add(p.NotWithin)
	add(p.NotGray)
	if m := p.Model; m != nil {
		add(m.Refused)
		add(m.NotByPeriod)
		add(m.NotFineGray)
	}
	return all
}
