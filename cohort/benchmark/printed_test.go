package benchmark

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// A wide table as reports print it, and the same written long. All values are
// invented.
func TestWideIsLong(t *testing.T) {
	wide := `# source: invented2023
# joint: hip
# procedure: THR
# estimand: 1-KM
# period: 2003-2023
# citation: Invented register, yearly report
# setting: national register
Bearing,Age,N,1 yr,3 Years,5y
MoP,<65,"1,000",1.0 (0.8–1.2),"2.0 % (1.6, 2.4)",3.0 (2.5 to 3.6)
CoC,≤55,500,2.0,,4.0
`
	long := `source,joint,procedure,bearing,age_band,setting,years,revision_pct,lower_pct,upper_pct,joints,estimand,period_from,period_to,citation
invented2023,hip,total,metal-on-polyethylene,<65,national register,1,1.0,0.8,1.2,1000,1-KM,2003,2023,"Invented register, yearly report"
invented2023,hip,total,metal-on-polyethylene,<65,national register,3,2.0,1.6,2.4,1000,1-KM,2003,2023,"Invented register, yearly report"
invented2023,hip,total,metal-on-polyethylene,<65,national register,5,3.0,2.5,3.6,1000,1-KM,2003,2023,"Invented register, yearly report"
invented2023,hip,total,ceramic-on-ceramic,<56,national register,1,2.0,,,500,1-KM,2003,2023,"Invented register, yearly report"
invented2023,hip,total,ceramic-on-ceramic,<56,national register,5,4.0,,,500,1-KM,2003,2023,"Invented register, yearly report"
`
	if d := cmp.Diff(mustRead(t, long), mustRead(t, wide), seriesOptions); d != "" {
		t.Error(d)
	}
	decimal := "# source: a\n# joint: hip\n# estimand: KM\n# citation: c\nbearing;1 year;5 years\nMoM;4,0 (3,9–4,1);5,5 % (5,0, 6,1)\n"
	want := []Figure{
		{Years: 1, Revision: .04, Lower: .039, Upper: .041, Level: .95, Rounding: .0005},
		{Years: 5, Revision: .055, Lower: .05, Upper: .061, Level: .95, Rounding: .0005},
	}
	got := mustRead(t, decimal)[0].Figures
	got[1].Centre = 0
	if d := cmp.Diff(want, got, seriesOptions); d != "" {
		t.Error(d)
	}
}

// A file of fractions, of survival, or of months for years is asked about or
// refused.
func TestUnitsAreAsked(t *testing.T) {
	row := func(more string, figures ...string) string {
		text := more + head
		for i, f := range figures {
			text += figureRow("years", []string{"1", "5", "10"}[i], "revision_pct", f)
		}
		return text
	}
	refused := func(text, want string) {
		t.Helper()
		if _, _, err := Read(strings.NewReader(text), "own.csv"); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one of %q", err, want)
		}
	}
	refused(row("", "0.01", "0.03", "0.05"), "per cent or fractions")
	refused(row("", "99.1", "97", "95"), "is it survival")
	refused(row("", "99", "97"), "is it survival")
	refused(row("# unit: percent\n", "1", "2"), "want per cent or fraction")
	refused(head+figureRow("years", "60"), "are these months?")
	mixed := head + figureRow("years", "5", "revision_pct", "0.026") + figureRow("joint", "knee", "years", "5", "revision_pct", "2.1")
	refused(mixed, "own.csv:2: column revision_pct: below 0.1 % at 5 years, in a file of figures in per cent: is it a fraction?")

	months := figureRow("years", "12", "revision_pct", "1") + figureRow("years", "60", "revision_pct", "3")
	refused(head+strings.Replace(months, "60", "36", 1), "are these months?")
	refused("# time: months\n"+head+figureRow("years", "5"), "# time: \"months\": want years")

	for _, x := range []struct {
		text string
		want float64
	}{
		{"# time: years\n" + head + strings.Replace(months, "60", "36", 1), .03},
		{head + figureRow("years", "12", "revision_pct", "3"), .03},
		{head + figureRow("years", "12", "revision_pct", "2") + figureRow("years", "15", "revision_pct", "3"), .03},
		{row("# unit: fraction\n", "0.01", "0.03"), .03},
		{row("# unit: per cent\n", "0.01", "0.03"), .0003},
		{row("", "0.1%", "0.3 %"), .003},
		{"# unit: per cent\n" + mixed, .00026},
		{row("# figures: survival\n", "99.1", "97"), .03},
		{row("# figures: revision\n", "60", "70"), .7},
		{strings.Replace(row("", "99.1", "97"), "revision_pct", "survival_pct", 1), .03},
		{strings.Replace(head+figureRow("years", "5", "revision_pct", "95.3", "lower_pct", "94.9", "upper_pct", "95.6"), "revision_pct", "survival_pct", 1), .047},
	} {
		s := mustRead(t, x.text)[0].Figures
		if f := s[len(s)-1]; math.Abs(f.Revision-x.want) > 1e-15 {
			t.Errorf("%v, want %v", f.Revision, x.want)
		} else if x.want == .047 && (math.Abs(f.Lower-.044) > 1e-15 || math.Abs(f.Upper-.051) > 1e-15) {
			t.Errorf("limits %v to %v", f.Lower, f.Upper)
		}
	}
}

// Centres of limits on the scale of log(−log S), calculated with R 4.2.2.
func TestCentreOfRoundedFigures(t *testing.T) {
	for _, x := range []struct {
		revision, lower, upper string
		want                   float64 // in per cent; 0: as printed
	}{
		{"14", "13.1", "14.3", 13.68792},
		{"13", "12.6", "13.6", 13.09119},
		{"16", "15.9", "17.1", 16.49020},
		{"11", "10.6", "12.1", 11.32681},
		{"14", "13", "16", 14.4289},
		{"4.4", "4.1", "4.7", 0},
		{"9", "8", "10", 0},
	} {
		f := mustRead(t, head+figureRow("revision_pct", x.revision, "lower_pct", x.lower, "upper_pct", x.upper))[0].Figures[0]
		if math.Abs(100*f.Centre-x.want) > 5e-5 {
			t.Errorf("%s (%s to %s): %v, want %v", x.revision, x.lower, x.upper, 100*f.Centre, x.want)
		}
	}
}

// Limits made from numbers at risk. Worked by hand but for the quantiles (R
// 4.2.2, qbeta): 1,000 joints, 1 % and 950 at risk at one year, 2 % and 800 at three:
// n_1 = 979.797980, n_2 = 879.081633, SE .458792 %, n* = 931.159.
func TestLimitsFromNumbersAtRisk(t *testing.T) {
	s := mustRead(t, head+
		figureRow("years", "1", "revision_pct", "1.0", "joints", "1000", "at_risk", "950")+
		figureRow("years", "3", "revision_pct", "2.0", "joints", "1000", "at_risk", "800"))
	f := s[0].Figures[1]
	if math.Abs(100*f.MadeLower-1.20140) > 5e-6 || math.Abs(100*f.MadeUpper-3.11917) > 5e-6 || f.HasLimits() {
		t.Errorf("%v to %v", 100*f.MadeLower, 100*f.MadeUpper)
	}
	// Only the number at the figure's own time: n* = 900/.951 = 946.372.
	f = mustRead(t, head+figureRow("revision_pct", "4.9", "at_risk", "900"))[0].Figures[0]
	if math.Abs(100*f.MadeLower-3.61423) > 5e-6 || math.Abs(100*f.MadeUpper-6.47491) > 5e-6 {
		t.Errorf("%v to %v", 100*f.MadeLower, 100*f.MadeUpper)
	}
	// The number of joints alone gives none, unless follow-up is complete.
	text := head + figureRow("revision_pct", "5.0", "joints", "100")
	if f = mustRead(t, text)[0].Figures[0]; f.MadeUpper != 0 {
		t.Errorf("%v to %v", f.MadeLower, f.MadeUpper)
	}
	if f = mustRead(t, "# follow-up: complete\n"+text)[0].Figures[0]; math.Abs(f.MadeUpper-.1128349) > 5e-7 {
		t.Errorf("%v to %v", f.MadeLower, f.MadeUpper)
	}
}

func TestNegatedPattern(t *testing.T) {
	p, err := parsePattern("!metal-on-metal|dual-*")
	if err != nil || p.contains("metal-on-metal") || p.contains("dual-mobility") || p.contains("") || !p.contains("ceramic-on-metal") {
		t.Errorf("%+v %v", p, err)
	}
}

func TestSettings(t *testing.T) {
	for s := range settings {
		if got, err := ParseSetting(s.String()); err != nil || got != s {
			t.Errorf("%v: %v %v", s, got, err)
		}
	}
	if _, err := ParseSetting("a hospital"); err == nil {
		t.Error("a setting nobody knows")
	}
}

// Each built-in series says where it comes from, and none states what its
// attributes don't say without a word in subset.
func TestBuiltinSaysWhatItIs(t *testing.T) {
	for _, s := range Builtin() {
		if s.Setting == SettingNotSaid || s.Register == "" {
			t.Errorf("%s: setting %v, register %q", s.Source, s.Setting, s.Register)
		}
		register := s.Setting == NationalRegister || s.Setting == SeveralRegisters || s.Setting == RegionalRegister
		if register && s.Country == "" {
			t.Errorf("%s: no country", s.Source)
		}
	}
}
