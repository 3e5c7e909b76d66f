package sheet_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/testtable"
	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

// wanted accepts rows with the headings of the tests.
func wanted(cells []string) bool {
	return slices.Contains(cells, "operation_date") && slices.Contains(cells, "joint")
}

func book(t testing.TB, b testtable.Workbook) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := testtable.WriteWorkbook(&out, b); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func oneSheet(rows ...[]any) testtable.Workbook {
	return testtable.Workbook{Sheets: []testtable.Sheet{{Name: "Joints", Rows: rows}}}
}

func values(v ...any) []any { return v }

func openBook(data []byte, o sheet.Options) (*sheet.Table, error) {
	return sheet.Open(context.Background(), "t.xlsx", bytes.NewReader(data), o)
}

// headingRow is the heading row of most tests.
var headingRow = values("operation_date", "joint")

// All expected values here are worked by hand from the package documentation;
// the numbers of days from the definition of the two systems: 1 is 1900-01-01
// and 61 is 1900-03-01; 0 is 1904-01-01.
func TestWorkbook(t *testing.T) {
	for _, tt := range []struct {
		name     string
		book     testtable.Workbook
		options  sheet.Options
		sheet    string
		headings []string
		heading  int
		preamble []string
		notes    []string
		rows     []row
	}{
		{
			name: "types of cells",
			book: oneSheet(
				values("operation_date", "joint", "n", "text", "flag"),
				values(testtable.Day("2019-04-03"), "hip", 12.5, "0012", true),
				values(testtable.Day("1900-02-28"), " knee ", -1e-7, "1,5", false),
				values(testtable.Day("1900-03-01"), testtable.Rich{"h", "ip"}, testtable.Raw(`><v>1.2345678901234568E+17</v>`), "é\n<&>", nil),
			),
			headings: cells("operation_date", "joint", "n", "text", "flag"), heading: 1,
			rows: []row{
				{2, cells("2019-04-03", "hip", "12.5", "0012", "yes"), nil},
				{3, cells("1900-02-28", " knee ", "-0.0000001", "1,5", "no"), nil},
				{4, cells("1900-03-01", "hip", "123456789012345680", "é\n<&>"), nil},
			},
		},
		{
			name: "days and times of day",
			book: oneSheet(headingRow,
				values(testtable.Shown{Value: 43558.75, Format: "d.m.yyyy h:mm"}, 1),
				values(testtable.Shown{Value: 43558, Format: "[$-407]d. mmmm yyyy;@"}, 2),
				values(testtable.Shown{Value: 43557.9999999999, Format: "yyyy/mm/dd"}, 3),
				values(testtable.Shown{Value: 0.5, Format: "h:mm AM/PM"}, 4),
				values(testtable.Shown{Value: 30.25, Format: "[h]:mm"}, 5),
				values(testtable.Shown{Value: 12.5, Format: `0.0" days"`}, 6),
				values(testtable.Shown{Value: 60, Format: "dd/mm/yy"}, 7),
				values(testtable.Shown{Value: 0, Format: "dd/mm/yy"}, 8),
				values(testtable.Shown{Value: -5, Format: "dd/mm/yy"}, 9),
				values(testtable.Shown{Value: 2958465, Format: "mmm-yy"}, 10),
				values(testtable.Shown{Value: 2958466, Format: "mmm-yy"}, 11),
			),
			headings: cells("operation_date", "joint"), heading: 1,
			rows: []row{
				{2, cells("2019-04-03", "1"), nil}, {3, cells("2019-04-03", "2"), nil}, {4, cells("2019-04-03", "3"), nil},
				{5, cells("0.5", "4"), nil}, {6, cells("30.25", "5"), nil}, {7, cells("12.5", "6"), nil},
				{8, cells("1900-02-29", "7"), nil}, {9, cells("0", "8"), nil}, {10, cells("-5", "9"), nil},
				{11, cells("9999-12-31", "10"), nil}, {12, cells("2958466", "11"), nil},
			},
		},
		{
			name: "days from 1904",
			book: testtable.Workbook{Since1904: true, Sheets: []testtable.Sheet{{Name: "Joints", Rows: [][]any{
				headingRow,
				values(testtable.Day("2019-04-03"), "hip"),
				values(testtable.Shown{Value: 0, Format: "yyyy-mm-dd"}, "hip"),
				values(testtable.Shown{Value: 42096, Format: "yyyy-mm-dd"}, "hip"), // 43558 − 1462
			}}}},
			headings: cells("operation_date", "joint"), heading: 1,
			notes: cells("counts days from 1904-01-01"),
			rows:  []row{{2, cells("2019-04-03", "hip"), nil}, {3, cells("1904-01-01", "hip"), nil}, {4, cells("2019-04-03", "hip"), nil}},
		},
		{
			name: "formulas and errors",
			book: oneSheet(headingRow,
				values(testtable.Formula{Text: "DATE(2019,4,3)", Value: testtable.Day("2019-04-03")}, testtable.Formula{Text: `"h"&"ip"`, Value: "hip"}),
				values(testtable.Formula{Text: "1/3", Value: 1.0 / 3}, testtable.Formula{Text: "TRUE()", Value: true}),
				values(testtable.Formula{Text: "A9"}, testtable.Formula{Text: `IF(A9="","","x")`, Value: ""}),
				values(testtable.Fault("#REF!"), "knee"),
				values("x", testtable.Formula{Text: "NA()", Value: testtable.Fault("#N/A")}),
				values(nil, testtable.Formula{Text: "B9"}),
				values("#N/A", "knee"),
			),
			headings: cells("operation_date", "joint"), heading: 1,
			notes: cells(
				"2 formula cells hold no saved value, read as empty; the first is Joints!A4; open and save",
				"2 cells hold an error such as #N/A, read as empty; the first is Joints!A5"),
			rows: []row{
				{2, cells("2019-04-03", "hip"), nil}, {3, cells("0.3333333333333333", "yes"), nil},
				{4, nil, nil}, {5, cells("", "knee"), nil}, {6, cells("x"), nil}, {7, nil, nil}, {8, cells("#N/A", "knee"), nil},
			},
		},
		{
			name: "inline text, reading aids, escaped characters, ISO dates",
			book: oneSheet(headingRow,
				values(
					testtable.Raw(`t="inlineStr"><is><r><t>a</t></r><r><t xml:space="preserve"> b</t></r><rPh sb="0" eb="1"><t>X</t></rPh></is>`),
					testtable.Raw(`t="inlineStr"><is><t>a_x000A_b_x005F_x0041_c_x0000_</t></is>`)),
				values(testtable.Raw(`t="d"><v>2019-04-03T00:00:00Z</v>`), testtable.Raw(`><v>007</v>`)),
				values(testtable.Raw(`><v>1.5E3</v>`), testtable.Raw(`><v>1.1000000000000001</v>`)),
				values(testtable.Raw(`><v>0x10</v>`), testtable.Raw(`><v>-0</v>`)),
			),
			headings: cells("operation_date", "joint"), heading: 1,
			rows: []row{
				{2, cells("a b", "a\nb_x0041_c_x0000_"), nil}, {3, cells("2019-04-03", "7"), nil},
				{4, cells("1500", "1.1"), nil}, {5, cells("0x10", "0"), nil},
			},
		},
		{
			name: "titles above, totals below, blank rows",
			book: oneSheet(
				values("Joint replacements", nil, "2014 to 2024"), nil, values(nil, "#invented"),
				values(nil, "operation_date ", "joint"), nil,
				values(nil, "2019-04-03", "hip", "a note beside"), values(" ", "  "),
				values("Total", nil, 1),
			),
			options:  sheet.Options{IsHeadings: wanted},
			headings: cells("", "operation_date", "joint"), heading: 4,
			preamble: cells("Joint replacements 2014 to 2024", "invented"),
			rows:     []row{{6, cells("", "2019-04-03", "hip", "a note beside"), nil}, {8, cells("Total", "", "1"), nil}},
		},
		{
			name:     "no row is accepted",
			book:     oneSheet(nil, values("a", "b"), values(1, 2)),
			options:  sheet.Options{IsHeadings: wanted},
			headings: cells("a", "b"), heading: 2, rows: []row{{3, cells("1", "2"), nil}},
		},
		{
			name:     "heading row given",
			book:     oneSheet(values("title"), headingRow, values("a", "b"), values(1, 2)),
			options:  sheet.Options{IsHeadings: wanted, HeadingRow: 3},
			headings: cells("a", "b"), heading: 3, preamble: cells("title", "operation_date joint"),
			rows: []row{{4, cells("1", "2"), nil}},
		},
		{
			name: "group titles over several columns",
			book: testtable.Workbook{Sheets: []testtable.Sheet{{Name: "Joints", Merged: []string{"A1:A2", "B1:C1", "D1:D2"}, Rows: [][]any{
				values("patient", "Operation", nil, "sex"), values(nil, "operation_date", "joint"), values(1, "2019-04-03", "hip", "F"),
			}}}},
			options:  sheet.Options{IsHeadings: wanted},
			headings: cells("patient", "operation_date", "joint", "sex"), heading: 2,
			preamble: cells("patient Operation sex"),
			rows:     []row{{3, cells("1", "2019-04-03", "hip", "F"), nil}},
		},
		{
			name: "the upper of two heading rows is accepted",
			book: testtable.Workbook{Sheets: []testtable.Sheet{{Name: "Joints", Merged: []string{"A1:A2", "B1:B2", "C1:D1"}, Rows: [][]any{
				values("operation_date", "joint", "components"), values(nil, nil, "head", "liner"), values("2019-04-03", "hip", "C", "P"),
			}}}},
			options:  sheet.Options{IsHeadings: wanted},
			headings: cells("operation_date", "joint", "head", "liner"), heading: 2,
			preamble: cells("operation_date joint components"),
			rows:     []row{{3, cells("2019-04-03", "hip", "C", "P"), nil}},
		},
		{
			name: "neither of two heading rows is accepted alone",
			book: testtable.Workbook{Sheets: []testtable.Sheet{{Name: "Joints", Merged: []string{"A2:A3", "B2:C2"}, Rows: [][]any{
				values("title"), values("operation_date", "which"), values(nil, "joint", "side"), values("2019-04-03", "hip", "left"),
			}}}},
			options:  sheet.Options{IsHeadings: wanted},
			headings: cells("operation_date", "joint", "side"), heading: 3,
			preamble: cells("title", "operation_date which"),
			rows:     []row{{4, cells("2019-04-03", "hip", "left"), nil}},
		},
		{
			name: "merged headings of one row",
			book: testtable.Workbook{Sheets: []testtable.Sheet{{Name: "Joints", Merged: []string{"A1:B1", "A3:A4"}, Rows: [][]any{
				values("operation_date", nil, "joint"), values("2019-04-03", "x", "hip"), values("2019-04-04", nil, "hip"), values(nil, nil, "knee"),
			}}}},
			options:  sheet.Options{IsHeadings: wanted},
			headings: cells("operation_date", "", "joint"), heading: 1,
			notes: cells("1 merged cell spans several rows, and only the first of these rows has the text; the first is Joints!A3"),
			rows:  []row{{2, cells("2019-04-03", "x", "hip"), nil}, {3, cells("2019-04-04", "", "hip"), nil}, {4, cells("", "", "knee"), nil}},
		},
		{
			name: "hidden rows, columns and sheet",
			book: testtable.Workbook{Sheets: []testtable.Sheet{
				{Name: "Cover", Rows: [][]any{values("Practice")}},
				{Name: "It's 2024", Hidden: true, HiddenRows: []int{1, 3, 4}, HiddenColumns: []string{"B", "G"},
					Rows: [][]any{headingRow, values("a", "b"), values("c", testtable.Fault("#N/A")), values("e", "f")}},
			}},
			options: sheet.Options{IsHeadings: wanted}, sheet: "It's 2024",
			headings: cells("operation_date", "joint"), heading: 1,
			notes: cells(`the sheet "It's 2024" is hidden`, "hidden columns were read like the others: B",
				"2 hidden rows were read like the others; the first is row 3",
				"1 cell holds an error such as #N/A, read as empty; the first is 'It''s 2024'!B3"),
			rows: []row{{2, cells("a", "b"), nil}, {3, cells("c"), nil}, {4, cells("e", "f"), nil}},
		},
		{
			name:     "comments above the headings",
			book:     oneSheet(values("# Invented data", "seed 7"), nil, values(nil, "#"), values("#", "b"), values("# 1", 2)),
			headings: cells("#", "b"), heading: 4, preamble: cells("Invented data seed 7", ""),
			rows: []row{{5, cells("# 1", "2"), nil}},
		},
		{
			name: "several hidden columns",
			book: testtable.Workbook{Sheets: []testtable.Sheet{{Name: "Joints", HiddenColumns: []string{"A", "C", "D", "E"},
				Rows: [][]any{values("a", "b", "c", "d", "e"), values(1, 2, 3, 4, 5)}}}},
			headings: cells("a", "b", "c", "d", "e"), heading: 1,
			notes: cells("hidden columns were read like the others: A, C:E"),
			rows:  []row{{2, cells("1", "2", "3", "4", "5"), nil}},
		},
		{
			name: "sheet named, in other letters",
			book: testtable.Workbook{Sheets: []testtable.Sheet{
				{Name: "A", Rows: [][]any{headingRow}}, {Name: "Second", Rows: [][]any{headingRow, values("a", "b")}},
			}},
			options: sheet.Options{IsHeadings: wanted, Sheet: "second"}, sheet: "Second",
			headings: cells("operation_date", "joint"), heading: 1, rows: []row{{2, cells("a", "b"), nil}},
		},
		{
			name:  "the only sheet with content",
			book:  testtable.Workbook{Sheets: []testtable.Sheet{{Name: "A"}, {Name: "B", Rows: [][]any{values("x"), values("y")}}, {Name: "C", Rows: [][]any{values(" ")}}}},
			sheet: "B", headings: cells("x"), heading: 1, rows: []row{{2, cells("y"), nil}},
		},
	} {
		t.Run(tt.name, func(t *testing.T) {
			table, err := openBook(book(t, tt.book), tt.options)
			if err != nil {
				t.Fatal(err)
			}
			defer table.Close()
			got, err := collect(table)
			if err != nil {
				t.Fatal(err)
			}
			if tt.sheet == "" {
				tt.sheet = "Joints"
			}
			if d := cmp.Diff(tt.rows, got, cmp.Comparer(func(a, b error) bool { return errors.Is(a, b) })); d != "" {
				t.Errorf("rows (-want +got):\n%s", d)
			}
			if d := cmp.Diff(tt.headings, table.Headings); d != "" || table.HeadingRow != tt.heading {
				t.Errorf("heading row %d (-want +got):\n%s", table.HeadingRow, d)
			}
			if d := cmp.Diff(tt.preamble, table.Preamble); d != "" {
				t.Errorf("preamble (-want +got):\n%s", d)
			}
			notes := table.Notes()
			if len(notes) != len(tt.notes) {
				t.Fatalf("notes %q, want %q", notes, tt.notes)
			}
			for i := range notes {
				if !strings.Contains(notes[i], tt.notes[i]) {
					t.Errorf("note %q, want %q", notes[i], tt.notes[i])
				}
			}
			if want := fmt.Sprintf("workbook (.xlsx), sheet %q", tt.sheet); table.Format() != want || table.Sheet != tt.sheet {
				t.Errorf("format %q of sheet %q", table.Format(), table.Sheet)
			}
			if len(table.Sheets) != len(tt.book.Sheets) || table.Read() != table.Size {
				t.Errorf("sheets %q, %d of %d bytes read", table.Sheets, table.Read(), table.Size)
			}
		})
	}
}

func TestCell(t *testing.T) {
	for _, tt := range []struct {
		sheet       string
		row, column int
		want        string
	}{
		{"Sheet1", 17, 2, "Sheet1!C17"}, {"Sheet1", 1, 0, "Sheet1!A1"}, {"Sheet1", 2, 25, "Sheet1!Z2"},
		{"Sheet1", 2, 26, "Sheet1!AA2"}, {"Sheet1", 1048576, 16383, "Sheet1!XFD1048576"},
		{"My joints", 1, 0, "'My joints'!A1"}, {"It's", 1, 0, "'It''s'!A1"}, {"2024", 1, 0, "'2024'!A1"},
		{"AB12", 1, 0, "'AB12'!A1"}, {"R", 1, 0, "'R'!A1"}, {"Hüfte", 1, 0, "Hüfte!A1"},
		{"", 1, 0, ""}, {"Sheet1", 0, 0, ""}, {"Sheet1", 1, -1, ""},
	} {
		if got := sheet.CellName(tt.sheet, tt.row, tt.column); got != tt.want {
			t.Errorf("sheet %q, row %d, column %d: %q, want %q", tt.sheet, tt.row, tt.column, got, tt.want)
		}
	}
}

// Errors of Open or of reading, with what they must say.
func TestWorkbookRefused(t *testing.T) {
	two := testtable.Workbook{Sheets: []testtable.Sheet{
		{Name: "A", Rows: [][]any{headingRow}}, {Name: "B", Rows: [][]any{headingRow}}, {Name: "C", Rows: [][]any{values("x")}},
	}}
	plain := book(t, oneSheet(headingRow, values("x", "hip"), values("y", "knee")))
	edit := func(part string, f func(string) string) []byte {
		t.Helper()
		found := false
		out, err := testtable.Rewrite(plain, func(name string, content []byte) []byte {
			if name != part {
				return content
			}
			found = true
			if s := f(string(content)); s != "" {
				return []byte(s)
			}
			return nil
		})
		if err != nil || !found {
			t.Fatalf("part %s: %v", part, err)
		}
		return out
	}
	replace := func(part, old, new string) []byte {
		t.Helper()
		return edit(part, func(s string) string {
			if !strings.Contains(s, old) {
				t.Fatalf("%s has no %q: %s", part, old, s)
			}
			return strings.Replace(s, old, new, 1)
		})
	}
	const sheetPart, sharedPart, bookPart = "xl/worksheets/sheet1.xml", "xl/sharedStrings.xml", "xl/workbook.xml"
	flipped := bytes.Clone(plain)
	at := bytes.Index(flipped, []byte(sheetPart)) + len(sheetPart) + 40
	flipped[at] ^= 0x55
	none := func(string) string { return "" }
	for _, tt := range []struct {
		name string
		data []byte
		o    sheet.Options
		want error
		row  int
		says string
	}{
		{"several sheets", book(t, two), sheet.Options{IsHeadings: wanted}, sheet.ErrSheet, 0, `or several, which are pooled, or --sheet all: "A" and "B"`},
		{"no sheet has headings", book(t, two), sheet.Options{IsHeadings: func([]string) bool { return false }}, sheet.ErrSheet, 0, `--sheet NAME: "A", "B" and "C"`},
		{"no function, several sheets", book(t, two), sheet.Options{}, sheet.ErrSheet, 0, `"A", "B" and "C"`},
		{"sheet not there", book(t, two), sheet.Options{Sheet: "D"}, sheet.ErrSheet, 0, `no sheet "D"; the workbook has "A", "B" and "C"`},
		{"empty sheet named", book(t, oneSheet()), sheet.Options{Sheet: "Joints"}, sheet.ErrEmpty, 0, ""},
		{"empty workbook", book(t, oneSheet()), sheet.Options{}, sheet.ErrEmpty, 0, ""},
		{"only comments", book(t, oneSheet(values("# x"))), sheet.Options{}, sheet.ErrEmpty, 0, "blank and comment rows"},
		{"heading row beyond the end", plain, sheet.Options{HeadingRow: 9}, sheet.ErrEmpty, 0, "heading row 9"},
		{"heading row blank", book(t, oneSheet(nil, headingRow)), sheet.Options{HeadingRow: 1}, sheet.ErrOption, 0, "row 1 is blank"},
		{"password", book(t, testtable.Workbook{Password: "x", Sheets: two.Sheets}), sheet.Options{}, sheet.ErrPassword, 0, "take the password off"},
		{"cut short", plain[:len(plain)/2], sheet.Options{}, sheet.ErrCorrupt, 0, "directory"},
		{"a flipped byte in the sheet", flipped, sheet.Options{}, sheet.ErrCorrupt, 0, ""},
		{"no sheet part", edit(sheetPart, none), sheet.Options{}, sheet.ErrCorrupt, 0, "a sheet is missing"},
		{"no workbook part", edit(bookPart, none), sheet.Options{}, sheet.ErrCorrupt, 0, "list of sheets"},
		{"no shared texts", edit(sharedPart, none), sheet.Options{}, sheet.ErrCorrupt, 0, "part is missing"},
		{"sheet ends early", edit(sheetPart, func(s string) string { return s[:strings.Index(s, `<c r="A3"`)] }), sheet.Options{}, sheet.ErrCorrupt, 3, "ends early"},
		{"sheet ends within a tag", edit(sheetPart, func(s string) string { return s[:strings.Index(s, `<c r="B3"`)+5] }), sheet.Options{}, sheet.ErrCorrupt, 3, ""},
		{"tags crossed", replace(sheetPart, "</row>", "</c>"), sheet.Options{}, sheet.ErrCorrupt, 1, "well formed"},
		{"entity", replace(sheetPart, "<v>", "<v>&lol;"), sheet.Options{}, sheet.ErrCorrupt, 0, "well formed"},
		{"document type", replace(sharedPart, "<sst", `<!DOCTYPE x [<!ENTITY a "b">]><sst`), sheet.Options{}, sheet.ErrCorrupt, 0, "document type"},
		{"rows out of order", replace(sheetPart, `<row r="3"`, `<row r="2"`), sheet.Options{}, sheet.ErrCorrupt, 2, "rows are not in order"},
		{"cells out of order", replace(sheetPart, `<c r="B3"`, `<c r="A3"`), sheet.Options{}, sheet.ErrCorrupt, 3, "cells are not in order"},
		{"row beyond the format", replace(sheetPart, `<row r="3"`, `<row r="1048577"`), sheet.Options{}, sheet.ErrTooLarge, 2, "rows"},
		{"shared text not there", replace(sheetPart, "<v>5</v>", "<v>99</v>"), sheet.Options{}, sheet.ErrCorrupt, 3, "text that is not there"},
		{"deep", replace(sheetPart, "<sheetData>", strings.Repeat("<a>", 1000)+"<sheetData>"), sheet.Options{}, sheet.ErrCorrupt, 0, "too deep"},
		{"one text too long", replace(sharedPart, "<t>", "<t>"+strings.Repeat("x", 2<<20)), sheet.Options{}, sheet.ErrTooLarge, 0, "longer than 1 MiB"},
		{"bomb", replace(sheetPart, "<sheetData>", strings.Repeat(" ", 96<<20)+"<sheetData>"), sheet.Options{}, sheet.ErrTooLarge, 0, "when unpacked"},
		{"shared texts too many", replace(sharedPart, "<si>", strings.Repeat("<si/>", 3<<20)+strings.Repeat("<si></si>", 3<<20)+"<si>"), sheet.Options{}, sheet.ErrTooLarge, 0, ""},
		{"binary workbook", edit("_rels/.rels", func(s string) string { return strings.Replace(s, "xl/workbook.xml", "xl/workbook.bin", 1) }), sheet.Options{}, sheet.ErrWorkbook, 0, ".xlsb"},
		{"text document", edit(bookPart, func(string) string { return "<w:document></w:document>" }), sheet.Options{}, sheet.ErrCompressed, 0, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			table, err := openBook(tt.data, tt.o)
			if err == nil {
				_, err = collect(table)
			}
			var e *sheet.Error
			if !errors.Is(err, tt.want) || !errors.As(err, &e) {
				t.Fatalf("got error %v, want %v", err, tt.want)
			}
			if tt.row > 0 && e.Row != tt.row || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("got %q at row %d, want row %d and %q", err, e.Row, tt.row, tt.says)
			}
		})
	}
}

// A row whose texts are longer together than the limit is handed out as an
// error, and reading goes on.
func TestWorkbookLongRow(t *testing.T) {
	long := strings.Repeat("x", 30)
	data := book(t, oneSheet(headingRow, values(long, long, long), values("a", "b")))
	table, err := openBook(data, sheet.Options{}.WithLimit(64))
	if err != nil {
		t.Fatal(err)
	}
	got, err := collect(table)
	want := []row{{2, nil, sheet.ErrLongRecord}, {3, cells("a", "b"), nil}}
	if d := cmp.Diff(want, got, cmp.Comparer(func(a, b error) bool { return errors.Is(a, b) })); d != "" || err != nil {
		t.Errorf("%v (-want +got):\n%s", err, d)
	}
}

// A workbook that comes through a pipe is read into memory, and no file is
// left in the folder for temporary files by any workbook.
func TestWorkbookStream(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir)
	data := book(t, typed(3000).Workbook("Joints"))
	table, err := sheet.Open(context.Background(), "-", onlyReader{bytes.NewReader(data)}, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := collect(table)
	if err != nil || len(got) != 3000 || table.Size != int64(len(data)) {
		t.Errorf("%d rows, %d bytes, %v", len(got), table.Size, err)
	}
	big := io.MultiReader(bytes.NewReader(data[:1<<10]), &zeros{65 << 20})
	if _, err := sheet.Open(context.Background(), "-", onlyReader{big}, sheet.Options{}); !errors.Is(err, sheet.ErrNotSeekable) || !strings.Contains(err.Error(), "name of the file") {
		t.Errorf("more than the limit: %v", err)
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
		t.Errorf("files left behind: %v, %v", left, err)
	}
}

type onlyReader struct{ io.Reader }

type zeros struct{ n int }

func (z *zeros) Read(p []byte) (int, error) {
	if z.n == 0 {
		return 0, io.EOF
	}
	n := min(z.n, len(p))
	clear(p[:n])
	z.n -= n
	return n, nil
}

// A named file is closed with the table, and stopping is heeded.
func TestWorkbookFile(t *testing.T) {
	name := filepath.Join(t.TempDir(), "t.xlsx")
	if err := os.WriteFile(name, book(t, typed(5000).Workbook("Joints")), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	table, err := sheet.Open(ctx, name, nil, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := table.Next()
	rows := 0
	if err == nil {
		for range b.Rows {
			rows++
		}
	}
	if err != nil || rows < 1000 {
		t.Fatalf("first batch: %v", err)
	}
	cancel()
	if _, err := table.Next(); !errors.Is(err, context.Canceled) {
		t.Errorf("after the context was done: %v", err)
	}
	if err := table.Close(); err != nil {
		t.Error(err)
	}
	if _, err := sheet.Open(ctx, name, nil, sheet.Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("opened with a context that is done: %v", err)
	}
}

// A table written as a workbook gives the same cells as written as CSV.
func TestWorkbookAsCSV(t *testing.T) {
	table := typed(4000)
	var text bytes.Buffer
	w := csv.NewWriter(&text)
	var headings []string
	for _, c := range table.Columns {
		headings = append(headings, c.Name)
	}
	w.Write(headings)
	w.WriteAll(table.Rows)
	var results [][][]string
	for _, data := range [][]byte{text.Bytes(), book(t, table.Workbook("Joints"))} {
		opened, err := openBook(data, sheet.Options{})
		if err != nil {
			t.Fatal(err)
		}
		got, err := collect(opened)
		if err != nil {
			t.Fatal(err)
		}
		result := [][]string{opened.Headings}
		for i, r := range got {
			if r.Row != i+2 || r.Err != nil {
				t.Fatalf("record %d at row %d, %v", i, r.Row, r.Err)
			}
			for len(r.Cells) > 0 && r.Cells[len(r.Cells)-1] == "" {
				r.Cells = r.Cells[:len(r.Cells)-1]
			}
			result = append(result, r.Cells)
		}
		results = append(results, result)
	}
	if d := cmp.Diff(results[0], results[1]); d != "" {
		t.Errorf("-CSV +workbook:\n%s", d)
	}
}

// The same workbook read by another library gives the same texts, where the
// two are meant to agree: all cells but dates and logical values.
func TestWorkbookAgainstExcelize(t *testing.T) {
	table := typed(2000)
	for i := range table.Columns {
		if table.Columns[i].Type == testtable.Date {
			table.Columns[i].Type = testtable.Text
		}
	}
	data := book(t, table.Workbook("Joints"))
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want, err := f.GetRows("Joints", excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	opened, err := openBook(data, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	rows, err := collect(opened)
	if err != nil {
		t.Fatal(err)
	}
	var got [][]string
	for _, r := range rows {
		got = append(got, r.Cells)
	}
	if d := cmp.Diff(want[1:], got); d != "" {
		t.Errorf("-excelize +rows:\n%s", d)
	}
}

// large writes a workbook with 25 columns of dates, words and numbers.
func large(tb testing.TB, n int) []byte {
	f := excelize.NewFile()
	defer f.Close()
	sw, err := f.NewStreamWriter("Sheet1")
	if err != nil {
		tb.Fatal(err)
	}
	format := "yyyy-mm-dd"
	style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
	if err != nil {
		tb.Fatal(err)
	}
	row := make([]any, 25)
	for j := range row {
		row[j] = fmt.Sprintf("heading %d", j)
	}
	for i := range n + 1 {
		if err := sw.SetRow(fmt.Sprintf("A%d", i+1), row); err != nil {
			tb.Fatal(err)
		}
		for j := range row {
			switch j % 3 {
			case 0:
				row[j] = excelize.Cell{StyleID: style, Value: 40000 + (i*7+j)%5000}
			case 1:
				row[j] = fmt.Sprintf("word %d", (i+j)%40)
			default:
				row[j] = float64(i) / 8
			}
		}
	}
	if err := sw.Flush(); err != nil {
		tb.Fatal(err)
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		tb.Fatal(err)
	}
	return out.Bytes()
}

// Streaming holds no more than a batch, whatever the number of rows.
func TestWorkbookMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("writes a large workbook")
	}
	const n = 40_000
	data := large(t, n)
	runtime.GC()
	var before, now runtime.MemStats
	runtime.ReadMemStats(&before)
	table, err := openBook(data, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	rows, most := 0, uint64(0)
	for {
		b, err := table.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		for range b.Rows {
			rows++
		}
		b.Release()
		if rows%8192 == 0 {
			runtime.GC()
			runtime.ReadMemStats(&now)
			most = max(most, now.HeapAlloc)
		}
	}
	// A batch is about half a MiB; 8 MiB leave room for what else the test
	// process holds. The sheet alone is 40 MiB of XML.
	if held := int64(most) - int64(before.HeapAlloc); rows != n || held > 8<<20 {
		t.Errorf("%d rows, %d KiB held", rows, held>>10)
	}
}

// Hostile workbooks are refused or read within bounded memory and time.
func TestWorkbookHostile(t *testing.T) {
	if testing.Short() {
		t.Skip("unpacks archives up to the limits")
	}
	plain := book(t, oneSheet(headingRow, values("x", "hip")))
	insert := func(part, before, what string) []byte {
		out, err := testtable.Rewrite(plain, func(name string, content []byte) []byte {
			if name == part {
				return bytes.Replace(content, []byte(before), []byte(what+before), 1)
			}
			return content
		})
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	var cells strings.Builder
	cells.WriteString(`<row r="3">`)
	for range 16384 {
		cells.WriteString(`<c t="s"><v>0</v></c>`)
	}
	cells.WriteString("</row>")
	// Each of the cells refers to the text of 200 kB: 3 GB in one row.
	long := "<si><t>" + strings.Repeat("abcdefghij", 20_000) + "</t></si>"
	amplified, err := testtable.Rewrite(insert("xl/worksheets/sheet1.xml", "</sheetData>", cells.String()), func(name string, content []byte) []byte {
		if name == "xl/sharedStrings.xml" {
			return bytes.Replace(content, []byte("<si>"), []byte(long+"<si>"), 1)
		}
		return content
	})
	if err != nil {
		t.Fatal(err)
	}
	// A thousand sheets that are all one part of a million blank rows.
	shared, err := testtable.Rewrite(insert("xl/worksheets/sheet1.xml", "</sheetData>", strings.Repeat("<row/>", 1_000_000)), func(name string, content []byte) []byte {
		if name == "xl/workbook.xml" {
			k := bytes.Index(content, []byte("<sheet "))
			one := content[k:][:bytes.Index(content[k:], []byte("</sheets>"))]
			return slices.Concat(content[:k], bytes.Repeat(one, 999), content[k+len(one):])
		}
		return content
	})
	if err != nil {
		t.Fatal(err)
	}
	// Nine hundred sheets with the row of 3 GB, forty times.
	repeated, err := testtable.Rewrite(amplified, func(name string, content []byte) []byte {
		switch name {
		case "xl/workbook.xml":
			k := bytes.Index(content, []byte("<sheet "))
			one := content[k:][:bytes.Index(content[k:], []byte("</sheets>"))]
			return slices.Concat(content[:k], bytes.Repeat(one, 900), content[k+len(one):])
		case "xl/worksheets/sheet1.xml":
			few := "<row>" + strings.Repeat(`<c t="s"><v>0</v></c>`, 5) + "</row>"
			return bytes.Replace(content, []byte("</sheetData>"), []byte(strings.Repeat(few, 40)+"</sheetData>"), 1)
		}
		return content
	})
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{
		"many sheets, long rows": repeated,
		"many sheets, one part":  shared,
		"empty rows":             insert("xl/worksheets/sheet1.xml", "</sheetData>", strings.Repeat("<row/>", 1_048_577)),
		"cells with formats":     insert("xl/worksheets/sheet1.xml", "</sheetData>", "<row>"+strings.Repeat(`<c/>`, 16_385)+"</row>"),
		"one text in many cells": amplified,
		"attributes":             insert("xl/worksheets/sheet1.xml", "</sheetData>", "<row "+strings.Repeat(`a="" `, 1<<18)+"></row>"),
		"comment":                insert("xl/worksheets/sheet1.xml", "</sheetData>", "<!--"+strings.Repeat("abcdefgh ", 1<<18)+"-->"),
		"formats":                insert("xl/styles.xml", "</cellXfs>", strings.Repeat("<xf/>", 1<<17)),
		"merged cells":           insert("xl/worksheets/sheet1.xml", "</worksheet>", "<mergeCells>"+strings.Repeat(`<mergeCell ref="A1:A9"/>`, 1<<18)+"</mergeCells>"),
	} {
		t.Run(name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.GC()
			runtime.ReadMemStats(&before)
			start := time.Now()
			table, err := openBook(data, sheet.Options{IsHeadings: func([]string) bool { return false }})
			if err == nil {
				_, err = collect(table)
				table.Close()
			}
			runtime.ReadMemStats(&after)
			t.Logf("%v, %v, %d MiB allocated", err, time.Since(start), (after.TotalAlloc-before.TotalAlloc)>>20)
			if held := after.Sys - before.Sys; held > 256<<20 {
				t.Errorf("%d MiB more taken from the system", held>>20)
			}
			if err != nil && !errors.Is(err, sheet.ErrTooLarge) && !errors.Is(err, sheet.ErrCorrupt) {
				t.Error(err)
			}
		})
	}
}

func BenchmarkReadWorkbook(b *testing.B) {
	for _, n := range []int{5e3, 1e5} {
		data := large(b, n)
		b.Run(fmt.Sprintf("rows=%.0e", float64(n)), func(b *testing.B) {
			b.SetBytes(int64(len(data)))
			b.ReportAllocs()
			for b.Loop() {
				table, err := openBook(data, sheet.Options{})
				if err != nil {
					b.Fatal(err)
				}
				rows := 0
				for {
					batch, err := table.Next()
					if err == io.EOF {
						break
					}
					if err != nil {
						b.Fatal(err)
					}
					for range batch.Rows {
						rows++
					}
					batch.Release()
				}
				if rows != n {
					b.Fatalf("%d rows of %d", rows, n)
				}
			}
		})
	}
}
