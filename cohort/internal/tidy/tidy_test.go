package tidy_test

import (
	"math"
	"strings"
	"testing"

	"example.org/holdfast/cohort/internal/tidy"
)

// A row is the same in both forms: what is not defined is an empty cell and null, numbers
// keep all their digits, and a text that looks like a formula is one no longer in a cell.
func TestRow(t *testing.T) {
	row := tidy.Row{}.Text("group", "=1+1").Text("none", "").Number("value", 1./3).Number("nan", math.NaN()).Number("far", math.Inf(1)).
		Count("df", 2).Count("zero", 0).Notes("notes", []string{"a", "b < c"}).Notes("no notes", nil)
	var b strings.Builder
	if err := tidy.WriteCSV(&b, row.Columns(), []tidy.Row{row}); err != nil {
		t.Fatal(err)
	}
	if want := "group,none,value,nan,far,df,zero,notes,no notes\n'=1+1,,0.3333333333333333,,,2,,a; b < c,\n"; b.String() != want {
		t.Errorf("%q, want %q", b.String(), want)
	}
	b.Reset()
	if err := tidy.WriteJSON(&b, map[string]any{"rows": []tidy.Row{row}}); err != nil {
		t.Fatal(err)
	}
	flat := strings.Join(strings.Fields(b.String()), " ")
	if want := `{ "rows": [ { "group": "=1+1", "none": null, "value": 0.3333333333333333, "nan": null, "far": null, "df": 2, "zero": null, "notes": [ "a", "b < c" ], "no notes": [] } ] }`; flat != want {
		t.Errorf("%s, want %s", flat, want)
	}
}
