package cohort_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/testtable"
)

// A word that may name or number a patient is never shown: it becomes free
// text, one group for all of them.
func TestFreeTextIsNotShown(t *testing.T) {
	secrets := []string{"Mrs Edith Plackett", "DOB 03/04/1941", "485 777 3456", "fell at home and was brought in by her daughter who had called the ambulance"}
	lines := []string{"operation_date,revision_date,diagnosis,bearing,revision_reason"}
	for _, s := range secrets {
		lines = append(lines, fmt.Sprintf("2020-01-01,,%s,%s,%s", s, s, s))
	}
	lines = append(lines, "2020-01-01,,OA,MoP,")
	c := mustRead(t, cohort.Options{Keep: []string{"diagnosis"}, EveryColumn: true}, table(lines...))
	shown := fmt.Sprint(c.Words(), c.SetAside(), c.Warnings())
	g, err := c.Tally([]string{"diagnosis", "bearing"}, cohort.Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range g.Set.Dimensions {
		shown += fmt.Sprint(d.Levels)
	}
	_, err = tryRead(t, cohort.Options{Where: []cohort.Condition{{"diagnosis", "zzz"}}}, table(lines...))
	shown += fmt.Sprint(err)
	for _, s := range secrets {
		if strings.Contains(shown, s) {
			t.Errorf("%q is shown", s)
		}
	}
	if !strings.Contains(shown, "(free text)") || !strings.Contains(shown, "OA") {
		t.Errorf("%s", shown)
	}
}

// A column with a value of its own in most rows numbers patients, whatever it
// is called.
func TestColumnsThatNumber(t *testing.T) {
	lines := []string{"operation_date,revision_date,Krankenhausnummer"}
	for i := range 40 {
		lines = append(lines, fmt.Sprintf("2020-01-01,,K%02d", i))
	}
	_, err := tryRead(t, cohort.Options{Where: []cohort.Condition{{"Krankenhausnummer", "zz"}}}, table(lines...))
	wantError(t, err, "a value of its own in most rows")
	if strings.Contains(err.Error(), "K01") {
		t.Errorf("%v", err)
	}
	c := mustRead(t, cohort.Options{Keep: []string{"Krankenhausnummer"}}, table(lines...))
	_, err = c.Tally([]string{"Krankenhausnummer"}, cohort.Endpoint{})
	wantError(t, err, "a value of its own in most rows")
}

// A name typed into a column that has a vocabulary is not shown, and makes no
// group.
func TestNamesInCodedColumns(t *testing.T) {
	headings := []string{"joint", "side", "procedure", "operation_type", "bearing", "head", "liner", "fixation", "cup_fixation", "polyethylene", "sex", "revision_reason", "revised", "dead"}
	for _, name := range []string{"Test Persona", "PERSONA, Test", "L (Test Persona)", "Cem - Test Persona b. 1944", "born 1944"} {
		for _, column := range headings {
			if column == "operation_type" || column == "procedure" {
				continue // see below
			}
			row := make([]string, len(headings))
			for i, h := range headings {
				if h == column {
					row[i] = `"` + name + `"`
				}
			}
			c := mustRead(t, cohort.Options{EveryColumn: true, Keep: headings}, table("operation_date,revision_date,"+strings.Join(headings, ","),
				"2020-01-01,,"+strings.Join(row, ","), "2020-01-01,,hip,left,THR,P,MoP,metal,PE,cemented,cemented,std,F,pain,no,no", "2020-01-01,,"+strings.Join(row, ",")))
			shown := fmt.Sprint(c.Words(), c.SetAside(), c.Warnings())
			for _, f := range c.Fields() {
				if f == "operation_year" {
					continue // its levels are all years there are
				}
				by := []string{f}
				if f == "joint" || f == "procedure" {
					by = nil // by these it is tallied anyway
				}
				g, err := c.Tally(by, cohort.Endpoint{})
				if err != nil {
					t.Fatal(err)
				}
				for _, d := range g.Set.Dimensions {
					shown += fmt.Sprint(d.Levels)
				}
			}
			_, err := tryRead(t, cohort.Options{Where: []cohort.Condition{{"bearing", "zzz"}}}, table("operation_date,revision_date,bearing", `2020-01-01,,"`+name+`"`))
			shown += fmt.Sprint(err)
			for _, secret := range []string{"Persona", "persona", "PERSONA", "1944"} {
				if strings.Contains(shown, secret) {
					t.Errorf("%s %q: %s is shown", column, name, secret)
				}
			}
			if w := word(t, c, column, "(free text)"); w.Rows != 2 || w.Known {
				t.Errorf("%s: %+v", column, w)
			}
		}
	}
	// Rows of which the type is not understood, and texts of procedures, hide them too.
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,operation_type,procedure", "2020-01-01,,Test Persona,THR", "2020-01-01,,P,Test Persona", "2020-01-01,,P,THR"))
	if shown := fmt.Sprint(c.Words(), ordered(mustTally(t, c, nil, cohort.Endpoint{}).Set)); strings.Contains(strings.ToLower(shown), "persona") {
		t.Errorf("%s", shown)
	}
}

// Several hidden words make one group.
func TestHiddenNamesAreOneGroup(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,joint,procedure,fixation", "2020-01-01,,hip,total,Anna Testa", "2020-01-01,,hip,total,Otto Testo", "2020-01-01,,hip,total,Mrs Testi", "2020-01-01,,hip,total,cemented"))
	want := map[string]int64{"hip|total|" + "(free text)": 3, "hip|total|cemented": 1}
	if d := cmp.Diff(want, joints(mustTally(t, c, []string{"fixation"}, cohort.Endpoint{}).Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if w := word(t, c, "fixation", "(free text)"); w.Rows != 3 {
		t.Errorf("%+v", w)
	}
}

// In a column of few words nothing is shown that is none of them, however many rows
// have it: it may be about a patient. Each word that may be a code for all that is told
// from others, and where it stands first, so that it can be settled; a character alone
// names nobody.
func TestWordsOfFewWordsAreNotShown(t *testing.T) {
	rows := []string{"operation_date,revision_date,joint,procedure,side,sex,revised"}
	for i := range 12 {
		rows = append(rows, "2020-01-01,,"+[]string{"Persona", "hip", "hip"}[i%3]+",THR,"+[]string{"persona", "left"}[i%2]+","+[]string{"Weib", "Kerl", "weib", "Q"}[i%4]+","+[]string{"perhaps", "no"}[i/9])
	}
	c := mustRead(t, cohort.Options{EveryColumn: true}, table(rows...))
	for _, want := range []struct {
		column string
		word   cohort.Word
	}{
		{"joint", cohort.Word{Typed: "(free text 1: 7 letters)", Rows: 4, Row: 2}},
		{"side", cohort.Word{Typed: "(free text 1: 7 letters)", Rows: 6, Row: 2}},
		{"sex", cohort.Word{Typed: "(free text 1: 4 letters)", Rows: 6, Row: 2}}, // Weib and weib
		{"sex", cohort.Word{Typed: "(free text 2: 4 letters)", Rows: 3, Row: 3}},
		{"sex", cohort.Word{Typed: "Q", Rows: 3}},
		{"revised", cohort.Word{Typed: "(free text 1: 7 letters)", Rows: 9, Row: 2}},
	} {
		want.word.Value = want.word.Typed
		if d := cmp.Diff(want.word, word(t, c, want.column, want.word.Typed)); d != "" {
			t.Errorf("%s (-want +got):\n%s", want.column, d)
		}
	}
	groups := joints(mustTally(t, c, []string{"sex"}, cohort.Endpoint{}).Set)
	if d := cmp.Diff(map[string]int64{
		"(free text 1: 7 letters)|total|(free text 1: 4 letters)": 2, "(free text 1: 7 letters)|total|(free text 2: 4 letters)": 1, "(free text 1: 7 letters)|total|Q": 1,
		"hip|total|(free text 1: 4 letters)": 4, "hip|total|(free text 2: 4 letters)": 2, "hip|total|Q": 2,
	}, groups); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if said := said(c) + fmt.Sprint(c.Words(), groups); strings.Contains(strings.ToLower(said), "persona") || strings.Contains(said, "eib") || strings.Contains(said, "Kerl") {
		t.Errorf("a word is shown: %s", said)
	}
	// Settled, the words are words.
	c = mustRead(t, cohort.Options{Words: map[string]map[string]string{"sex": {"Weib": "female", "Kerl": "male"}}}, table(rows...))
	if w := word(t, c, "sex", "weib"); w.Value != "female" || !w.Known {
		t.Errorf("%+v", w)
	}
}

// What people type there: makers' names in several rows, and words.
func TestWordsThatAreNoNames(t *testing.T) {
	for _, test := range []struct {
		column, word string
		rows         int
		shown        bool
	}{
		{"bearing", "Alpha Beta", 3, true}, {"bearing", "Alpha Beta", 2, false}, {"liner", "Alpha Beta", 3, true}, {"head", "Alpha Beta", 3, true},
		{"fixation", "Alpha Beta", 3, false}, {"revision_reason", "Alpha Beta", 3, false},
		{"bearing", "glass on glass", 1, true}, {"bearing", "Custom", 1, true}, {"procedure", "Total Hip with Augment", 1, true}, {"revision_reason", "gremlins", 1, true},
		{"diagnosis", "Alpha Beta", 1, true},
	} {
		lines := []string{"operation_date,revision_date,joint," + test.column}
		for range test.rows {
			lines = append(lines, "2020-01-01,,hip,"+test.word)
		}
		c := mustRead(t, cohort.Options{EveryColumn: true}, table(lines...))
		if shown := fmt.Sprint(c.Words()); strings.Contains(shown, test.word) != test.shown {
			t.Errorf("%s %q in %d rows: %s", test.column, test.word, test.rows, shown)
		}
	}
}

// Headings and sheets may hold a patient's data too.
func TestHeadingsAndSheetsNotShown(t *testing.T) {
	const heading, sheet = "Mrs Persona 12/3/1950", "Mrs Persona 3 April 1950"
	shown := ""
	c := mustRead(t, cohort.Options{EveryColumn: true}, table("operation_date,revision_date,"+heading, "2020-01-01,,a"))
	shown += said(c)
	_, err := tryRead(t, cohort.Options{}, table("operation_date,"+heading, "2020-01-01,a"))
	shown += fmt.Sprintf("%v %+v", err, err)
	wantError(t, err, "(heading not shown)", "revision_date")
	_, err = c.Tally([]string{"zzz"}, cohort.Endpoint{})
	shown += fmt.Sprint(err)

	var b bytes.Buffer
	rows := [][]any{{"operation_date", "revision_date", "side"}, {"2020-01-01", "", "L"}, {"2020-01-02", "2019-01-01", "L"}}
	if err := testtable.WriteWorkbook(&b, testtable.Workbook{Sheets: []testtable.Sheet{{Name: "Joints", Rows: rows}, {Name: sheet, Hidden: true, Rows: rows}}}); err != nil {
		t.Fatal(err)
	}
	open := func(sheets ...string) (*cohort.Cohort, error) {
		return cohort.Read(t.Context(), []cohort.Source{{Name: "own.xlsx", Reader: bytes.NewReader(b.Bytes())}}, cohort.Options{Today: day(today), Sheets: sheets})
	}
	for _, name := range []string{"Joints", sheet, "(sheet 2)"} {
		c, err := open(name)
		if err != nil {
			t.Fatal(err)
		}
		shown += said(c) + c.Files[0].Title() + c.Cell(c.SetAside()[0])
	}
	for _, name := range []string{"", "nowhere"} {
		_, err := open(strings.Fields(name)...)
		wantError(t, err, "(sheet 2)")
		shown += err.Error()
	}
	for _, secret := range []string{"Persona", "1950"} {
		if i := strings.Index(shown, secret); i >= 0 {
			t.Errorf("%s is shown: %s", secret, shown[max(0, i-80):min(len(shown), i+80)])
		}
	}
}

// A file is called by no name that may be a patient's, whenever it turns out to be damaged.
func TestDamagedFilesNotNamed(t *testing.T) {
	const name = "Mrs Persona 12-3-1950.csv"
	long := table("operation_date,revision_date,notes", strings.Repeat("2020-01-01,,something that fills a line\n", 60_000))
	for where, text := range map[string]string{"at its start": "operation_date,revision_date\n2020-01-01,\x00\n", "far down": long + "2020-01-01,\x00\n"} {
		_, err := cohort.Read(t.Context(), []cohort.Source{{Name: name, Reader: strings.NewReader(text)}}, cohort.Options{Today: day(today)})
		wantError(t, err, "(name not shown).csv", "NUL")
		if strings.Contains(fmt.Sprint(err), "Persona") {
			t.Errorf("damaged %s: %v", where, err)
		}
	}
}
