package audit

import (
	"encoding/json"
	"io"
	"strconv"

	"example.org/holdfast/cohort/benchmark"
)

// value is a number in JSON, as it stands in the CSV, or Hidden; the zero value
// is null.
type value string

func (v value) MarshalJSON() ([]byte, error) {
	switch v {
	case "":
		return []byte("null"), nil
	case Hidden:
		return json.Marshal(Hidden)
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

func count[T int | int64](n T) value { return value(Count(int64(n))) }

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
		RowsInFiles       value        `json:"rows_in_files"`
		Scope             []pairJSON   `json:"scope"`
		Assumed           []pairJSON   `json:"assumed"`
		RowsRead          value        `json:"rows_read"`
		RowsUsed          value        `json:"rows_used"`
		RowsSetAside      value        `json:"rows_set_aside"`
		Reasons           []reasonJSON `json:"reasons"`
		Warnings          []reasonJSON `json:"warnings"`
		RevisedUndated    value        `json:"revised_without_a_date"`
		PossibleRevisions value        `json:"possible_revisions"`
		Lost              value        `json:"lost_to_follow_up"`
		Revisions         []reasonJSON `json:"revisions_recorded_apart"`
		Deaths            string       `json:"deaths"`
		ClosingDate       closingJSON  `json:"closing_date"`
	}
	fileJSON struct {
		Name       string      `json:"name"`
		Format     string      `json:"format"`
		Rows       value       `json:"rows"`
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
		Rows   value  `json:"rows"`
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
		Joints       value             `json:"joints"`
		Patients     value             `json:"patients"`
		Revised      value             `json:"revised"`
		Died         value             `json:"died"`
		Other        value             `json:"revised_for_another_reason"`
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
// is not defined is null. Numbers that a shared audit hides are the string
// [Hidden], and the closing date is its year.
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
					d.Comparisons = append(d.Comparisons, comparison(a, g, r, c))
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
		RowsInFiles: count(a.Account.InFiles), RowsRead: count(a.Account.Read), RowsUsed: count(a.Account.Used), RowsSetAside: count(a.Account.SetAside),
		Reasons: []reasonJSON{}, Warnings: []reasonJSON{}, Scope: []pairJSON{}, Assumed: []pairJSON{},
		RevisedUndated: count(a.Account.RevisedUndated), PossibleRevisions: count(a.Account.PossibleRevisions), Lost: count(a.Account.Lost), Revisions: []reasonJSON{}, Deaths: "recorded",
	}
	if !a.Deaths.Recorded {
		t.Deaths = "not recorded"
	}
	for _, f := range a.Files {
		j := fileJSON{Name: f.Name, Format: f.Format, Rows: count(f.Rows), Headings: []pairJSON{}, DateOrders: []orderJSON{}}
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
		t.Reasons = append(t.Reasons, reasonJSON{r.Reason.String(), count(r.Rows)})
	}
	for _, r := range a.Revisions {
		t.Revisions = append(t.Revisions, reasonJSON{r.Reason.String(), count(r.Rows)})
	}
	for _, r := range a.Account.Warnings {
		t.Warnings = append(t.Warnings, reasonJSON{r.Reason.String(), count(r.Rows)})
	}
	t.ClosingDate = closingJSON{Date: a.Closing.Day.String(), Asked: a.Closing.Asked}
	if a.Shared != nil {
		t.ClosingDate.Date = strconv.Itoa(a.Shared.ClosingYear)
	}
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
	own := func(x float64) value { return value(a.number(x)) }
	ownPct := func(p float64) value { return value(a.percentage(p)) }
	j := groupJSON{
		Values: values(g), Level: g.Level.String(), Joints: count(g.Joints), Revised: count(g.Revised),
		ImplantYears: own(g.ImplantYears), Rate: own(g.Rate.Rate), RateLower: own(g.Rate.Lower), RateUpper: own(g.Rate.Upper),
		Rows: []rowJSON{},
	}
	if a.Deaths.Recorded {
		j.Died = count(g.Died)
	}
	if len(a.Endpoint.Reasons) > 0 {
		j.Other = count(g.Other)
	}
	if g.Patients != -1 {
		j.Patients = count(g.Patients)
	}
	if e := g.Expected; e != nil {
		j.Observed, j.Expected, j.ToYears = own(e.Observed), own(e.Expected), num(e.ToYears)
		j.Ratio, j.RatioLower, j.RatioUpper, j.Source = own(e.Ratio), own(e.Lower), own(e.Upper), word(e.Series.Source)
	}
	for _, r := range g.Rows {
		row := rowJSON{Years: num(r.Years), AtRisk: "0", Notes: orEmpty(r.Notes)}
		if k := r.KaplanMeier; r.Reached {
			row.AtRisk, row.RevisedSoFar = own(k.AtRisk), own(k.Events)
			row.KM, row.KMSE, row.KMLower, row.KMUpper = ownPct(k.Estimate), ownPct(k.SE), ownPct(k.Lower), ownPct(k.Upper)
		}
		if f := r.Incidence; !r.IncidenceEmpty {
			row.Incidence, row.IncidenceSE, row.IncidenceLower, row.IncidenceUpper = ownPct(f.Estimate), ownPct(f.SE), ownPct(f.Lower), ownPct(f.Upper)
		}
		if w := r.WorstCase; r.Reached && g.WorstCase != nil {
			row.WorstCase, row.WorstLower, row.WorstUpper = pct(w.Estimate), pct(w.Lower), pct(w.Upper)
		}
		j.Rows = append(j.Rows, row)
	}
	return j
}

func comparison(a *Audit, g *Group, r Row, c *benchmark.Comparison) comparisonJSON {
	j := comparisonJSON{
		Group: values(g), Years: num(r.Years), AtRisk: "0",
		Own: pct(c.Own.Estimate), OwnLower: pct(c.Own.Lower), OwnUpper: pct(c.Own.Upper),
		Published: pct(c.Figure.Revision), PublishedLower: pct(c.Figure.Lower), PublishedUpper: pct(c.Figure.Upper),
		Estimand: c.Series.Estimand.String(), Source: c.Series.Source, PeriodFrom: year(c.Series.PeriodFrom), PeriodTo: year(c.Series.PeriodTo), Covers: word(c.Figure.Covers), Citation: c.Series.Citation,
		Difference: pct(c.Difference), DifferenceLower: pct(c.DifferenceLower), DifferenceUpper: pct(c.DifferenceUpper),
		Reading: c.Words(), Notes: orEmpty(c.Notes.Codes()),
	}
	if c.Reached {
		j.AtRisk = value(a.number(c.Own.AtRisk))
	}
	if a.hides(c) {
		j.Own, j.OwnLower, j.OwnUpper, j.Difference, j.DifferenceLower, j.DifferenceUpper = Hidden, Hidden, Hidden, Hidden, Hidden, Hidden
		j.Reading = Hidden
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
