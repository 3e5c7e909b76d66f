package audit

import (
	"bytes"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/text"
)

// value is a number in JSON, as it stands in the CSV, the zero value
// is null.
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

func count[T int | int64](n T) value { return value(Count(int64(n))) }

// The names are those of the CSV.
type (
	document struct {
		Table       tableJSON `json:"table"`
		Event       string    `json:"event"`
		By          []string  `json:"by"`
		Level       value     `json:"level"`
		Interval    string    `json:"interval"`
		Groups      []record  `json:"groups"`
		Comparisons []record  `json:"comparisons"`
		Readings    int       `json:"readings"`
		ByChance    value     `json:"comparisons_by_chance"`
		Notes       []string  `json:"notes"`
		Method      []string  `json:"method"`
		Cautions    []string  `json:"cautions"`
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
		FollowUpAssumed   value        `json:"follow_up_assumed"`
		PossibleRevisions value        `json:"possible_revisions"`
		Lost              value        `json:"lost_to_follow_up"`
		Revisions         []reasonJSON `json:"revisions_recorded_apart"`
		Deaths            string       `json:"deaths"`
		ClosingDate       closingJSON  `json:"closing_date"`
		Tallies           []siteJSON   `json:"tallies,omitempty"` // that were pooled
	}
	siteJSON struct {
		Name            string       `json:"name"`
		Tables          int          `json:"tables"`
		RowsRead        value        `json:"rows_read"`
		RowsUsed        value        `json:"rows_used"`
		RowsSetAside    value        `json:"rows_set_aside"`
		Reasons         []reasonJSON `json:"reasons"`
		RevisedUndated  value        `json:"revised_without_a_date"`
		FollowUpKnown   value        `json:"follow_up_known"`
		FollowUpAssumed value        `json:"follow_up_assumed"`
		Lost            value        `json:"lost_to_follow_up"`
		Deaths          string       `json:"deaths"`
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
)

// WriteJSON writes an audit as one JSON object, with the names of the CSV. What
// is not defined is null. Of a shared audit so are the numbers of rows, which stand in
// its notes, and the closing date is its year.
func WriteJSON(w io.Writer, a *Audit) error {
	level := a.Interval.Level
	if level == 0 {
		level = 0.95
	}
	d := document{
		Table: table(a), Event: a.Event(), By: a.By, Level: num(level), Interval: a.Interval.Method.String(),
		Groups: []record{}, Comparisons: []record{}, Readings: a.Readings, ByChance: num(a.ByChance),
		Notes: orEmpty(a.Notes), Method: a.Method, Cautions: a.Cautions,
	}
	d.Comparisons = append(d.Comparisons, a.comparisons(a.unstatable())...)
	// The groups are written part by part where the object has none. No text holds the mark:
	// quotation marks in it are escaped.
	const none = `"groups": []`
	before, after, _ := strings.Cut(indented(d), none)
	write := func(parts ...string) error {
		for _, s := range parts {
			if _, err := io.WriteString(w, s); err != nil {
				return err
			}
		}
		return nil
	}
	if len(a.Groups) == 0 {
		return write(before, none, after, "\n")
	}
	if err := write(before, strings.TrimSuffix(none, "]"), groupBegins); err != nil {
		return err
	}
	between := ""
	err := inParts(a.Groups, func(_ int, some []Group) string {
		var b []byte
		for i := range some {
			if i > 0 {
				b = append(b, ","+groupBegins...)
			}
			b = group(a, &some[i]).appendJSON(b, groupBegins[1:])
		}
		return text.Unmarked(string(b))
	}, func(some string) error {
		err := write(between, some)
		between = "," + groupBegins
		return err
	})
	if err != nil {
		return err
	}
	return write("\n ]", after, "\n")
}

// groupBegins stands before each group.
const groupBegins = "\n  "

// indented is a value as JSON.
func indented(v any) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", " ")
	if err := e.Encode(v); err != nil {
		panic(err) // numbers, texts, and lists of these
	}
	return text.Unmarked(strings.TrimSuffix(b.String(), "\n"))
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
		RevisedUndated: count(a.Account.RevisedUndated), FollowUpAssumed: count(a.Account.Assumed), PossibleRevisions: count(a.Account.PossibleRevisions), Lost: count(a.Account.Lost), Revisions: []reasonJSON{}, Deaths: "recorded",
	}
	if !a.Deaths.Recorded {
		t.Deaths = "not recorded"
	}
	if a.Shared != nil {
		t = tableJSON{Reasons: t.Reasons, Warnings: t.Warnings, Scope: t.Scope, Assumed: t.Assumed, Revisions: t.Revisions, Deaths: t.Deaths}
	}
	for _, f := range a.Files {
		j := fileJSON{Name: f.Name, Format: f.Format, Headings: []pairJSON{}, DateOrders: []orderJSON{}}
		if a.Shared == nil {
			j.Rows = count(f.Rows)
		}
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
	t.Reasons, t.Revisions, t.Warnings = reasons(a.Account.Reasons), reasons(a.Revisions), reasons(a.Account.Warnings)
	for _, s := range a.Sites {
		t.Tallies = append(t.Tallies, site(s))
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

func reasons(counts []cohort.ReasonCount) []reasonJSON {
	all := []reasonJSON{}
	for _, r := range counts {
		all = append(all, reasonJSON{r.Reason.String(), count(r.Rows)})
	}
	return all
}

func site(s cohort.Site) siteJSON {
	of := s.Account
	j := siteJSON{
		Name: s.Name, Tables: s.Tables, RowsRead: count(of.Read), RowsUsed: count(of.Used), RowsSetAside: count(of.SetAside), Reasons: reasons(of.Reasons),
		RevisedUndated: count(of.RevisedUndated), FollowUpKnown: count(of.Known), FollowUpAssumed: count(of.Assumed), Lost: count(of.Lost), Deaths: "recorded",
	}
	if !s.Deaths.Recorded {
		j.Deaths = "not recorded"
	}
	return j
}

// group is a group with its rows.
func group(a *Audit, g *Group) record {
	var r record
	r.object("values", g.record())
	r.text("pooled", g.Pooling.String())
	a.whole(&r, g)
	r.number("revised_for_another_reason", known(len(a.Endpoint.Reasons) > 0, float64(g.Other)))
	all, rows := g.Rows(), []record{}
	for i := range all {
		row := &all[i]
		at := make(record, 0, columnsOfRow)
		at.number("years", row.Years)
		a.estimates(&at, row)
		if w := row.WorstCase; w != nil {
			at.proportion("worst_case_pct", known(row.Reached, w.Estimate))
			at.proportion("worst_case_lower_pct", known(row.Reached, w.Lower))
			at.proportion("worst_case_upper_pct", known(row.Reached, w.Upper))
		}
		a.published(&at, row)
		at.codes("notes", row.Notes)
		rows = append(rows, at)
	}
	r.objects("rows", rows)
	return r
}
