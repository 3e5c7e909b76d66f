package report

import (
	"fmt"
	"strings"
	"testing"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// answered is the page of a table.
func answered(t testing.TB, name, table string, ro cohort.Options, ao audit.Options) *document.Document {
	t.Helper()
	a := run(t, name, table, ro, ao)
	return Answer(a, facts(t, a), "holdfast check "+name)
}

// knees are forty knees without a revision and without deaths.
func knees() string {
	var b strings.Builder
	b.WriteString("Patient no,Operation date,Joint,Procedure,Side,Age,Revision date\n")
	for i := range 40 {
		fmt.Fprintf(&b, "P%d,20%d-0%d-1%d,knee,%s,L,%d,\n", i, 19+i%6, 1+i%9, i%9, [...]string{"UKR", "TKR", "TKR", "TKR"}[i%4], 50+i%35)
	}
	return b.String()
}

// hips are two hundred hips of osteoarthritis, a third of them never seen again.
func hips() string {
	var b strings.Builder
	b.WriteString("Patient no,Operation date,Joint,Procedure,Side,Age,Bearing,Fixation,Diagnosis,Revision date,Death date,Last seen\n")
	for i := range 200 {
		year := 2010 + i%14
		revised, died, seen := "", "", "2024-10-01"
		if i%17 == 0 {
			revised = fmt.Sprintf("%d-06-01", year+1+i%4)
		}
		if i%11 == 0 {
			died = fmt.Sprintf("%d-08-01", min(year+6, 2024))
		}
		if i%3 == 0 {
			seen = ""
		}
		fmt.Fprintf(&b, "P%d,%d-0%d-1%d,hip,THR,%s,%d,%s,%s,OA,%s,%s,%s\n", i, year, 1+i%9, i%9, [...]string{"L", "R"}[i%2], 50+i%35,
			[...]string{"MoXLPE", "CoXLPE", "CoC"}[i%3], [...]string{"cementless", "hybrid", "cemented"}[i%3], revised, died, seen)
	}
	return b.String()
}

func pages(t testing.TB) map[string]*document.Document {
	builtin := audit.Options{Published: benchmark.Builtin()}
	practice := file(t, "../../../examples/practice/practice.csv")
	closing := cohort.Options{ClosingDate: day(t, "2024-12-31")}
	few := "operation_date,revision_date,joint,procedure\n2010-01-01,,hip,THR\n2010-02-01,2011-01-01,knee,TKR\n"
	return map[string]*document.Document{
		"practice": answered(t, "practice.csv", practice, closing, audit.Options{Published: append(figures(t, "../../../examples/registry/registry.csv"), benchmark.Builtin()...)}),
		"builtin":  answered(t, "practice.csv", practice, closing, builtin),
		"hips":     answered(t, "hips.csv", hips(), closing, builtin),
		"knees":    answered(t, "knees.csv", knees(), cohort.Options{}, builtin),
		"few":      answered(t, "few.csv", few, closing, builtin),
		"alone":    answered(t, "practice.csv", practice, closing, audit.Options{By: []string{}}),
		"surgeon":  answered(t, "practice.csv", practice, closing, audit.Options{By: []string{"surgeon", "sex"}, Published: benchmark.Builtin()}),
	}
}

func TestAnswerGolden(t *testing.T) {
	all := pages(t)
	for _, g := range []struct {
		name  string
		o     Options
		lines int // at most: it is a page
	}{
		{"practice", Options{}, 113}, {"builtin", Options{Width: 100}, 108}, {"hips", Options{Width: 76}, 77}, {"knees", Options{}, 50}, {"knees", Options{Markdown: true}, 60},
	} {
		got := laidOut(t, all[g.name], g.o)
		name := "answer-" + g.name + ".txt"
		if g.o.Markdown {
			name = strings.TrimSuffix(name, "txt") + "md"
		}
		if n := strings.Count(got, "\n"); n > g.lines {
			t.Errorf("%s has %d lines, more than %d", name, n, g.lines)
		}
		golden(t, name, got)
	}
}

// A page fits its width and says nothing that is no number or no word of ours.
func TestAnswerFits(t *testing.T) {
	for name, d := range pages(t) {
		for _, most := range []int{72, 76, 80, 100, 120} {
			text := laidOut(t, d, Options{Width: most})
			cleanLines(t, name, text)
			for i, line := range strings.Split(text, "\n") {
				if document.Width(line) > most {
					t.Errorf("%s at %d, line %d is %d wide: %q", name, most, i+1, document.Width(line), line)
				}
			}
			if word := forbidden.FindString(text); word != "" {
				t.Errorf("%s says %q", name, word)
			}
		}
	}
}

// Where all joints together are enough at a year and no group is, the groups are
// counted, and none is left out.
func TestAnswerOfGroupsAllTooSmall(t *testing.T) {
	var b strings.Builder
	b.WriteString("Patient no,Operation date,Joint,Procedure,Side,Fixation,Revision date\n")
	for i := range 38 {
		fmt.Fprintf(&b, "P%d,2015-01-01,knee,TKR,L,%s,%s\n", i, [...]string{"cemented", "cementless"}[i%2], [...]string{"", "2015-06-01"}[i/36])
	}
	for i := range 80 {
		fmt.Fprintf(&b, "Q%d,2015-01-01,hip,THR,L,%s,\n", i, [...]string{"cemented", "cementless"}[i%2])
	}
	for name, table := range map[string]string{"knees alone": b.String()[:strings.Index(b.String(), "Q0,")], "beside hips": b.String()} {
		text := strings.Join(strings.Fields(laidOut(t, answered(t, "k.csv", table, cohort.Options{ClosingDate: day(t, "2024-12-31")}, audit.Options{By: []string{"fixation"}}), Options{Width: 400})), " ")
		if want := "By group: none has 30 still followed at the year above (revised/joints): · knee, fixation: cemented 1/19, cementless (porous) 1/19"; !strings.Contains(text, want) {
			t.Errorf("%s lacks %q:\n%s", name, want, text)
		}
		if hips := strings.Contains(text, "cemented 40 40 0"); hips != (name == "beside hips") || strings.Contains(text, "Knee, total, at") {
			t.Errorf("%s:\n%s", name, text)
		}
	}
}

// A closing date that may be mistyped stands once among what to settle, with what the other
// would change. Of forty knees of 2008 one is revised after 8½ years and one after ten, the last
// date but that of an operation in 2021: up to then sixty of 2012 are followed for nine years,
// and 1 of 100 is revised at 10 years; else for six, and 1 of 40 is.
func TestAnswerSaysADoubtfulClosingDateOnce(t *testing.T) {
	var b strings.Builder
	b.WriteString("Patient no,Operation date,Joint,Procedure,Side,Revision date\n")
	for i := range 100 {
		year, revised := 2008, ""
		switch {
		case i == 0:
			revised = "2016-07-01"
		case i == 1:
			revised = "2018-06-01"
		case i >= 40:
			year = 2012
		}
		fmt.Fprintf(&b, "P%d,%d-01-01,knee,TKR,L,%s\n", i, year, revised)
	}
	b.WriteString("P100,2021-01-01,knee,TKR,L,\n")
	text := strings.Join(strings.Fields(laidOut(t, answered(t, "k.csv", b.String(), cohort.Options{}, audit.Options{By: []string{}}), Options{Width: 400})), " ")
	if n := strings.Count(text, "closing date 2021-01-01"); n != 1 || strings.Contains(text, cohort.ClosingDoubtful) || !strings.Contains(text, "the next latest date, 2018-06-01: knee 1.0 to 2.5 at 10 years") {
		t.Errorf("the closing date stands there %d times:\n%s", n, text)
	}
}

// Where the two ways of counting the dead read otherwise, one sentence says both, with their
// figures, and the line below the limits that were read by. Of 100 hips followed for ten years 20 are
// revised in the third: 20.0 % both ways, by Clopper and Pearson 12.7 to 29.2 % (calculated with R
// 4.2.2, binom.test(20, 100)).
func TestAnswerReadsTwoWays(t *testing.T) {
	var b strings.Builder
	b.WriteString("Patient no,Operation date,Joint,Procedure,Diagnosis,Revision date,Death date,Last seen\n")
	for i := range 100 {
		fmt.Fprintf(&b, "P%d,2010-01-01,hip,THR,OA,%s,%s,2024-10-01\n", i, [...]string{"", "2012-06-01"}[i/80], [...]string{"2023-01-01", ""}[min(1, i)])
	}
	const heading = "source,joint,procedure,diagnosis,years,revision_pct,lower_pct,upper_pct,joints,estimand,period_from,period_to,citation\n"
	const km = "one,hip,total,,10,18,17,19,5000,1-KM,2005,2015,Invented\n"
	incidence := func(f string) string {
		return "two,hip,total,,10," + f + ",5000,cumulative incidence,2005,2015,Invented\n"
	}
	for name, c := range map[string]struct {
		figures string
		want    []string
	}{
		"otherwise": {km + incidence("9,8.8,9.2"), []string{
			"Hip, total: as if nobody died, compatible with what is published [a], no evidence of a difference (20.0 % beside 18.0); with dying counted in, above what is published [b] (20.0 % beside 9.0).",
			"Look first at the 20 revisions (holdfast check --list revisions): is each", "read by the stricter 12.7 to 29.2); published 9.0 [b] the 20"}},
		"alike": {km + incidence("18,17,19"), []string{
			"Hip, total: compatible with what is published [a], no evidence of a difference.", "; published 18.0 [b]: compatible"}},
		"one way alone": {incidence("9,8.8,9.2"), []string{
			"Hip, total: as if nobody died, no reading, ", "; with dying counted in, above what is published [a] (20.0 % beside 9.0)."}},
	} {
		series, _, err := benchmark.Read(strings.NewReader(heading+c.figures), "f.csv")
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(laidOut(t, answered(t, "h.csv", b.String(), cohort.Options{ClosingDate: day(t, "2024-12-31")}, audit.Options{By: []string{}, Published: series}), Options{Width: 400})), " ")
		for _, want := range c.want {
			if !strings.Contains(text, want) {
				t.Errorf("%s lacks %q:\n%s", name, want, text)
			}
		}
	}
}

// Where only some joints are asked for, what is published of such joints is of all that are looked at,
// and speaks: of 60 women's hips and 40 men's, a third of each revised.
func TestAnswerOfSomeJoints(t *testing.T) {
	var b strings.Builder
	b.WriteString("Patient no,Operation date,Joint,Procedure,Sex,Revision date\n")
	for i := range 100 {
		fmt.Fprintf(&b, "P%d,2010-01-01,hip,THR,%s,%s\n", i, [...]string{"F", "M"}[i/60], [...]string{"2015-06-01", "", ""}[i%3])
	}
	series, _, err := benchmark.Read(strings.NewReader("source,joint,procedure,sex,years,revision_pct,lower_pct,upper_pct,joints,estimand,period_from,period_to,citation\n"+
		"one,hip,total,female,10,5,4,6,5000,1-KM,2005,2015,Invented\n"), "f.csv")
	if err != nil {
		t.Fatal(err)
	}
	for name, test := range map[string]struct {
		where []cohort.Condition
		want  string
	}{
		"women": {[]cohort.Condition{{Column: "sex", Value: "F"}}, "Hip, total: above what is published [a] (at 10 years)."},
		"all":   {nil, "Hip, total: no reading, no published figure here is of these joints and years."},
	} {
		o := cohort.Options{ClosingDate: day(t, "2024-12-31"), Where: test.where}
		text := strings.Join(strings.Fields(laidOut(t, answered(t, "h.csv", b.String(), o, audit.Options{By: []string{}, Published: series}), Options{Width: 400})), " ")
		if !strings.Contains(text, test.want) {
			t.Errorf("%s lacks %q:\n%s", name, test.want, text)
		}
	}
}

// Where revisions for one reason count, the page says of that one what assumed follow-up could change,
// as the audit has it, and not what rows would that nobody knows the reason of.
func TestAnswerOfOneReason(t *testing.T) {
	a := run(t, "practice.csv", file(t, "../../../examples/practice/practice.csv"), cohort.Options{ClosingDate: day(t, "2024-12-31")},
		audit.Options{By: []string{}, Endpoint: cohort.Endpoint{Reasons: []string{"infection"}}, Published: benchmark.Builtin()})
	wanted := []string{"no reading, what is published here counts every revision", "not known: if they were revised, for what?"}
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Word("procedure") == "total" {
			r := g.At(10)
			wanted = append(wanted, fmt.Sprintf("%s %s to %s", g.Word("joint"), percent(r.KaplanMeier.Estimate), percent(r.Known.Estimate)))
		}
	}
	if len(wanted) != 4 {
		t.Fatalf("%q", wanted)
	}
	text := strings.Join(strings.Fields(laidOut(t, Answer(a, facts(t, a), "holdfast check practice.csv"), Options{Width: 400})), " ")
	for _, want := range wanted {
		if !strings.Contains(text, want) {
			t.Errorf("lacks %q:\n%s", want, text)
		}
	}
	if strings.Contains(text, "if all were revised") {
		t.Error(text)
	}
}

func TestFewCounted(t *testing.T) {
	one := &benchmark.Series{Figures: []benchmark.Figure{{Years: 10}}}
	two := &benchmark.Series{Figures: []benchmark.Figure{{Years: 1}, {Years: 5}}}
	for _, test := range []struct {
		of       *benchmark.Series
		observed float64
		want     string
	}{
		{one, 0, "[a] begins at 10 years and none is of a joint so old"},
		{one, 1, "[a] begins at 10 years and 1 is of a joint so old"},
		{one, 5, "[a] begins at 10 years and 5 are of joints so old"},
		{two, 0, "none falls within years of [a] that the joints can have reached"},
		{two, 1, "1 falls within years of [a] that the joints can have reached"},
		{two, 7, "7 fall within years of [a] that the joints can have reached"},
	} {
		if got := fewCounted(&benchmark.Ratio{Series: test.of, Observed: test.observed}, "[a]"); got != test.want {
			t.Errorf("%q, want %q", got, test.want)
		}
	}
}

// A unit of an audit made for sharing is called by its field, and not twice.
func TestKindOfAUnit(t *testing.T) {
	for word, want := range map[string]string{"Elm": "hospital Elm", "hospital 1": "hospital 1", "hospitality": "hospital hospitality"} {
		b := &audit.Beside{Series: &benchmark.Series{}, Within: []audit.Value{{Field: "hospital", Word: word}}}
		if got := kind(b); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

func TestKindOf(t *testing.T) {
	for of, want := range map[[2]string]string{
		{"hip", "total"}: "hip", {"hip", "not recorded"}: "hip", {"knee", "unicompartmental"}: "unicompartmental knee",
		{"not recorded", "resurfacing"}: "resurfacing (joint not recorded)", {"not recorded", "total"}: "total (joint not recorded)", {"not recorded", "not recorded"}: "joint not recorded",
	} {
		if got := kindOf(of[0], of[1]); got != want {
			t.Errorf("%q: %q, want %q", of, got, want)
		}
	}
}

// Of very many groups the page names none: those of a register's surgeons filled thousands of lines.
func TestAnswerOfVeryManyGroups(t *testing.T) {
	var b strings.Builder
	b.WriteString("Patient no,Operation date,Joint,Procedure,Surgeon,Revision date\n")
	for i := range 2 * (mostCounted + 1) {
		fmt.Fprintf(&b, "P%d,2015-01-01,hip,THR,S%d,%s\n", i, i/2, [...]string{"2016-06-01", ""}[min(1, i/3)])
	}
	text := laidOut(t, answered(t, "h.csv", b.String(), cohort.Options{ClosingDate: day(t, "2024-12-31")}, audit.Options{By: []string{"surgeon"}}), Options{Width: 400})
	if want := fmt.Sprintf("hip, surgeon: %d groups, together 3/%d\n", mostCounted+1, 2*(mostCounted+1)); !strings.Contains(text, want) || strings.Contains(text, "S1 ") {
		t.Errorf("lacks %q:\n%s", want, text)
	}
}

// Why nothing is read is said of the joints it is true of: of 100 hips 40 are of osteoarthritis, five
// of them followed for ten years, and of the others twenty; or of all, if no figure was asked for.
func TestAnswerSaysWhyNothingIsRead(t *testing.T) {
	var b strings.Builder
	b.WriteString("Patient no,Operation date,Joint,Procedure,Diagnosis,Revision date\n")
	for i := range 100 {
		year, diagnosis := 2018, "OA"
		if i >= 40 {
			diagnosis = "fracture"
		}
		if i < 5 || i >= 80 {
			year = 2010
		}
		fmt.Fprintf(&b, "P%d,%d-01-01,hip,THR,%s,%s\n", i, year, diagnosis, [...]string{"2020-06-01", ""}[min(1, i)])
	}
	series, _, err := benchmark.Read(strings.NewReader("source,joint,procedure,diagnosis,years,revision_pct,lower_pct,upper_pct,joints,estimand,period_from,period_to,citation\n"+
		"one,hip,total,osteoarthritis,10,5,4,6,5000,1-KM,2005,2015,Invented\n"), "f.csv")
	if err != nil {
		t.Fatal(err)
	}
	for want, published := range map[string][]*benchmark.Series{
		"Hip, total: no reading, the figures published here of joints for osteoarthritis begin at 10 years, and fewer than 10 of these 40 have been followed so long.": series,
		"Hip, total: no reading, no published figures were asked for.": nil,
	} {
		text := strings.Join(strings.Fields(laidOut(t, answered(t, "h.csv", b.String(), cohort.Options{ClosingDate: day(t, "2024-12-31")}, audit.Options{By: []string{}, Published: published}), Options{Width: 400})), " ")
		if !strings.Contains(text, want) {
			t.Errorf("lacks %q:\n%s", want, text)
		}
	}
}

// Groups add up: what stands in the table and what is named below it are all
// joints and all revisions, in each field.
func TestAnswerGroupsAddUp(t *testing.T) {
	text := strings.Join(strings.Fields(laidOut(t, pages(t)["practice"], Options{Width: 400})), " ")
	for _, want := range []string{
		// 441 total hips, 12 revised: by bearing 194+136 and 48+16+22+16+9.
		"metal-on-crosslinked-PE 194 96 3 +3", "ceramic-on-crosslinked-PE 136 59 1 +1",
		"bearing: metal-on-PE 1/48, ceramic-on-PE 2/16, ceramic-on-ceramic 0/22, dual-mobility 1/16, others 0/9;",
		// By fixation 147+168+104 and 21+1; by age 120+169+110 and 42.
		"cemented 147 62 0 +1", "uncemented (porous) 168 98 6 +2", "hybrid 104 51 1 +2", "fixation: reverse hybrid 0/21, others 0/1; age: <55 4/42",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("lacks %q in\n%s", want, text)
		}
	}
}
