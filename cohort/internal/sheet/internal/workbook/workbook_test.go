package workbook

import (
	"bytes"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// What the formats show is common practice of spreadsheet programs; the codes
// with brackets and East Asian ones are among the examples of ECMA-376 part 1,
// 18.8.30 and 18.8.31.
func TestDateFormat(t *testing.T) {
	for code, want := range map[string]bool{
		"General": false, "general": false, "0.00": false, "0.00E+00": false, "#,##0": false, "@": false, "": false,
		"yyyy-mm-dd": true, `yyyy\-mm\-dd`: true, "d/m/yy": true, "m/d": true, "mmm": true, "MMMM": true, "yyyy": true, "d.": true,
		"m/d/yyyy h:mm": true, "DD/MM/YYYY": true, "[$-409]d-mmm-yy;@": true, "[$-F800]dddd\\,\\ mmmm dd": true, `[$-404]e"年"m"月"d"日"`: true,
		"h:mm": false, "mm:ss": false, "mm:ss.0": false, "[h]:mm:ss": false, "[mm]:ss": false, "h:mm AM/PM": false, "h a/p": false,
		"mm": true, `0 "days"`: false, `0\d`: false, "0_d": false, "0*d": false, "[Red]0;[Red]d": false, "0;d": false, "[Red]d;0": true,
		"[>1000]0": false, `"d`: false, "[d": false, `\`: false,
	} {
		if got := dateFormat(code); got != want {
			t.Errorf("%q: %v, want %v", code, got, want)
		}
	}
}

// The expected texts are worked by hand from the definition of the two day
// counts; 43558 is 2019-04-03 (43466 is 2019-01-01; 31 + 28 + 31 + 2 more).
func TestAppendDay(t *testing.T) {
	for _, tt := range []struct {
		v         string
		since1904 bool
		want      string
	}{
		{"1", false, "1900-01-01"}, {"59", false, "1900-02-28"}, {"60", false, "1900-02-29"}, {"61", false, "1900-03-01"},
		{"43558", false, "2019-04-03"}, {"43558.999", false, "2019-04-03"}, {"43557.9999999999", false, "2019-04-03"},
		{"4.3558E4", false, "2019-04-03"}, {"0", false, "0"}, {"0.75", false, "0.75"}, {"-1", false, "-1"},
		{"2958465", false, "9999-12-31"}, {"2958466", false, "2958466"}, {"1e300", false, "1" + string(bytes.Repeat([]byte("0"), 300))},
		{"0", true, "1904-01-01"}, {"42096", true, "2019-04-03"}, {"2957003", true, "9999-12-31"}, {"2957004", true, "2957004"}, {"-1", true, "-1"},
		{"x", false, "x"}, {"NaN", false, "NaN"},
	} {
		if got := string(appendDay(nil, []byte(tt.v), tt.since1904)); got != tt.want {
			t.Errorf("%s (since 1904: %v): %q, want %q", tt.v, tt.since1904, got, tt.want)
		}
	}
}

func TestAppendNumber(t *testing.T) {
	for v, want := range map[string]string{
		"0": "0", "12": "12", "007": "7", "-0": "0", "1.50": "1.5", "1E3": "1000", "1.1000000000000001": "1.1",
		"0.30000000000000004": "0.30000000000000004", "123456789012345": "123456789012345", "1.2345678901234568E+17": "123456789012345680",
		"1e-7": "0.0000001", ".5": "0.5", "+5": "5", "1e999": "1e999", "1_000": "1_000", "0x1p4": "0x1p4", "inf": "inf", "1,5": "1,5",
	} {
		if got := string(appendNumber(nil, []byte(v))); got != want {
			t.Errorf("%q: %q, want %q", v, got, want)
		}
	}
}

func TestUnescape(t *testing.T) {
	for in, want := range map[string]string{
		"": "", "plain": "plain", "_x": "_x", "a_x0041_": "aA", "_x00e9_x": "éx", "_x005F_x0041_": "_x0041_",
		"_x0000_": "_x0000_", "_xD800_": "_xD800_", "_xFFFE_": "_xFFFE_", "_x000A__x000D_": "\n\r", "_x00G1_": "_x00G1_", "_x004": "_x004", "_x20AC_": "€",
	} {
		if got := string(unescape([]byte("p"+in), 1)); got != "p"+want {
			t.Errorf("%q: %q, want %q", in, got, "p"+want)
		}
	}
}

func TestParsePlace(t *testing.T) {
	for s, want := range map[string]Place{
		"A1": {1, 1}, "c17": {17, 3}, "Z9": {9, 26}, "AA10": {10, 27}, "XFD1048576": {1048576, 16384},
		"": {}, "A": {}, "1": {}, "A0": {}, "$A$1": {}, "A1B": {}, "A-1": {}, "ABCDE1": {}, "A123456789": {},
	} {
		got, ok := parsePlace(s)
		if ok != (want != Place{}) || ok && got != want {
			t.Errorf("%q: %v, %v, want %v", s, got, ok, want)
		}
		if ok && ColumnName(got.Column) != string(bytes.ToUpper([]byte(s)))[:len(ColumnName(got.Column))] {
			t.Errorf("%q: column %s", s, ColumnName(got.Column))
		}
	}
}

func TestRanges(t *testing.T) {
	for in, want := range map[string][]Range{
		` count="3"><mergeCell ref="A1:B1"/><mergeCell ref="A1:A2"/><mergeCell ref='C3:D5'/></mergeCells><x ref="A1:A9"/>`: {
			{Place{1, 1}, Place{2, 1}}, {Place{3, 3}, Place{5, 4}},
		},
		`><mergeCell ref="A1:A`: nil, `><mergeCell ref=`: nil, `><mergeCell ref="x"/>`: nil, ``: nil,
	} {
		if d := cmp.Diff(want, ranges([]byte(in))); d != "" {
			t.Errorf("%s (-want +got):\n%s", in, d)
		}
	}
	for in, want := range map[string]int{
		"<mergeCells": 11, "<x:mergeCells": 13, "mergeCells": -1, "<v>mergeCells": -1, "<v a=':mergeCells": -1, "</mergeCells <mergeCells": 24,
	} {
		if got := startOf([]byte(in), "mergeCells"); got != want {
			t.Errorf("%s: %d, want %d", in, got, want)
		}
	}
}
