package monitor

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"strconv"

	"example.org/holdfast/cohort/text"
)

// WriteCSV writes the points of all charts, a line each.
func (w *Watch) WriteCSV(to io.Writer) error {
	out := csv.NewWriter(to)
	records := [][]string{{"unit", "day", "observed", "expected", "excess", "low", "high", "sum", "limit", "on_line", "complete"}}
	for _, u := range w.Units {
		for _, r := range u.Chart.Rows() {
			records = append(records, []string{text.Protect(u.Word), r.Day, strconv.Itoa(r.Observed), text.Number(r.Expected), text.Number(r.Excess),
				strconv.Itoa(r.Low), strconv.Itoa(r.High), text.Number(r.Sum), text.Number(r.Limit), strconv.FormatBool(r.OnLine), strconv.FormatBool(r.Complete)})
		}
	}
	if err := out.WriteAll(records); err != nil {
		return err
	}
	return out.Error()
}

// The form of WriteJSON.
type (
	watchRecord struct {
		By       string          `json:"by,omitempty"`
		Chance   float64         `json:"chance"` // of touching any line if revisions come as expected
		Expected []string        `json:"expected"`
		LeftOut  []leftOutRecord `json:"left_out,omitempty"`
		Units    []unitRecord    `json:"units"`
	}
	leftOutRecord struct {
		Why    string `json:"why"`
		Joints int    `json:"joints"`
	}
	unitRecord struct {
		Unit      string          `json:"unit"`
		Joints    int             `json:"joints"`
		From      string          `json:"from"`
		Complete  string          `json:"complete"`
		Through   string          `json:"through"`
		Limit     float64         `json:"limit"`
		Chance    float64         `json:"chance"`
		Known     totalRecord     `json:"known"`
		All       totalRecord     `json:"all"`
		Stretches []stretchRecord `json:"stretches"`
		Said      []string        `json:"said"`
		Points    []Row           `json:"points"`
	}
	totalRecord struct {
		Day      string   `json:"day"`
		Observed int      `json:"observed"`
		Expected float64  `json:"expected"`
		Low      int      `json:"low"`
		High     int      `json:"high"`
		Ratio    *float64 `json:"ratio"`
		Lower    *float64 `json:"lower"`
		Upper    *float64 `json:"upper"`
	}
	stretchRecord struct {
		Since    string   `json:"since"`
		Touched  string   `json:"touched"`
		Until    string   `json:"until"`
		Open     bool     `json:"open"`
		Observed int      `json:"observed"`
		Expected float64  `json:"expected"`
		Rows     []string `json:"rows"`
	}
)

// WriteJSON writes charts with their points.
func (w *Watch) WriteJSON(to io.Writer) error {
	r := watchRecord{By: w.By, Chance: w.Chance, Expected: w.Expected}
	for _, l := range w.LeftOut {
		r.LeftOut = append(r.LeftOut, leftOutRecord(l))
	}
	for _, u := range w.Units {
		c := u.Chart
		one := unitRecord{Unit: u.Word, Joints: c.Joints, From: isoDay(c.From), Complete: isoDay(c.Complete), Through: isoDay(c.Through),
			Limit: c.Limit, Chance: c.Chance, Known: c.Known.record(), All: c.All.record(), Stretches: []stretchRecord{}, Said: c.Said(), Points: c.Rows()}
		for _, s := range c.Stretches {
			one.Stretches = append(one.Stretches, stretchRecord{isoDay(s.Since), isoDay(s.Touched), isoDay(s.Until), s.Open, s.Observed, s.Expected, c.Names(s.Rows)})
		}
		r.Units = append(r.Units, one)
	}
	e := json.NewEncoder(to)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(r)
}

func (t Total) record() totalRecord {
	number := func(x float64) *float64 {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return nil
		}
		return &x
	}
	return totalRecord{isoDay(t.Day), t.Observed, t.Expected, t.Low, t.High, number(t.Ratio), number(t.Lower), number(t.Upper)}
}
