package benchmark

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/cohort/internal/column"
)

var seriesOptions = cmp.Options{
	cmpopts.EquateNaNs(),
	cmpopts.IgnoreUnexported(Series{}),
	cmpopts.EquateApprox(1e-14, 0),
}

var head = strings.Join(columns, ",") + "\n"

func mustRead(t testing.TB, text string) []*Series {
	t.Helper()
	series, _, err := Read(strings.NewReader(text), "own.csv")
	if err != nil {
		t.Fatal(err)
	}
	return series
}

// All values in this file are invented.
func TestRead(t *testing.T) {
	text := `# Invented figures.

# They are of nobody.
citation,Years,revision pct,SOURCE,joint,bearing,lower_pct,upper_pct,estimand,age band,joints,period_from,period_to,covers,level,extra
"Paper A, 2020",10,5,a,Hip,Ceramic-on-*|Metal-on-Metal,4.5,5.6,1-km,55–64,1200,2001,2010,Somewhere,,x
,,,,,,,,,,,,,,,
"Paper A, 2020",1,1.1,a,hip,ceramic-on-* | metal-on-metal,0.8,1.5,1−KM,55-64,1500,2001,2010,Somewhere,0.95,
"Paper A, 2020",5,3.1,a,HIP,ceramic-on-*|metal-on-metal,3.1,3.3,1-KM,55-64,,2001,2010,"Elsewhere
too",.9,
Paper B,10,5,b,hip,,,,threshold,,,,,,,
`
	got, warnings, err := Read(strings.NewReader("\ufeff"+text), "own.csv")
	if err != nil {
		t.Fatal(err)
	}
	nan := math.NaN()
	want := []*Series{
		{
			Source: "a", Joint: "hip", Bearing: "ceramic-on-*|metal-on-metal", Age: AgeInterval{55, 65}, Estimand: OneMinusKaplanMeier,
			PeriodFrom: 2001, PeriodTo: 2010, Citation: "Paper A, 2020", User: true,
			Figures: []Figure{
				{Years: 1, Revision: .011, Lower: .008, Upper: .015, Level: .95, Joints: 1500, Rounding: .0005, Covers: "Somewhere"},
				{Years: 5, Revision: .031, Lower: nan, Upper: nan, Level: .9, Notes: LimitsRounded, Rounding: .0005,
					PrintedLower: .031, PrintedUpper: .033, Covers: "Elsewhere too"},
				// Printed coarser than its limits: 1 − exp(−√(ln .955·ln .944)).
				{Years: 10, Revision: .05, Lower: .045, Upper: .056, Level: .95, Joints: 1200, Rounding: .005,
					Centre: -math.Expm1(-math.Sqrt(math.Log(.955) * math.Log(.944))), Covers: "Somewhere"},
			},
		},
		{
			Source: "b", Joint: "hip", Citation: "Paper B", Estimand: Threshold, User: true,
			Figures: []Figure{{Years: 10, Revision: .05, Lower: nan, Upper: nan, Level: .95, Rounding: .005}},
		},
	}
	if diff := cmp.Diff(want, got, seriesOptions); diff != "" {
		t.Error(diff)
	}
	wantWarnings := []Warning{{"own.csv", 4, `"extra"`, "not a column known here; passed over"}}
	if diff := cmp.Diff(wantWarnings, warnings); diff != "" {
		t.Error(diff)
	}
}

func TestReadSemicolons(t *testing.T) {
	// Decimal commas, and a comment and a blank row as a spreadsheet leaves them.
	got := mustRead(t, "\"# Invented, all of it\";;;;;\r\n;;;;;\r\nsource;joint;years;revision_pct;estimand;citation\r\na;hip;7,5;4,25;1-KM;Paper, A\r\na;hip;10;4.5;1-KM;Paper, A\r\n")
	want := []Figure{
		{Years: 7.5, Revision: .0425, Lower: math.NaN(), Upper: math.NaN(), Level: .95, Rounding: .00005},
		{Years: 10, Revision: .045, Lower: math.NaN(), Upper: math.NaN(), Level: .95, Rounding: .0005},
	}
	if diff := cmp.Diff(want, got[0].Figures, seriesOptions); diff != "" {
		t.Error(diff)
	}
}

// figureRow is a row that is in order, apart from what is replaced.
func figureRow(replace ...string) string {
	cells := map[string]string{
		"source": "a", "joint": "hip", "procedure": "total", "years": "10", "revision_pct": "5",
		"estimand": "1-KM", "citation": "Paper A",
	}
	for i := 0; i < len(replace); i += 2 {
		cells[replace[i]] = replace[i+1]
	}
	row := make([]string, len(columns))
	for i, column := range columns {
		row[i] = cells[column]
	}
	return strings.Join(row, ",") + "\n"
}

func TestReadRefuses(t *testing.T) {
	tests := []struct {
		name string
		text string
		want []string // the errors, in order
	}{
		{"empty", "", []string{"own.csv: empty: no headings"}},
		{"comments only", "# a\n# b\n", []string{"own.csv: empty: no headings"}},
		{"headings only", head, []string{"own.csv: no published figure in it"}},
		{"not UTF-8", head + "a\xff\n", []string{"own.csv:2: not UTF-8 text"}},
		{"binary", "PK\x03\x04\x00\x00", []string{"own.csv:1: not UTF-8 text"}},
		{"broken quotation", head + "a,\"b\n", []string{`own.csv:2: extraneous or missing " in quoted-field`}},
		{
			"missing columns", "source,years,bearings\n", []string{
				`own.csv:1: column joint: headings: needed column missing; found "source", "years", "bearings"`,
				`own.csv:1: column revision_pct: headings: needed column missing; found "source", "years", "bearings"`,
				`own.csv:1: column estimand: headings: needed column missing; found "source", "years", "bearings"`,
				`own.csv:1: column citation: headings: needed column missing; found "source", "years", "bearings"`,
			},
		},
		{"column twice", "source,joint,years,Years,revision_pct,estimand,citation\n", []string{"own.csv:1: column years: headings: two columns of this name"}},
		{"short row", head + "a,hip\n", []string{"own.csv:2: 2 cells, and 27 headings"}},
		{"comment below", head + figureRow("source", "# a"), []string{"own.csv:2: column source: a comment may stand only above the headings"}},
		{
			"empty cells", head + figureRow("source", "", "joint", "", "years", "", "revision_pct", "", "estimand", "", "citation", ""), []string{
				"own.csv:2: column source: empty",
				"own.csv:2: column joint: empty",
				"own.csv:2: column citation: empty: a figure needs a citation",
				`own.csv:2: column estimand: no estimand "", want one of: 1-KM, cumulative incidence, threshold, pooled estimate`,
				"own.csv:2: column years: empty",
				"own.csv:2: column revision_pct: empty",
			},
		},
		{"years 0", head + figureRow("years", "0"), []string{`own.csv:2: column years: "0" is not a number of years above 0, up to 40: are these months?`}},
		{"negative", head + figureRow("years", "-1"), []string{`own.csv:2: column years: "-1" is not a plain number such as 4.5`}},
		{"exponent", head + figureRow("years", "1e1"), []string{`own.csv:2: column years: "1e1" is not a plain number such as 4.5`}},
		{"not a number", head + figureRow("revision_pct", "NaN"), []string{`own.csv:2: column revision_pct: "NaN" is not a plain number such as 4.5, or one with limits such as 4.5 (4.1-4.9)`}},
		{"decimal comma among commas", head + figureRow("revision_pct", `"5,2"`), []string{`own.csv:2: column revision_pct: "5,2" is not a plain number such as 4.5, or one with limits such as 4.5 (4.1-4.9)`}},
		{"two points", head + figureRow("revision_pct", "1.000.5"), []string{`own.csv:2: column revision_pct: "1.000.5" is not a plain number such as 4.5`}},
		{"over 100", head + figureRow("revision_pct", "100.1"), []string{`own.csv:2: column revision_pct: "100.1" is not a percentage from 0 to 100`}},
		{"level in percent", head + figureRow("level", "95"), []string{`own.csv:2: column level: "95": a level is written as a proportion, as 0.95 for 95 %`}},
		{"level 1", head + figureRow("level", "1"), []string{`own.csv:2: column level: "1" is not a confidence level between 0 and 1, such as 0.95`}},
		{"level 0", head + figureRow("level", "0"), []string{`own.csv:2: column level: "0" is not a confidence level between 0 and 1, such as 0.95`}},
		{"lower above", head + figureRow("lower_pct", "5.1", "upper_pct", "6"), []string{"own.csv:2: column lower_pct: the lower limit lies above the figure"}},
		{"upper below", head + figureRow("lower_pct", "4", "upper_pct", "4.9"), []string{"own.csv:2: column upper_pct: the upper limit lies below the figure"}},
		{"only lower", head + figureRow("lower_pct", "4"), []string{"own.csv:2: column upper_pct: empty beside a lower limit; give both or neither"}},
		{"only upper", head + figureRow("upper_pct", "6"), []string{"own.csv:2: column lower_pct: empty beside an upper limit; give both or neither"}},
		{"threshold with limits", head + figureRow("estimand", "threshold", "lower_pct", "4", "upper_pct", "6"), []string{"own.csv:2: column lower_pct: a threshold has no limits"}},
		{"joints", head + figureRow("joints", "12.5"), []string{`own.csv:2: column joints: "12.5" is not a number of joints`}},
		{"joints 0", head + figureRow("joints", "0"), []string{`own.csv:2: column joints: "0" is not a number of joints`}},
		{"period", head + figureRow("period_from", "99", "period_to", "2004-12"), []string{
			`own.csv:2: column period_from: "99" is not a calendar year`,
			`own.csv:2: column period_to: "2004-12" is not a calendar year`,
		}},
		{"period backwards", head + figureRow("period_from", "2010", "period_to", "2009"), []string{"own.csv:2: column period_to: the period ends before it begins"}},
		{"age", head + figureRow("age_band", "05-Jun"), []string{`own.csv:2: column age_band: "05-Jun": want ages in completed years, such as <55, 55-64 or 75+`}},
		{"empty alternative", head + figureRow("bearing", "ceramic-on-ceramic|"), []string{`own.csv:2: column bearing: an empty alternative in "ceramic-on-ceramic|"`}},
		{"control character", head + figureRow("source", "a\x1b[31m"), []string{"own.csv:2: column source: a control character in it"}},
		{
			"twice", head + figureRow() + figureRow("years", "5", "revision_pct", "4") + figureRow("years", "10.0", "bearing", "all"),
			[]string{"own.csv:4: column years: the same figure as in row 2: same source, population, estimand and years"},
		},
		{
			"falls", head + figureRow("years", "10", "revision_pct", "4") + figureRow("years", "5", "revision_pct", "4.1"),
			[]string{"own.csv:2: column revision_pct: lower than at 5 years in row 3 of the same series; cumulative revision never falls"},
		},
		{
			"two citations", head + figureRow() + figureRow("years", "15", "citation", "Paper B"),
			[]string{"own.csv:3: column citation: not as in row 2, which is of the same series; another paper needs a source key of its own"},
		},
		{
			"several rows", "#\n\n" + head + figureRow("years", "x") + figureRow() + figureRow("joint", "", "level", "95", "lower_pct", "9"),
			[]string{
				`own.csv:4: column years: "x" is not a plain number such as 4.5`,
				"own.csv:6: column joint: empty",
				"own.csv:6: column upper_pct: empty beside a lower limit; give both or neither",
				`own.csv:6: column level: "95": a level is written as a proportion, as 0.95 for 95 %`,
			},
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			series, _, err := Read(strings.NewReader(test.text), "own.csv")
			if err == nil || series != nil {
				t.Fatalf("accepted: %v", series)
			}
			var got []string
			for _, e := range err.(interface{ Unwrap() []error }).Unwrap() {
				if _, ok := errors.AsType[*RowError](e); !ok {
					t.Errorf("%v is not a RowError", e)
				}
				got = append(got, e.Error())
			}
			if diff := cmp.Diff(test.want, got); diff != "" {
				t.Error(diff)
			}
		})
	}
	_, _, err := Read(strings.NewReader("source\n"), "own.csv")
	if !errors.Is(err, ErrColumn) {
		t.Errorf("%v does not wrap ErrColumn", err)
	}
}

// A file of very many columns is refused without naming them all.
func TestReadManyColumns(t *testing.T) {
	_, warnings, err := Read(strings.NewReader(strings.Repeat("x,", 10000)+"source\n"), "own.csv")
	if err == nil || len(err.Error()) > 5000 || len(warnings) > 100 {
		t.Errorf("%d warnings, error %.200v", len(warnings), err)
	}
	distinct := head[:len(head)-1]
	for i := range 50 {
		distinct += fmt.Sprintf(",x%d", i)
	}
	_, warnings, _ = Read(strings.NewReader(distinct+"\n"), "own.csv")
	if len(warnings) != 31 || warnings[30].Text != "20 more columns not known here; passed over" {
		t.Error(warnings)
	}
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, os.ErrClosed }

func TestReadPassesOnIOErrors(t *testing.T) {
	_, _, err := Read(brokenReader{}, "own.csv")
	if !errors.Is(err, os.ErrClosed) {
		t.Error(err)
	}
}

// A limit equal to its figure has been rounded away, except at 0 and 100 %,
// where exact limits do equal it: 0 of 50 is 0 (0 to 7.1 %).
func TestRoundedLimits(t *testing.T) {
	tests := []struct {
		revision, lower, upper string
		absent                 bool
	}{
		{"5", "5", "5", true},
		{"5", "5", "6", true},
		{"5", "4", "5", true},
		{"5", "4", "6", false},
		{"0", "0", "0", true},
		{"0", "0", "7.1", false},
		{"100", "92.9", "100", false},
		{"100", "100", "100", true},
	}
	for _, test := range tests {
		s := mustRead(t, "# figures: revision\n"+head+figureRow("revision_pct", test.revision, "lower_pct", test.lower, "upper_pct", test.upper))
		f := s[0].Figures[0]
		if f.HasLimits() == test.absent || math.IsNaN(f.Lower) != test.absent || (f.Notes == LimitsRounded) != test.absent {
			t.Errorf("%+v: read as %+v", test, f)
		}
	}
}

func TestReadWarnsOfWords(t *testing.T) {
	text := head +
		figureRow("bearing", "CoC") +
		figureRow("bearing", "nothing known", "years", "15") +
		figureRow("bearing", "ceramic-on-ceramic|zirconia*", "fixation", "Reverse  Hybrid", "sex", "F") +
		figureRow("joint", "fingers", "procedure", "*")
	series, warnings, err := Read(strings.NewReader(text), "own.csv")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, w := range warnings {
		got = append(got, w.String()[:strings.Index(w.String(), " is none")])
	}
	want := []string{
		`own.csv:3: column bearing: "nothing known"`,
		`own.csv:4: column bearing: "zirconia*"`,
		`own.csv:5: column joint: "fingers"`,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if s := series[0]; s.Bearing != "ceramic-on-ceramic" {
		t.Errorf("bearing %q", s.Bearing)
	}
	if s := series[1]; s.Bearing != "nothing known" {
		t.Errorf("bearing %q, want it as typed", s.Bearing)
	}
	if s := series[2]; s.Fixation != "reverse hybrid" || s.Sex != "female" {
		t.Errorf("fixation %q, sex %q", s.Fixation, s.Sex)
	}
	if s := series[3]; s.Procedure != "" {
		t.Errorf("procedure %q, want it open", s.Procedure)
	}
}

// Figures of two periods, or of two estimands, are two series.
func TestSeriesKeys(t *testing.T) {
	series := mustRead(t, head+
		figureRow("period_to", "2010")+
		figureRow("period_to", "2020", "revision_pct", "4")+
		figureRow("estimand", "cumulative incidence", "revision_pct", "4.5")+
		figureRow("period_to", "2020", "years", "5", "revision_pct", "3"))
	if len(series) != 3 || len(series[1].Figures) != 2 {
		t.Errorf("%d series", len(series))
	}
}

func TestParseAge(t *testing.T) {
	tests := []struct {
		text string
		want AgeInterval
		out  string
	}{
		{"", AgeInterval{}, ""},
		{"all", AgeInterval{}, ""},
		{"*", AgeInterval{}, ""},
		{"<55", AgeInterval{0, 55}, "<55"},
		{" < 55 ", AgeInterval{0, 55}, "<55"},
		{"0-54", AgeInterval{0, 55}, "<55"},
		{"55-64", AgeInterval{55, 65}, "55-64"},
		{"55–64", AgeInterval{55, 65}, "55-64"},
		{"50-65", AgeInterval{50, 66}, "50-65"},
		{"60-60", AgeInterval{60, 61}, "60-60"},
		{"75+", AgeInterval{75, 0}, "75+"},
		{">=75", AgeInterval{75, 0}, "75+"},
		{"≥75", AgeInterval{75, 0}, "75+"},
		{">75", AgeInterval{76, 0}, "76+"},
		{"75 and over", AgeInterval{75, 0}, "75+"},
		{"≤55", AgeInterval{0, 56}, "<56"},
		{"<=55", AgeInterval{0, 56}, "<56"},
		{"60 or younger", AgeInterval{0, 61}, "<61"},
		{"Under 55 years", AgeInterval{0, 55}, "<55"},
		{"55 to 64", AgeInterval{55, 65}, "55-64"},
	}
	for _, test := range tests {
		got, err := ParseAge(test.text)
		if err != nil || got != test.want || got.String() != test.out {
			t.Errorf("ParseAge(%q) = %v %q, %v", test.text, got, got, err)
		}
	}
	for _, text := range []string{"55", "64-55", "<0", "<", "+", "-", "55-", "-64", "a-b", "55-64-70", "121+", "5.5-6", "1000+", "<-5", "≥"} {
		if got, err := ParseAge(text); err == nil {
			t.Errorf("ParseAge(%q) = %v, want an error", text, got)
		}
	}
}

func TestAgeContains(t *testing.T) {
	all, young, middle, old := AgeInterval{}, AgeInterval{0, 55}, AgeInterval{55, 65}, AgeInterval{75, 0}
	tests := []struct {
		a, b AgeInterval
		want bool
	}{
		{all, all, true}, {all, young, true}, {all, old, true},
		{young, all, false}, {old, all, false}, {middle, all, false},
		{young, young, true}, {old, old, true},
		{AgeInterval{65, 0}, old, true}, {old, AgeInterval{65, 0}, false},
		{AgeInterval{50, 66}, middle, true}, {middle, AgeInterval{50, 66}, false},
		{AgeInterval{50, 64}, middle, false}, {AgeInterval{75, 100}, old, false},
	}
	for _, test := range tests {
		if got := test.a.Contains(test.b); got != test.want {
			t.Errorf("%q contains %q: %v", test.a, test.b, got)
		}
	}
}

func TestPercent(t *testing.T) {
	tests := map[float64]string{
		0: "0", 1: "100", .081: "8.1", .05: "5", .5: "50", .0001: "0.01", .00012345: "0.012345",
		.1234: "12.34", 1e-9: "0.0000001", -.00512830: "-0.51283", -.5: "-50", 1.25: "125",
		math.Copysign(0, -1): "0", math.Inf(1): "+Inf",
	}
	for p, want := range tests {
		if got := Percent(p); got != want {
			t.Errorf("Percent(%v) = %q, want %q", p, got, want)
		}
	}
	if got := Percent(math.NaN()); got != "" {
		t.Errorf("Percent(NaN) = %q", got)
	}
}

func TestWriteRoundTrip(t *testing.T) {
	texts := map[string]string{
		"built in": string(builtinFile),
		"awkward": head +
			figureRow("source", "'=1+2", "covers", `"a, ""b"""`, "revision_pct", "8.1", "lower_pct", "8.1", "upper_pct", "8.3", "joints", "12") +
			figureRow("source", "'@x", "joint", "*", "age_band", "<55", "years", "0.5", "revision_pct", "0", "lower_pct", "0", "upper_pct", "7.1", "level", "0.9"),
	}
	for name, text := range texts {
		first := mustRead(t, text)
		var b bytes.Buffer
		if err := Write(&b, first); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(first, mustRead(t, b.String()), seriesOptions); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
	if s := mustRead(t, texts["awkward"])[0]; s.Source != "=1+2" {
		t.Errorf("source %q", s.Source)
	}
}

func TestWriteRefusesWhatCantBeRead(t *testing.T) {
	var b bytes.Buffer
	bad := &Series{Source: "a", Joint: "hip", Estimand: OneMinusKaplanMeier, Figures: []Figure{{Years: 10, Revision: .05}}}
	if err := Write(&b, []*Series{bad}); err == nil || b.Len() > 0 {
		t.Errorf("wrote %q, error %v", b.String(), err)
	}
	bad.Citation = "Paper A"
	if err := Write(&b, []*Series{bad}); err != nil {
		t.Error(err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(head + figureRow("lower_pct", "4", "upper_pct", "6", "bearing", "a|b*")))
	f.Add([]byte(head + figureRow("source", "'=a", "age_band", "≥75", "estimand", "threshold")))
	f.Add([]byte("\ufeff# c\nsource;joint;years;revision_pct;estimand;citation\na;hip;7,5;4,25;1−km;\"x\ny\"\n"))
	f.Add([]byte("source\n\"\n"))
	f.Add(builtinFile[:2000])
	f.Fuzz(func(t *testing.T, data []byte) {
		series, _, err := Read(bytes.NewReader(data), "f")
		if err != nil {
			if series != nil {
				t.Fatal("an error and series")
			}
			return
		}
		for _, s := range series {
			for i, g := range s.Figures {
				if !(g.Revision >= 0 && g.Revision <= 1 && g.Years > 0 && g.Level > 0 && g.Level < 1) || i > 0 && g.Revision < s.Figures[i-1].Revision {
					t.Fatalf("accepted %+v", g)
				}
			}
		}
		var b bytes.Buffer
		if err := Write(&b, series); err != nil {
			t.Fatal(err)
		}
		again, _, err := Read(&b, "f")
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(series, again, seriesOptions); diff != "" {
			t.Fatal(diff)
		}
	})
}

// bigFile is an invented table of the shape of a registry's, by bearing,
// fixation, age band and year, in so many editions.
func bigFile(editions int) string {
	var b strings.Builder
	b.WriteString(head)
	for e := range editions {
		for _, bearing := range known("bearing")[:9] {
			for _, fixation := range known("fixation") {
				for _, age := range []string{"<55", "55-64", "65-74", "75+"} {
					for _, years := range []int{1, 3, 5, 10, 15} {
						p := .4 + .4*float64(years)
						fmt.Fprintf(&b, "edition%d,hip,total,%s,%s,%s,,%d,%.2f,%.2f,%.2f,0.95,1000,1-KM,2000,2020,invented,\"Invented table, edition %d\",,\n",
							e, bearing, fixation, age, years, p, p*.8, p*1.2, e)
					}
				}
			}
		}
	}
	return b.String()
}

func BenchmarkRead(b *testing.B) {
	for _, editions := range []int{1, 10} {
		text := bigFile(editions)
		b.Run(fmt.Sprintf("rows=%d", 720*editions), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, _, err := Read(strings.NewReader(text), "own.csv"); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// Headings and words are those of an outcomes table: what is typed there is
// understood here, and means the same.
func TestHeadingsAndWordsOfAnOutcomesTable(t *testing.T) {
	text := `Study,Joint replaced,Operation,Bearing surface,Type of fixation,Gender,Indication,Age at operation,Time (years),Cumulative revision (%),95% CI lower,95% CI upper,Estimator,Reference,Number at risk
A,THR,THR,MoP,cementless,F,OA,<65,5,3,2.5,3.5,KM,A journal,100
`
	text = strings.Replace(text, "A,THR,", "A,hip,", 1)
	s := mustRead(t, text)[0]
	want := &Series{Source: "A", Joint: "hip", Procedure: "total", Bearing: "metal-on-polyethylene", Fixation: "porous", Sex: "female", Diagnosis: "osteoarthritis",
		Age: AgeInterval{Below: 65}, Estimand: OneMinusKaplanMeier, Citation: "A journal", User: true,
		Figures: []Figure{{Years: 5, Revision: .03, Lower: .025, Upper: .035, Level: .95, AtRisk: 100, Rounding: .005}}}
	s.Figures[0].Centre = 0
	if d := cmp.Diff([]*Series{want}, []*Series{s}, seriesOptions); d != "" {
		t.Error(d)
	}

	// Every column that may be stated, by each of its words.
	for _, name := range column.With(column.Published) {
		for _, word := range column.Order(name) {
			got, ok := canonical(name, "", word)
			if want := column.Understand(name, word); !ok || got != want.Value {
				t.Errorf("%s %q is %q here and %q in an outcomes table", name, word, got, want.Value)
			}
		}
		if columnNamed(column.Title(name)) != name {
			t.Errorf("the heading %q is no column of a published file", column.Title(name))
		}
	}
	for phrase, name := range variantColumns() {
		if !slices.Contains(columns, name) && !slices.Contains(otherColumns, name) {
			t.Errorf("%q is called %q, which is no column", phrase, name)
		}
	}
}
