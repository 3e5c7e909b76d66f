package report

import (
	"bufio"
	"encoding/csv"
	"encoding/json"
	"io"
	"iter"
	"math"
	"strconv"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/text"
)

// mostRows is how many rows of one reason are listed; mostRight of one about
// which there is nothing to do.
const (
	mostRows  = 200
	mostRight = 10
)

// toDo is one problem as a list to work through has it.
type toDo struct {
	File     string `json:"file"`
	Sheet    string `json:"sheet"`
	Row      int    `json:"row"`
	Cell     string `json:"cell"`
	Column   string `json:"column"`
	Reason   string `json:"reason"`
	WhatToDo string `json:"what_to_do"`
}

// toDos gives the problems in the order of [Check], after one for a doubtful
// closing date.
func toDos(c *cohort.Cohort, tasks []gather.Task) iter.Seq[toDo] {
	of := func(p cohort.Problem, reason, do string) toDo {
		f := c.Files[p.File]
		t := toDo{f.Name, f.Sheet, p.Row, c.Cell(p), p.Column, reason, do}
		for _, s := range []*string{&t.File, &t.Sheet, &t.Cell, &t.Column, &t.Reason, &t.WhatToDo} {
			*s = document.Clean(*s)
		}
		return t
	}
	return func(yield func(toDo) bool) {
		if d := c.Closing; d.Doubtful() && !yield(of(cohort.Problem{File: d.File, Row: d.Row, Column: d.Column}, "sets the closing date, long after every other row's dates", "Is this date right? If it is not, correct it.")) {
			return
		}
		for _, t := range gather.ToDo(tasks) {
			for _, p := range t.Rows {
				for one := range p.Each() {
					if !yield(of(one, t.Describe(c, one), t.Whole())) {
						return
					}
				}
			}
		}
	}
}

// CheckCSV writes the problems as a list to work through in a spreadsheet, one
// line per problem in the order of [Check], after one for a doubtful closing
// date, with an empty column to tick off:
//
//	file,sheet,row,cell,column,reason,what_to_do,done
//
// sheet and cell are filled for workbooks only. A text that a spreadsheet would take for a
// formula gets a leading apostrophe. No value of the table is in it. Errors are
// those of the writer.
func CheckCSV(w io.Writer, c *cohort.Cohort, tasks []gather.Task) error {
	out := csv.NewWriter(w)
	out.Write([]string{"file", "sheet", "row", "cell", "column", "reason", "what_to_do", "done"})
	for t := range toDos(c, tasks) {
		record := []string{t.File, t.Sheet, strconv.Itoa(t.Row), t.Cell, t.Column, t.Reason, t.WhatToDo, ""}
		for i, s := range record {
			record[i] = text.Protect(s)
		}
		out.Write(record)
	}
	out.Flush()
	return out.Error()
}

// whatIf is one estimate as it is and as it would be if one problem were settled
// otherwise.
type whatIf struct {
	Reason    string   `json:"reason"`
	Otherwise string   `json:"otherwise"`
	Joint     string   `json:"joint"`
	Procedure string   `json:"procedure"`
	Years     float64  `json:"years"`
	Joints    int      `json:"joints"`
	FromPct   *float64 `json:"from_pct"`
	ToPct     *float64 `json:"to_pct"`
}

// whatIfs lists what settling the problems would change. Where the day of an
// event is not known there are two estimates, the least and the most.
func whatIfs(effects []cohort.Effect) []whatIf {
	pct := func(p float64) *float64 {
		if math.IsNaN(p) {
			return nil
		}
		p *= 100
		return &p
	}
	all := []whatIf{}
	for _, e := range effects {
		for _, at := range e.At {
			w := whatIf{document.Clean(e.Problem), document.Clean(e.Supposed), document.Clean(e.Joint), document.Clean(e.Procedure), at.Years, e.Rows, pct(at.Now), pct(at.Low)}
			switch {
			case w.FromPct == nil && w.ToPct == nil: // beyond the follow-up
				continue
			case at.Low == at.High || w.ToPct == nil:
				all = append(all, w)
				continue
			}
			least, most := w, w
			least.Otherwise += ": least"
			most.Otherwise, most.ToPct = most.Otherwise+": most", pct(at.High)
			all = append(all, least, most)
		}
	}
	return all
}

// CheckJSON writes what became of the rows, the problems as [CheckCSV] lists
// them, and what settling each would change: what_if has, for each problem,
// joint, procedure and number of years, the cumulative revision as it is
// (from_pct) and as it would be (to_pct), null beyond the follow-up, and the
// joints whose follow-up would be another. Errors are those of the writer.
func CheckJSON(w io.Writer, f *gather.Checking) error {
	c := f.Cohort
	a := c.Account()
	head, err := indented("", struct {
		ClosingDate string `json:"closing_date"`
		RowsRead    int    `json:"rows_read"`
		RowsUsed    int    `json:"rows_used"`
		SetAside    int    `json:"rows_set_aside"`
	}{c.Closing.Day.String(), a.Read, a.Used, a.SetAside})
	if err != nil {
		return err
	}
	tail, err := indented("", struct {
		WhatIf []whatIf `json:"what_if"`
	}{whatIfs(f.Effects)})
	if err != nil {
		return err
	}
	// The problems are as many as the rows perhaps, and are written one after another.
	out := bufio.NewWriter(w)
	out.WriteString(strings.TrimSuffix(head, "\n}") + ",\n \"problems\": [")
	between, end := "\n  ", "]"
	for t := range toDos(c, f.Tasks) {
		one, err := indented("  ", t)
		if err != nil {
			return err
		}
		out.WriteString(between + one)
		between, end = ",\n  ", "\n ]"
	}
	out.WriteString(end + "," + strings.TrimPrefix(tail, "{") + "\n")
	return out.Flush()
}

// indented is a value as JSON, of which each line but the first begins with a prefix.
func indented(prefix string, v any) (string, error) {
	var b strings.Builder
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent(prefix, " ")
	err := e.Encode(v)
	return strings.TrimSuffix(b.String(), "\n"), err
}
