package audit

import (
	"encoding/json"
	"io"

	"example.org/holdfast/cohort/benchmark"
)

// value is a number in JSON, as it stands in the CSV; the zero value is null.
type value string

func (v value) MarshalJSON() ([]byte, error) {
	if v == "" {
		return []byte("null"), nil
	}
	return []byte(v), nil
}

// word is a text in JSON; the empty one is null.
type word string

func (s word) MarshalJSON() ([]byte, error) {
	if s == "" {
		return []byte("null"), nil
	}
	return json.Marshal(string(s))
}

func num(x float64) value { return value(Number(x)) }
func pct(p float64) value { return value(percentage(p)) }

// The names are those of the CSV.
type (
	document struct {
		Table       tableJSON        `json:"table"`
		Event       string           `json:"event"`
		By          []string         `json:"by"`
		Level       value            `json:"level"`
		Interval    string           `json:"interval"`
		Groups      []groupJSON      `json:"groups"`
		Comparisons []comparisonJSON `json:"comparisons"`
		Made        int              `json:"comparisons_made"`
		ByChance    value            `json:"outside_by_chance"`
		Notes       []string         `json:"notes"`
		Method      []string         `json:"method"`
		Cautions    []string         `json:"cautions"`
	}
	tableJSON struct {
		Files             []fileJSON   `json:"files"`
		RowsInFiles       int          `json:"rows_in_files"`
		Scope             []pairJSON   `json:"scope"`
		Assumed           []pairJSON   `json:"assumed"`
		RowsRead          int          `json:"rows_read"`
		RowsUsed          int          `json:"rows_used"`
		RowsSetAside      int          `json:"rows_set_aside"`
		Reasons           []reasonJSON `json:"reasons"`
		Warnings          []reasonJSON `json:"warnings"`
		RevisedUndated    int          `json:"revised_without_a_date"`
		PossibleRevisions int          `json:"possible_revisions"`
		Lost              int          `json:"lost_to_follow_up"`
		Revisions         []reasonJSON `json:"revisions_recorded_apart"`
		Deaths            string       `json:"deaths"`
		ClosingDate       closingJSON  `json:"closing_date"`
	}
	fileJSON struct {
		Name       string      `json:"name"`
		Format     string      `json:"format"`
		Rows       int         `json:"rows"`
		Headings   []pairJSON  `json:"headings"`
		DateOrders []orderJSON `json:"date_orders"`
	}
	pairJSON struct {
		Column string `json:"column"`
		Value  string `json:"value"`
	}
	orderJSON struct {
		Column string `json:"column"`
		Order  string `json:"order"`
		From   word   `json:"settled_by"` // null: it was given
	}
	reasonJSON struct {
		Reason string `json:"reason"`
		Rows   int    `json:"rows"`
	}
	closingJSON struct {
		Date       string `json:"date"`
		Asked      bool   `json:"given"`
		File       word   `json:"file"` // where it was found, unless it was given
		Row        *int   `json:"row"`
		Column     word   `json:"column"`
		NextLatest word   `json:"next_latest"`
		GapDays    *int   `json:"gap_days"`
	}
	groupJSON struct {
		Values       map[string]string `json:"values"`
		Level        string            `json:"pooled"`
		Joints       int64             `json:"joints"`
		Patients     *int64            `json:"patients"`
		Revised      int64             `json:"revised"`
		Died         *int64            `json:"died"`
		Other        *int64            `json:"revised_for_another_reason"`
		ImplantYears value             `json:"implant_years"`
		Rate         value             `json:"rate_per_100"`
		RateLower    value             `json:"rate_lower"`
		RateUpper    value             `json:"rate_upper"`
		Observed     value             `json:"observed"`
		Expected     value             `json:"expected"`
		ToYears      value             `json:"expected_to_years"`
		Ratio        value             `json:"ratio"`
		RatioLower   value             `json:"ratio_lower"`
		RatioUpper   value             `json:"ratio_upper"`
		Source       word              `json:"expected_source"`
		Rows         []rowJSON         `json:"rows"`
	}
	rowJSON struct {
		Years          value    `json:"years"`
		AtRisk         value    `json:"at_risk"`
		RevisedSoFar   value    `json:"revised_so_far"`
		KM             value    `json:"km_pct"`
		KMSE           value    `json:"km_se_pct"`
		KMLower        value    `json:"km_lower_pct"`
		KMUpper        value    `json:"km_upper_pct"`
		Incidence      value    `json:"incidence_pct"`
		IncidenceSE    value    `json:"incidence_se_pct"`
		IncidenceLower value    `json:"incidence_lower_pct"`
		IncidenceUpper value    `json:"incidence_upper_pct"`
		WorstCase      value    `json:"worst_case_pct"`
		WorstLower     value    `json:"worst_case_lower_pct"`
		WorstUpper     value    `json:"worst_case_upper_pct"`
		Notes          []string `json:"notes"`
	}
	comparisonJSON struct {
		Group           map[string]string `json:"values"`
		Years           value             `json:"years"`
		AtRisk          value             `json:"at_risk"`
		Own             value             `json:"own_pct"`
		OwnLower        value             `json:"own_lower_pct"`
		OwnUpper        value             `json:"own_upper_pct"`
		Published       value             `json:"published_pct"`
		PublishedLower  value             `json:"published_lower_pct"`
		PublishedUpper  value             `json:"published_upper_pct"`
		Estimand        string            `json:"published_estimand"`
		Source          string            `json:"published_source"`
		PeriodFrom      value             `json:"published_period_from"`
		PeriodTo        value             `json:"published_period_to"`
		Covers          word              `json:"published_covers"`
		Citation        string            `json:"published_citation"`
		Difference      value             `json:"difference_pct"`
		DifferenceLower value             `json:"difference_lower_pct"`
		DifferenceUpper value             `json:"difference_upper_pct"`
		Reading         string            `json:"reading"`
		Notes           []string          `json:"notes"`
	}
)

// WriteJSON writes an audit as one JSON object, with the names of the CSV. What
// is not defined is null.
func WriteJSON(w io.Writer, a *Audit) error {
	level := a.Interval.Level
	if level == 0 {
		level = 0.95
	}
	d := document{
		Table: table(a), Event: a.Event(), By: a.By, Level: num(level), Interval: a.Interval.Method.String(),
		Groups: []groupJSON{}, Comparisons: []comparisonJSON{}, Made: a.Comparisons, ByChance: num(a.ByChance),
		Notes: orEmpty(a.Notes), Method: a.Method, Cautions: a.Cautions,
	}
	for i := range a.Groups {
		g := &a.Groups[i]
		d.Groups = append(d.Groups, group(a, g))
		for _, r := range g.Rows {
			for _, c := range []*benchmark.Comparison{r.Comparison, r.Threshold} {
				if c != nil {
					d.Comparisons = append(d.Comparisons, comparison(g, r, c))
				}
			}
		}
	}
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	return e.Encode(d)
}

func orEmpty[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

func table(a *Audit) tableJSON {
	t := tableJSON{
		RowsInFiles: a.Account.InFiles, RowsRead: a.Account.Read, RowsUsed: a.Account.Used, RowsSetAside: a.Account.SetAside,
		Reasons: []reasonJSON{}, Warnings: []reasonJSON{}, Scope: []pairJSON{}, Assumed: []pairJSON{},
		RevisedUndated: a.Account.RevisedUndated, PossibleRevisions: a.Account.PossibleRevisions, Lost: a.Account.Lost, Revisions: []reasonJSON{}, Deaths: "recorded",
	}
	if !a.Deaths.Recorded {
		t.Deaths = "not recorded"
	}
	for _, f := range a.Files {
		j := fileJSON{Name: f.Name, Format: f.Format, Rows: f.Rows, Headings: []pairJSON{}, DateOrders: []orderJSON{}}
		for _, h := range f.Headings {
			j.Headings = append(j.Headings, pairJSON{h.Column, h.Typed})
		}
		for _, o := range f.DateOrders {
			j.DateOrders = append(j.DateOrders, orderJSON{o.Column, o.Order.String(), word(o.From)})
		}
		t.Files = append(t.Files, j)
	}
	for _, c := range a.Scope {
		t.Scope = append(t.Scope, pairJSON(c))
	}
	for _, c := range a.Assumed {
		t.Assumed = append(t.Assumed, pairJSON(c))
	}
	for _, r := range a.Account.Reasons {
		t.Reasons = append(t.Reasons, reasonJSON{r.Reason.String(), r.Rows})
	}
	for _, r := range a.Revisions {
		t.Revisions = append(t.Revisions, reasonJSON{r.Reason.String(), r.Rows})
	}
	for _, r := range a.Account.Warnings {
		t.Warnings = append(t.Warnings, reasonJSON{r.Reason.String(), r.Rows})
	}
	t.ClosingDate = closingJSON{Date: a.Closing.Day.String(), Asked: a.Closing.Asked}
	if c := a.Closing; !c.Asked {
		d := &t.ClosingDate
		d.File, d.Row, d.Column = word(a.Files[c.File].Name), &c.Row, word(c.Column)
		if c.NextLatest != 0 || c.GapDays != 0 {
			d.NextLatest, d.GapDays = word(c.NextLatest.String()), &c.GapDays
		}
	}
	return t
}

func values(g *Group) map[string]string {
	m := make(map[string]string, len(g.Values))
	for _, v := range g.Values {
		m[v.Field] = v.Word
	}
	return m
}

func group(a *Audit, g *Group) groupJSON {
	j := groupJSON{
		Values: values(g), Level: g.Level.String(), Joints: g.Joints, Revised: g.Revised,
		ImplantYears: num(g.ImplantYears), Rate: num(g.Rate.Rate), RateLower: num(g.Rate.Lower), RateUpper: num(g.Rate.Upper),
		Rows: []rowJSON{},
	}
	if a.Deaths.Recorded {
		j.Died = &g.Died
	}
	if len(a.Endpoint.Reasons) > 0 {
		j.Other = &g.Other
	}
	if g.Patients >= 0 {
		j.Patients = &g.Patients
	}
	if e := g.Expected; e != nil {
		j.Observed, j.Expected, j.ToYears = num(e.Observed), num(e.Expected), num(e.ToYears)
		j.Ratio, j.RatioLower, j.RatioUpper, j.Source = num(e.Ratio), num(e.Lower), num(e.Upper), word(e.Series.Source)
	}
	for _, r := range g.Rows {
		row := rowJSON{Years: num(r.Years), AtRisk: "0", Notes: orEmpty(r.Notes)}
		if k := r.KaplanMeier; r.Reached {
			row.AtRisk, row.RevisedSoFar = num(k.AtRisk), num(k.Events)
			row.KM, row.KMSE, row.KMLower, row.KMUpper = pct(k.Estimate), pct(k.SE), pct(k.Lower), pct(k.Upper)
		}
		if f := r.Incidence; !r.IncidenceEmpty {
			row.Incidence, row.IncidenceSE, row.IncidenceLower, row.IncidenceUpper = pct(f.Estimate), pct(f.SE), pct(f.Lower), pct(f.Upper)
		}
		if w := r.WorstCase; r.Reached && g.WorstCase != nil {
			row.WorstCase, row.WorstLower, row.WorstUpper = pct(w.Estimate), pct(w.Lower), pct(w.Upper)
		}
		j.Rows = append(j.Rows, row)
	}
	return j
}

func comparison(g *Group, r Row, c *benchmark.Comparison) comparisonJSON {
	j := comparisonJSON{
		Group: values(g), Years: num(r.Years), AtRisk: "0",
		Own: pct(c.Own.Estimate), OwnLower: pct(c.Own.Lower), OwnUpper: pct(c.Own.Upper),
		Published: pct(c.Figure.Revision), PublishedLower: pct(c.Figure.Lower), PublishedUpper: pct(c.Figure.Upper),
		Estimand: c.Series.Estimand.String(), Source: c.Series.Source, PeriodFrom: year(c.Series.PeriodFrom), PeriodTo: year(c.Series.PeriodTo), Covers: word(c.Figure.Covers), Citation: c.Series.Citation,
		Difference: pct(c.Difference), DifferenceLower: pct(c.DifferenceLower), DifferenceUpper: pct(c.DifferenceUpper),
		Reading: c.Words(), Notes: orEmpty(c.Notes.Codes()),
	}
	if c.Reached {
		j.AtRisk = num(c.Own.AtRisk)
	}
	return j
}

// year of a published period; null where not stated.
func year(y int) value {
	if y == 0 {
		return ""
	}
	return num(float64(y))
}
