package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"

	"example.org/holdfast/cmd/holdfast/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// mostRows is how many rows of one reason are listed; mostRight of one about
// which there is nothing to do.
const (
	mostRows  = 200
	mostRight = 10
)

// checkToDo lists every problem under what is to be done about it.
func (p *page) checkToDo(c *cohort.Cohort) {
	p.heading(1, "What to do")
	all := problems(c)
	if c.Closing.Doubtful() {
		p.paragraph(fmt.Sprintf("First look at row %d, column %s%s: its date sets the closing date, and stands %s after every other row's. If it is mistyped, everybody's follow-up is too long.", c.Closing.Row, c.Closing.Column, ofTable(c, c.Closing.File), few(c.Closing.GapDays, "day", "days")))
		if len(all) == 0 {
			p.paragraph("Otherwise nothing: every row is used, and there is no warning.")
			return
		}
	}
	if len(all) == 0 {
		p.paragraph("Nothing: every row is used, and there is no warning.")
		return
	}
	p.paragraph("Every row set aside, and every row used with a warning, by what is to be done about it. Rows are numbered as in the file. With --format csv the same list opens in a spreadsheet.")
	rows := make([]int, len(instructions))
	for _, r := range all {
		i, _ := instructionFor(r.Reason)
		rows[i]++
	}
	t := &table{Columns: []column{{Title: "Rows", Align: right}, {Title: "What to do", Wraps: true}}}
	for i, n := range rows {
		if n > 0 {
			t.Add(count(n), instructions[i].do)
		}
	}
	p.table(t, nil)
	for i := range instructions {
		if rows[i] > 0 {
			p.instruction(c, instructions[i], all[:rows[i]])
			all = all[rows[i]:]
		}
	}
}

// ofTable names a table where there are several.
func ofTable(c *cohort.Cohort, file int) string {
	if len(c.Files) < 2 {
		return ""
	}
	return " of " + c.Files[file].Title()
}

// instruction lists the problems of one instruction by reason.
func (p *page) instruction(c *cohort.Cohort, in instruction, list []cohort.Problem) {
	p.heading(2, in.do)
	p.paragraph(in.how)
	most := mostRows
	if in.nothing {
		most = mostRight
	}
	t := &table{Columns: []column{{Title: "Row", Align: right}, {Title: "Cell", Wraps: true}, {Title: "Column"}, {Title: "What", Wraps: true}, {Title: "Table", Wraps: true}}}
	for len(list) > 0 {
		n := 1
		for n < len(list) && list[n].Reason == list[0].Reason {
			n++
		}
		t.Section(capital(list[0].Reason.String()) + ": " + few(n, "row", "rows"))
		for _, r := range list[:min(most, n)] {
			what, name := "", ""
			if r.Of > 0 || r.At > 0 || r.Missing != "" {
				what = c.Describe(r)
			}
			if len(c.Files) > 1 {
				name = c.Files[r.File].Title()
			}
			t.Add(strconv.Itoa(r.Row), c.Cell(r), r.Column, what, name)
		}
		if more := n - most; more > 0 {
			t.Add("…", "", "", fmt.Sprintf("and %s more, listed with --format csv", count(more)), "")
		}
		list = list[n:]
	}
	p.table(t, nil)
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
func CheckCSV(w io.Writer, c *cohort.Cohort) error {
	out := csv.NewWriter(w)
	if err := out.Write([]string{"file", "sheet", "row", "cell", "column", "reason", "what_to_do", "done"}); err != nil {
		return err
	}
	line := func(p cohort.Problem, reason, do string) error {
		record := []string{c.Files[p.File].Name, c.Files[p.File].Sheet, strconv.Itoa(p.Row), c.Cell(p), p.Column, reason, do, ""}
		for i, s := range record {
			record[i] = audit.Protect(document.Clean(s))
		}
		return out.Write(record)
	}
	if d := c.Closing; d.Doubtful() {
		if err := line(cohort.Problem{File: d.File, Row: d.Row, Column: d.Column}, "sets the closing date, long after every other row's dates", "Is this date right? If it is not, correct it."); err != nil {
			return err
		}
	}
	for _, p := range problems(c) {
		i, _ := instructionFor(p.Reason)
		if err := line(p, c.Describe(p), instructions[i].whole()); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
