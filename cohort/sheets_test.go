package cohort_test

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/testtable"
)

// yearly is a workbook with a sheet for each year, and one of revisions.
func yearly(t testing.TB) []byte {
	headings := []any{"patient", "operation_date", "joint", "side", "revision_date"}
	var b bytes.Buffer
	err := testtable.WriteWorkbook(&b, testtable.Workbook{Sheets: []testtable.Sheet{
		{Name: "2019", Rows: [][]any{headings, {"a", "2019-01-01", "hip", "left", ""}, {"b", "2019-02-01", "hip", "left", ""}}},
		{Name: "2020", Rows: [][]any{headings, {"c", "2020-01-01", "hip", "left", ""}, {"a", "2020-02-01", "hip", "left", ""}}},
		{Name: "Redone", Rows: [][]any{{"patient", "joint", "side", "date of revision"}, {"b", "hip", "left", "2021-01-01"}}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The sheets named are pooled, and a problem tells the sheet.
func TestSheets(t *testing.T) {
	book := yearly(t)
	source := func(r io.Reader) []cohort.Source { return []cohort.Source{{Name: "own.xlsx", Reader: r}} }
	o := cohort.Options{Today: day(today), Sheets: []string{"2019", "2020"}, Revisions: []cohort.Source{{Name: "own.xlsx", Reader: bytes.NewReader(book), Sheet: "Redone"}}}
	c, err := cohort.Read(t.Context(), source(bytes.NewReader(book)), o)
	if err != nil {
		t.Fatal(err)
	}
	balanced(t, c)
	if c.Account().Read != 4 || c.Account().Used != 3 {
		t.Errorf("%+v", c.Account())
	}
	var titles []string
	for _, f := range c.Files {
		titles = append(titles, f.Title())
	}
	if d := cmp.Diff([]string{`own.xlsx, sheet "2019"`, `own.xlsx, sheet "2020"`, `own.xlsx, sheet "Redone"`}, titles); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if d := cmp.Diff([]cohort.Problem{{File: 1, Row: 3, Column: "operation_date", Reason: cohort.PossibleRevision, Of: 2}}, c.SetAside()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}

	// A table without sheets is read once.
	o.Revisions = nil
	c, err = cohort.Read(t.Context(), append(source(bytes.NewReader(book)), cohort.Source{Name: "t.csv", Reader: strings.NewReader("operation_date,revision_date\n2019-01-01,\n")}), o)
	if err != nil {
		t.Fatal(err)
	}
	if c.Account().Read != 5 {
		t.Errorf("%+v", c.Account())
	}

	// An assumption is refused where every sheet has the column.
	o.Assume = map[string]string{"joint": "hip"}
	_, err = cohort.Read(t.Context(), source(bytes.NewReader(book)), o)
	wantError(t, err, `own.xlsx, sheet "2019" has a column "joint"`, "can't be assumed for joint", "[columns]")
	o.Assume = nil

	_, err = cohort.Read(t.Context(), source(io.MultiReader(bytes.NewReader(book))), o)
	wantError(t, err, "own.xlsx", "save it as a file")
	o.Sheets = []string{"2019", "2019"}
	_, err = cohort.Read(t.Context(), source(bytes.NewReader(book)), o)
	wantError(t, err, "name each sheet once")
	o.Sheets = []string{"Redone"}
	_, err = cohort.Read(t.Context(), source(bytes.NewReader(book)), o)
	wantError(t, err, `own.xlsx, sheet "Redone"`, "operation_date")
}
