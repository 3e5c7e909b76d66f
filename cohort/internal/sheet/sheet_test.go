package sheet_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort/internal/sheet"
)

// row is a record as the tests compare it.
type row struct {
	Row   int
	Cells []string
	Err   error
}

// collect reads a table to its end.
func collect(t *sheet.Table) ([]row, error) {
	var got []row
	for seq := 0; ; seq++ {
		b, err := t.Next()
		if err == io.EOF {
			return got, nil
		}
		if err != nil {
			return got, err
		}
		if b.Seq != seq {
			return got, fmt.Errorf("batch %d came as %d", b.Seq, seq)
		}
		for r := range b.Rows {
			var cells []string
			for i := range r.Len() {
				cells = append(cells, string(r.Cell(i)))
			}
			got = append(got, row{r.Row, cells, r.Err})
		}
		b.Release()
	}
}

func open(text string, o sheet.Options) (*sheet.Table, error) {
	return sheet.Open(context.Background(), "t.csv", strings.NewReader(text), o)
}

// wide16 encodes text as UTF-16, low byte first, without byte order mark.
func wide16(s string, big bool) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(s)) {
		if big {
			b = append(b, byte(u>>8), byte(u))
		} else {
			b = append(b, byte(u), byte(u>>8))
		}
	}
	return string(b)
}

func cells(s ...string) []string { return s }

// numbered is n rows of "1" and "2" from row 2.
func numbered(n int) []row {
	var rows []row
	for i := range n {
		rows = append(rows, row{i + 2, cells("1", "2"), nil})
	}
	return rows
}

// All expected values here are worked by hand from the rules in the package
// documentation.
var textTables = []struct {
	name     string
	text     string
	options  sheet.Options
	headings []string
	heading  int
	preamble []string
	format   string
	rows     []row
}{
	{
		name: "commas", text: "a,b,c\n1,2,3\n4,5,6\n",
		headings: cells("a", "b", "c"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("1", "2", "3"), nil}, {3, cells("4", "5", "6"), nil}},
	},
	{
		name: "no line end at the end", text: "a,b\r\n1,2\r\n3,4",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("1", "2"), nil}, {3, cells("3", "4"), nil}},
	},
	{
		name: "semicolons and decimal commas", text: "age;in days, if known;x\n1,5;2;3\n4,5;5;6\n",
		headings: cells("age", "in days, if known", "x"), heading: 1, format: "text, semicolon-separated, UTF-8",
		rows: []row{{2, cells("1,5", "2", "3"), nil}, {3, cells("4,5", "5", "6"), nil}},
	},
	{
		name: "tabs", text: "a\tb\n\t2\n3\t\n",
		headings: cells("a", "b"), heading: 1, format: "text, tab-separated, UTF-8",
		rows: []row{{2, cells("", "2"), nil}, {3, cells("3", ""), nil}},
	},
	{
		name: "bars", text: "a|b\n1,2|2,3\n",
		headings: cells("a", "b"), heading: 1, format: "text, bar-separated, UTF-8",
		rows: []row{{2, cells("1,2", "2,3"), nil}},
	},
	{
		name: "separators inside quotation marks", text: "a;\"x,y,z\";c\n\"1,2,3\";2;3\n",
		headings: cells("a", "x,y,z", "c"), heading: 1, format: "text, semicolon-separated, UTF-8",
		rows: []row{{2, cells("1,2,3", "2", "3"), nil}},
	},
	{
		name: "one column", text: "a\n1\n",
		headings: cells("a"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("1"), nil}},
	},
	{
		name: "separator line", text: "sep=;\r\na,b;c\r\n1;2\r\n",
		headings: cells("a,b", "c"), heading: 2, format: "text, semicolon-separated, UTF-8",
		rows: []row{{3, cells("1", "2"), nil}},
	},
	{
		name: "separator given", text: "a,b;c\n1,2;3\n", options: sheet.Options{Delimiter: ','},
		headings: cells("a", "b;c"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("1", "2;3"), nil}},
	},
	{
		name: "comments and blank lines above the headings", text: "\n# Invented data, seed 7\n\"# one, two\",,\n ,,\n#\na,b,\n1,2,\n",
		headings: cells("a", "b"), heading: 6, preamble: cells("Invented data, seed 7", "one, two", ""),
		format: "CSV, comma-separated, UTF-8",
		rows:   []row{{7, cells("1", "2"), nil}},
	},
	{
		name: "number sign as a heading", text: "#,b\n1,2\n",
		headings: cells("#", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("1", "2"), nil}},
	},
	{
		name: "number sign in the data", text: "a,b\n# 1,2\n",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("# 1", "2"), nil}},
	},
	{
		name: "heading row given", text: "Department of x,\n\nName;a;b\nP;1;2\n", options: sheet.Options{HeadingRow: 3},
		headings: cells("Name", "a", "b"), heading: 3, preamble: cells("Department of x"),
		format: "text, semicolon-separated, UTF-8",
		rows:   []row{{4, cells("P", "1", "2"), nil}},
	},
	{
		name: "titles above the headings", text: "Joints; of 2024\n\"A, B\",,\n\n# seed 7\nx\noperation_date;joint\n2019-04-03;hip\n",
		options: sheet.Options{IsHeadings: wanted}, headings: cells("operation_date", "joint"), heading: 6,
		preamble: cells("Joints; of 2024", "A, B", "seed 7", "x"), format: "text, semicolon-separated, UTF-8",
		rows: []row{{7, cells("2019-04-03", "hip"), nil}},
	},
	{
		name: "headings with another separator inside", text: "t,i,t,l,e\n\"joint\"\t operation_date \ta,b,c,d\nhip\t2019-04-03\t1,2,3,4\nhip\t2019-04-03\t1,2,3,4\n",
		options: sheet.Options{IsHeadings: wanted}, headings: cells("joint", "operation_date", "a,b,c,d"), heading: 2,
		preamble: cells("t,i,t,l,e"), format: "text, tab-separated, UTF-8",
		rows: []row{{3, cells("hip", "2019-04-03", "1,2,3,4"), nil}, {4, cells("hip", "2019-04-03", "1,2,3,4"), nil}},
	},
	{
		name: "separator given that divides no headings", text: "title\njoint,operation_date\n1;2\n", options: sheet.Options{IsHeadings: wanted, Delimiter: ';'},
		headings: cells("title"), heading: 1, format: "text, semicolon-separated, UTF-8",
		rows: []row{{2, cells("joint,operation_date"), nil}, {3, cells("1", "2"), nil}},
	},
	{
		name: "no line is accepted", text: "# c\na,b\n# 1,2\n3,4\n", options: sheet.Options{IsHeadings: wanted},
		headings: cells("a", "b"), heading: 2, preamble: cells("c"), format: "CSV, comma-separated, UTF-8",
		rows: []row{{3, cells("# 1", "2"), nil}, {4, cells("3", "4"), nil}},
	},
	{
		name: "headings below the sixtieth line", text: "a,b\n" + strings.Repeat("1,2\n", 60) + "joint,operation_date\n", options: sheet.Options{IsHeadings: wanted},
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: append(numbered(60), row{62, cells("joint", "operation_date"), nil}),
	},
	{
		name: "headings on the sixtieth line that is not blank", text: strings.Repeat("1,2\n\n", 59) + "joint,operation_date\n", options: sheet.Options{IsHeadings: wanted},
		headings: cells("joint", "operation_date"), heading: 119, preamble: slices.Repeat(cells("1,2"), 59), format: "CSV, comma-separated, UTF-8",
	},
	{
		name: "heading row given above the headings", text: "a,b\njoint,operation_date\n", options: sheet.Options{IsHeadings: wanted, HeadingRow: 1},
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("joint", "operation_date"), nil}},
	},
	{
		name: "line end in a heading below a title with a stray mark", text: "\"title\njoint,\"operation\n_date\",operation_date\nhip,x,2019-04-03\n", options: sheet.Options{IsHeadings: wanted},
		headings: cells("joint", "operation\n_date", "operation_date"), heading: 2, preamble: cells("title"), format: "CSV, comma-separated, UTF-8",
		rows: []row{{4, cells("hip", "x", "2019-04-03"), nil}},
	},
	{
		name: "blank rows are skipped and counted", text: "a,b\n\n1,2\n,\n \t, \r\n\"\",\"\"\n\u00a0,\n3,4\n\n\n",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{3, cells("1", "2"), nil}, {8, cells("3", "4"), nil}},
	},
	{
		name: "short and long rows", text: "a,b,c\n1\n1,2,3,,,\n1,2,3,,5,\n",
		headings: cells("a", "b", "c"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("1"), nil}, {3, cells("1", "2", "3"), nil}, {4, cells("1", "2", "3", "", "5"), nil}},
	},
	{
		name: "quotation marks", text: "a,b\n\"1\"\"2\",\"x\"\r\n\"one\ntwo\",\"\"\"\"\n5\" cup,say \"no\"\n\"3\"4,\"5\"\"6\"7\"8\"\n\"9\"\n",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{
			{2, cells(`1"2`, "x"), nil},
			{3, cells("one\ntwo", `"`), nil},
			{5, cells(`5" cup`, `say "no"`), nil},
			{6, cells("34", `5"67"8"`), nil},
			{7, cells("9"), nil},
		},
	},
	{
		name: "quoted cell open to the end of the file", text: "a,b\n1,\"2\n3,4\n5,6",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, nil, sheet.ErrQuote}, {3, cells("3", "4"), nil}, {4, cells("5", "6"), nil}},
	},
	{
		name: "stray mark, next mark opens another cell", text: "a,b\n1,\"2\n3,4\n5,\"6\"\n",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, nil, sheet.ErrQuote}, {3, cells("3", "4"), nil}, {4, cells("5", "6"), nil}},
	},
	{
		name: "stray mark on the last line", text: "a,b\n1,2\n3,\"4",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("1", "2"), nil}, {3, nil, sheet.ErrQuote}},
	},
	{
		name: "line of exactly the limit, and one byte more", options: sheet.Options{}.WithLimit(8),
		text:     "a,b\n123,567\n1234,678\n3,4\n123456789",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("123", "567"), nil}, {3, nil, sheet.ErrLongRecord}, {4, cells("3", "4"), nil}, {5, nil, sheet.ErrLongRecord}},
	},
	{
		name: "quoted cell longer than the limit", options: sheet.Options{}.WithLimit(12),
		text:     "a,b\n1,\"2\n3,4\n5,6\n7,8\"\n9,0\n",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, nil, sheet.ErrQuote}, {3, cells("3", "4"), nil}, {4, cells("5", "6"), nil}, {5, cells("7", `8"`), nil}, {6, cells("9", "0"), nil}},
	},
	{
		name: "record of several lines longer than the limit", options: sheet.Options{}.WithLimit(12),
		text:     "a,b\n\"1\n2\",45678901\n9,0\n",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, nil, sheet.ErrLongRecord}, {4, cells("9", "0"), nil}},
	},
	{
		name: "byte order mark", text: "\xef\xbb\xbf a ,b\n\u00e9,2\n",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("\u00e9", "2"), nil}},
	},
	{
		name: "UTF-16, low byte first", text: "\xff\xfe" + wide16("a;b\r\n\u00e9;\u20ac\r\n", false),
		headings: cells("a", "b"), heading: 1, format: "text, semicolon-separated, UTF-16",
		rows: []row{{2, cells("\u00e9", "\u20ac"), nil}},
	},
	{
		name: "UTF-16, high byte first", text: "\xfe\xff" + wide16("a\tb\n1\t\U0001f9b4\n", true),
		headings: cells("a", "b"), heading: 1, format: "text, tab-separated, UTF-16",
		rows: []row{{2, cells("1", "\U0001f9b4"), nil}},
	},
	{
		name: "UTF-16 without byte order mark", text: wide16("a,b\n1,2\n", false),
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-16",
		rows: []row{{2, cells("1", "2"), nil}},
	},
	{
		name: "Windows-1252", text: "a,b\n1,2\nn\xe9e,\x80\n",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, Windows-1252",
		rows: []row{{2, cells("1", "2"), nil}, {3, cells("n\u00e9e", "\u20ac"), nil}},
	},
	{
		name: "Windows-1252 in the headings", text: "\xe2ge;b\n1;2\n",
		headings: cells("\u00e2ge", "b"), heading: 1, format: "text, semicolon-separated, Windows-1252",
		rows: []row{{2, cells("1", "2"), nil}},
	},
	{
		name: "half a character at the end", text: "a,b\n1,2\xc3",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, Windows-1252",
		rows: []row{{2, cells("1", "2\u00c3"), nil}},
	},
	{
		name: "encoding given", text: "a,b\n\xa4,\xe9\n", options: sheet.Options{Encoding: "ISO-8859-15"},
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, ISO-8859-15",
		rows: []row{{2, cells("\u20ac", "\u00e9"), nil}},
	},
	{
		name: "CR alone", text: "a,b\r1,2\r\r3,\"4\r5\"\r",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{2, cells("1", "2"), nil}, {4, cells("3", "4\n5"), nil}},
	},
	{
		name: "headings only", text: "a,b",
		headings: cells("a", "b"), heading: 1, format: "CSV, comma-separated, UTF-8",
	},
	{
		name: "heading over two lines", text: "\"a\nb\",c\n1,2\n",
		headings: cells("a\nb", "c"), heading: 1, format: "CSV, comma-separated, UTF-8",
		rows: []row{{3, cells("1", "2"), nil}},
	},
}

func TestText(t *testing.T) {
	for _, tt := range textTables {
		for _, block := range []int{0, 1, 2, 3, 7, 64} {
			t.Run(fmt.Sprintf("%s/block=%d", tt.name, block), func(t *testing.T) {
				table, err := open(tt.text, tt.options.InBlocks(block))
				if err != nil {
					t.Fatal(err)
				}
				got, err := collect(table)
				if err != nil {
					t.Fatal(err)
				}
				if d := cmp.Diff(tt.headings, table.Headings); d != "" {
					t.Errorf("headings (-want +got):\n%s", d)
				}
				if d := cmp.Diff(tt.preamble, table.Preamble); d != "" {
					t.Errorf("preamble (-want +got):\n%s", d)
				}
				if table.HeadingRow != tt.heading {
					t.Errorf("heading row %d, want %d", table.HeadingRow, tt.heading)
				}
				if table.Format() != tt.format {
					t.Errorf("format %q, want %q", table.Format(), tt.format)
				}
				if table.Read() != int64(len(tt.text)) || table.Size != int64(len(tt.text)) {
					t.Errorf("read %d of %d bytes, want %d", table.Read(), table.Size, len(tt.text))
				}
				same := cmp.Comparer(func(a, b error) bool { return errors.Is(a, b) })
				if d := cmp.Diff(tt.rows, got, same); d != "" {
					t.Errorf("rows (-want +got):\n%s", d)
				}
			})
		}
	}
}

func TestRefused(t *testing.T) {
	long := strings.Repeat("x", 2<<20)
	for _, tt := range []struct {
		name string
		text string
		o    sheet.Options
		want error
		row  int
		says string
	}{
		{"empty", "", sheet.Options{}, sheet.ErrEmpty, 0, ""},
		{"only a mark", "\xef\xbb\xbf", sheet.Options{}, sheet.ErrEmpty, 0, "blank and comment lines"},
		{"blank lines", "\n\n , \n# x\n", sheet.Options{}, sheet.ErrEmpty, 0, "blank and comment lines"},
		{"heading row beyond the end", "a,b\n", sheet.Options{HeadingRow: 9}, sheet.ErrEmpty, 0, "heading row 9"},
		{"NUL in the headings", "a\x00b,c\n1,2\n", sheet.Options{}, sheet.ErrBinary, 1, ""},
		{"NUL in the data", "a,b\n1,2\n3,\x00\n", sheet.Options{}, sheet.ErrBinary, 3, ""},
		{"image", "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", sheet.Options{}, sheet.ErrBinary, 3, ""},
		{"PDF", "%PDF-1.7\n", sheet.Options{}, sheet.ErrBinary, 0, "PDF"},
		{"web page", "\xef\xbb\xbf\n<html><table>", sheet.Options{}, sheet.ErrBinary, 0, "web page"},
		{"UTF-8, then not", "a,b\n\u00e9,2\n1,2\nn\xe9e,2\n", sheet.Options{}, sheet.ErrEncoding, 4, "save the file as UTF-8"},
		{"UTF-8 by its mark, then not", "\xef\xbb\xbfa,b\n1,\xe9\n", sheet.Options{}, sheet.ErrEncoding, 2, ""},
		{"UTF-8 as told, then not", "a,b\n1,\xe9\n", sheet.Options{Encoding: "UTF-8"}, sheet.ErrEncoding, 2, ""},
		{"UTF-16 cut short", "\xff\xfe" + wide16("a,b\n1,2", false) + "x", sheet.Options{}, sheet.ErrEncoding, 2, ""},
		{"workbook cut short", "PK\x03\x04..[Content_Types].xml", sheet.Options{}, sheet.ErrCorrupt, 0, "directory"},
		{"OpenDocument", "PK\x03\x04..mimetypeapplication/vnd.oasis.opendocument.spreadsheet", sheet.Options{}, sheet.ErrWorkbook, 0, "save it as .xlsx or"},
		{"Numbers", "PK\x03\x04..Index/Document.iwa", sheet.Options{}, sheet.ErrWorkbook, 0, "save it as .xlsx or"},
		{"XML spreadsheet", "<?xml version=\"1.0\"?><Workbook>", sheet.Options{}, sheet.ErrBinary, 0, "save it as .xlsx or CSV"},
		{"zip", "PK\x03\x04..t.csv", sheet.Options{}, sheet.ErrCompressed, 0, "zip"},
		{"old workbook by its contents", oldWorkbook(0), sheet.Options{}, sheet.ErrWorkbook, 0, "(.xls); open it in a spreadsheet program and save it as .xlsx"},
		{"old workbook, contents listed far behind", oldWorkbook(9000), sheet.Options{}.WithHead(1000), sheet.ErrWorkbook, 0, "(.xls); open it"},
		{"old workbook", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", sheet.Options{}, sheet.ErrWorkbook, 0, "password"},
		{"gzip", "\x1f\x8b\x08", sheet.Options{}, sheet.ErrCompressed, 0, "gzip"},
		{"Parquet cut short", "PAR1", sheet.Options{}, sheet.ErrCorrupt, 0, ""},
		{"encrypted Parquet", "PARE", sheet.Options{}, sheet.ErrUnsupported, 0, ""},
		{"Arrow file cut short", "ARROW1\x00\x00", sheet.Options{}, sheet.ErrCorrupt, 0, ""},
		{"Arrow stream cut short", "\xff\xff\xff\xff", sheet.Options{}, sheet.ErrCorrupt, 0, ""},
		{"heading line too long", long, sheet.Options{}, sheet.ErrLongRecord, 1, ""},
		{"comment too long", "#" + long, sheet.Options{}, sheet.ErrLongRecord, 0, ""},
		{"heading quote open", "a,\"b\n1,2\n", sheet.Options{}, sheet.ErrQuote, 1, ""},
		{"separator not allowed", "a,b\n", sheet.Options{Delimiter: '"'}, sheet.ErrOption, 0, ""},
		{"encoding not known", "a,b\n", sheet.Options{Encoding: "x"}, sheet.ErrOption, 0, "windows-1252"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			table, err := open(tt.text, tt.o)
			if err == nil {
				_, err = collect(table)
			}
			var e *sheet.Error
			if !errors.Is(err, tt.want) || !errors.As(err, &e) {
				t.Fatalf("got error %v, want %v", err, tt.want)
			}
			if e.Row != tt.row || e.File != "t.csv" || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("got %q at row %d, want row %d and %q", err, e.Row, tt.row, tt.says)
			}
		})
	}
}

// oldWorkbook is the start of an OLE2 container whose list of contents names a
// workbook, with so many sectors in between.
func oldWorkbook(sectors int) string {
	head := make([]byte, 512)
	copy(head, "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1")
	head[30] = 9
	head[48], head[49] = byte(sectors), byte(sectors>>8)
	return string(head) + strings.Repeat("\x00", 512*sectors) + wide16("Root Entry\x00Workbook\x00", false)
}

func TestOpenFiles(t *testing.T) {
	dir := t.TempDir()
	if _, err := sheet.Open(context.Background(), dir, nil, sheet.Options{}); !errors.Is(err, sheet.ErrDirectory) {
		t.Errorf("folder: %v", err)
	}
	missing := filepath.Join(dir, "none.csv")
	_, err := sheet.Open(context.Background(), missing, nil, sheet.Options{})
	if !errors.Is(err, os.ErrNotExist) || strings.Count(err.Error(), missing) != 1 {
		t.Errorf("missing file: %v", err)
	}
	name := filepath.Join(dir, "t.txt")
	if err := os.WriteFile(name, []byte("a,b\n1,2\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	table, err := sheet.Open(context.Background(), name, nil, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := collect(table)
	if err != nil || len(got) != 1 || table.Size != 8 {
		t.Errorf("%d rows of %d bytes, %v", len(got), table.Size, err)
	}
	if err := table.Close(); err != nil {
		t.Error(err)
	}
}

// failing gives some bytes and then an error.
type failing struct{ r io.Reader }

var errDisk = errors.New("input/output error")

func (f failing) Read(p []byte) (int, error) {
	n, err := f.r.Read(p)
	if err == io.EOF {
		err = errDisk
	}
	return n, err
}

func TestReadError(t *testing.T) {
	text := "a,b\n" + strings.Repeat("1,2\n", 1<<19)
	table, err := sheet.Open(context.Background(), "t.csv", failing{strings.NewReader(text)}, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	_, err = collect(table)
	var e *sheet.Error
	if !errors.Is(err, errDisk) || !errors.As(err, &e) {
		t.Errorf("got %v", err)
	}
	if _, again := table.Next(); again != err {
		t.Errorf("the error did not stay: %v", again)
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	table, err := sheet.Open(ctx, "t.csv", strings.NewReader("a,b\n1,2\n"), sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	cancel()
	if _, err := table.Next(); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}

// Ten thousand columns, and a table larger than several blocks, read by
// several goroutines.
func TestManyColumnsManyWorkers(t *testing.T) {
	const columns, records = 10_000, 200
	var text bytes.Buffer
	for i := range columns {
		fmt.Fprintf(&text, "c%d,", i)
	}
	for j := range records {
		text.WriteByte('\n')
		for i := range columns {
			fmt.Fprintf(&text, "%d,", i*j)
		}
	}
	table, err := sheet.Open(context.Background(), "t.csv", &text, sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(table.Headings) != columns {
		t.Fatalf("%d headings", len(table.Headings))
	}
	rows := make(chan int, records)
	errs := make(chan error, 4)
	for range 4 {
		go func() {
			for {
				b, err := table.Next()
				if err != nil {
					errs <- err
					return
				}
				for r := range b.Rows {
					if r.Len() != columns || string(r.Cell(columns-1)) != fmt.Sprint((columns-1)*(r.Row-2)) {
						errs <- fmt.Errorf("row %d is wrong", r.Row)
					}
					rows <- r.Row
				}
				b.Release()
			}
		}()
	}
	for range 4 {
		if err := <-errs; err != io.EOF {
			t.Fatal(err)
		}
	}
	close(rows)
	seen := map[int]bool{}
	for r := range rows {
		seen[r] = true
	}
	if len(seen) != records || !seen[2] || !seen[records+1] {
		t.Errorf("%d rows", len(seen))
	}
}

// A line of 40 MB must not be held in memory, and its neighbours are kept.
func TestVeryLongLine(t *testing.T) {
	long := strings.Repeat("x", 40<<20)
	table, err := open("a,b\n1,2\n"+long+"\n3,4\n", sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := collect(table)
	if err != nil || len(got) != 3 || got[1].Err != sheet.ErrLongRecord || got[2].Row != 4 {
		t.Fatalf("%v %v", got, err)
	}
	if n := table.KeptBuffer(); n > 8<<20 {
		t.Errorf("a buffer of %d bytes was kept", n)
	}
}

func TestMultiLineRecordLines(t *testing.T) {
	table, err := open("a,b\n\"1\n\n2\",3\n4,5\n6,\"7\n\"", sheet.Options{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := table.Next()
	if err != nil {
		t.Fatal(err)
	}
	var got [][2]int
	for r := range b.Rows {
		got = append(got, [2]int{r.Row, r.Lines})
	}
	if d := cmp.Diff([][2]int{{2, 3}, {5, 1}, {6, 2}}, got); d != "" {
		t.Error(d)
	}
}

// Where some heading is empty, the row right above is handed out, unless it is a
// title, a comment or farther up.
func TestUpper(t *testing.T) {
	wanted := func(cells []string) bool { return slices.Contains(cells, "day") }
	for _, tt := range []struct {
		text            string
		headings, upper []string
	}{
		{"id,Group,,site\n,day,side,\n1,2,3,4\n", []string{"", "day", "side", ""}, []string{"id", "Group", "", "site"}},
		{"Title\n,day\n", []string{"", "day"}, nil},
		{"id,Group\nday,side\n", []string{"day", "side"}, nil},
		{"id,Group\n\n,day\n", []string{"", "day"}, nil},
		{"# id,Group\n,day\n", []string{"", "day"}, nil},
		{"a,b\nid,Group\n,day\n", []string{"", "day"}, []string{"id", "Group"}},
		{"a,b\n\"patient\nid\",Group\n,day\n", []string{"", "day"}, []string{"patient\nid", "Group"}},
	} {
		table, err := sheet.Open(t.Context(), "t.csv", strings.NewReader(tt.text), sheet.Options{IsHeadings: wanted})
		if err != nil {
			t.Fatalf("%q: %v", tt.text, err)
		}
		if diff := cmp.Diff([][]string{tt.headings, tt.upper}, [][]string{table.Headings, table.Upper}); diff != "" {
			t.Errorf("%q: headings and the row above (-want +got):\n%s", tt.text, diff)
		}
	}
}
