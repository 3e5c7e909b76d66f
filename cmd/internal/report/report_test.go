package report

import (
	"bytes"
	"context"
	"flag"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"unicode"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
)

var update = flag.Bool("update", false, "write the files under testdata again")

func day(t testing.TB, s string) *cohort.Day {
	t.Helper()
	d, err := cohort.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return &d
}

func figures(t testing.TB, file string) []*benchmark.Series {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	series, _, err := benchmark.Read(bytes.NewReader(b), filepath.Base(file))
	if err != nil {
		t.Fatal(err)
	}
	return series
}

// factsBeside are those beside each audit that run made.
var factsBeside sync.Map

func facts(t testing.TB, a *audit.Audit) *gather.Facts {
	t.Helper()
	f, ok := factsBeside.Load(a)
	if !ok {
		t.Fatal("not an audit of run")
	}
	return f.(*gather.Facts)
}

func run(t testing.TB, name, table string, ro cohort.Options, ao audit.Options) *audit.Audit {
	t.Helper()
	ro.Keep = append(append(ro.Keep, audit.Statable()...), ao.By...)
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: name, Reader: strings.NewReader(table)}}, ro)
	if err != nil {
		t.Fatal(err)
	}
	a, err := audit.Run(c, ao)
	if err != nil {
		t.Fatal(err)
	}
	f, err := gather.FactsOf(c, a)
	if err != nil {
		t.Fatal(err)
	}
	factsBeside.Store(a, f)
	return a
}

func file(t testing.TB, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// small is the table of testdata beside its invented figures.
func small(t testing.TB, ao audit.Options) *audit.Audit {
	t.Helper()
	if ao.Published == nil {
		ao.Published = figures(t, "testdata/figures.csv")
	}
	return run(t, "joints.csv", file(t, "testdata/joints.csv"), cohort.Options{ClosingDate: day(t, "2019-12-31")}, ao)
}

// practice is the invented practice.
func practice(t testing.TB, ao audit.Options) *audit.Audit {
	t.Helper()
	return run(t, "practice.csv", file(t, "../../../examples/practice/practice.csv"), cohort.Options{ClosingDate: day(t, "2024-12-31")}, ao)
}

// hostile is a table whose words hold what a terminal or Markdown would act on.
func hostile(t testing.TB) *audit.Audit {
	t.Helper()
	words := []string{"a|b *bold* [link](x) <script>", "\x1b[31mred\x1b[0m\x07", "\u202Eturned", "陶瓷对聚乙烯陶瓷对聚乙烯陶瓷对聚乙烯陶瓷对聚乙烯陶瓷对聚乙烯",
		strings.Repeat("unbroken", 20), "керамика-по-керамике", "`code` \\ _under_", "سيراميك"}
	var b strings.Builder
	b.WriteString("# Invented | data \x1b[2J *here*\noperation_date,revision_date,joint,procedure,bearing,fixation,age\n")
	for i := range 160 {
		rev := ""
		if i%40 == 0 {
			rev = "2015-06-01"
		}
		b.WriteString("2010-0" + string(rune('1'+i%9)) + "-1" + string(rune('0'+i%10)) + "," + rev + ",hip,total," + `"` + words[i%len(words)] + `"` + ",cemented,70\n")
	}
	b.WriteString("2010-01-01,,\"sho|ul\x1bder\",\"to*tal\",x,porous,70\n")
	return run(t, "a|b\x1b[1m.csv", b.String(), cohort.Options{ClosingDate: day(t, "2019-12-31")},
		audit.Options{Published: figures(t, "testdata/figures.csv")})
}

// noDeaths is a table without deaths.
func noDeaths(t testing.TB) *audit.Audit {
	t.Helper()
	var lines []string
	for line := range strings.Lines(file(t, "testdata/joints.csv")) {
		if !strings.HasPrefix(line, "#") {
			line = line[:strings.LastIndex(line, ",")] + "\n"
		}
		lines = append(lines, line)
	}
	return run(t, "joints.csv", strings.Join(lines, ""), cohort.Options{}, audit.Options{Published: figures(t, "testdata/figures.csv")})
}

// above is a table of which some groups read above and others below, in each
// level. Invented, by rule: of ceramic-on-ceramic porous joints of patients of
// 60 every fourth is revised after a year, of other joints none.
func above(t testing.TB) *audit.Audit {
	t.Helper()
	var b strings.Builder
	b.WriteString("operation_date,revision_date,joint,procedure,bearing,fixation,age,sex\n")
	for i := range 24 {
		rev := ""
		if i%4 == 0 {
			rev = "2011-06-15"
		}
		b.WriteString("2010-06-10," + rev + ",hip,total,ceramic-on-ceramic,porous,60,female\n")
	}
	for range 12 {
		b.WriteString("2010-06-10,,hip,total,ceramic-on-ceramic,hybrid,60,female\n2010-06-10,,hip,total,metal-on-polyethylene,porous,60,female\n")
	}
	for range 200 {
		b.WriteString("2010-06-10,,hip,total,metal-on-polyethylene,cemented,80,male\n")
	}
	b.WriteString("2010-06-10,,knee,total,fixed,cemented,80,male\n")
	figures := "source,joint,procedure,bearing,fixation,age_band,years,revision_pct,lower_pct,upper_pct,estimand,citation\n" +
		"one,hip,total,,,,1,1.0,0.9,1.1,1-KM,Invented\none,hip,total,,,,5,5.0,4.8,5.2,1-KM,Invented\n" +
		"two,hip,total,metal-on-polyethylene,cemented,75+,5,6.0,5.0,7.0,1-KM,Invented\n" +
		"three,hip,total,ceramic-on-ceramic,,,5,5.0,4.8,5.2,1-KM,Invented\n" +
		"never,hip,total,,,,40,50.0,49.0,51.0,1-KM,Invented\n"
	series, _, err := benchmark.Read(strings.NewReader(figures), "figures.csv")
	if err != nil {
		t.Fatal(err)
	}
	return run(t, "above.csv", b.String(), cohort.Options{ClosingDate: day(t, "2019-12-31")}, audit.Options{Published: series})
}

func audits(t testing.TB) map[string]*audit.Audit {
	return map[string]*audit.Audit{
		"small":     small(t, audit.Options{}),
		"one field": small(t, audit.Options{By: []string{"fixation"}, Interval: survival.Interval{Level: 0.9, MinAtRisk: 12}}),
		"no fields": small(t, audit.Options{By: []string{}}),
		"years":     small(t, audit.Options{Years: []float64{0.5, 2, 7.5, 60}}),
		"hostile":   hostile(t),
		"no deaths": noDeaths(t),
		"practice":  practice(t, audit.Options{Published: benchmark.Builtin()}),
		"registry":  practice(t, audit.Options{Published: append(figures(t, "../../../examples/registry/registry.csv"), benchmark.Builtin()...)}),
		"worst":     practice(t, audit.Options{Published: benchmark.Builtin(), WorstCase: true}),
		"above":     above(t),
		"reason":    practice(t, audit.Options{Endpoint: cohort.Endpoint{Reasons: []string{"infection"}}, By: []string{"side"}}),
	}
}

func written(t testing.TB, a *audit.Audit, o Options) string {
	t.Helper()
	d, err := Audit(a, facts(t, a))
	if err != nil {
		t.Fatal(err)
	}
	return laidOut(t, d, o)
}

// Options say how a test has a document written.
type Options struct {
	Markdown, Bold bool
	Width          int
}

func laidOut(t testing.TB, d *document.Document, o Options) string {
	t.Helper()
	var b strings.Builder
	err := document.WriteText(&b, d, document.TextOptions{Width: o.Width, Bold: o.Bold})
	if o.Markdown {
		b.Reset()
		err = document.WriteMarkdown(&b, d)
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestGolden(t *testing.T) {
	published := func(o Options) string {
		return laidOut(t, Published(PublishedPage{Series: figures(t, "testdata/figures.csv")}), o)
	}
	for name, got := range map[string]string{
		"small.txt":     written(t, small(t, audit.Options{}), Options{}),
		"small.md":      written(t, small(t, audit.Options{}), Options{Markdown: true}),
		"nodeaths.txt":  written(t, noDeaths(t), Options{Width: 80}),
		"published.txt": published(Options{}),
		"published.md":  published(Options{Markdown: true}),
	} {
		golden(t, name, got)
	}
}

// texts are all audits, and the built-in figures, laid out with some options.
func texts(t *testing.T, o Options) map[string]string {
	all := make(map[string]string)
	for name, a := range audits(t) {
		all[name] = written(t, a, o)
	}
	all["published"] = laidOut(t, Published(PublishedPage{Series: benchmark.Builtin()}), o)
	return all
}

func TestPlainFits(t *testing.T) {
	for _, most := range []int{0, 60, 72, 80, 100, 132} {
		for name, text := range texts(t, Options{Width: most}) {
			want := most
			if want == 0 {
				want = 100
			}
			for i, line := range strings.Split(text, "\n") {
				if document.Width(line) > want {
					t.Errorf("%s at %d, line %d is %d wide: %q", name, want, i+1, document.Width(line), line)
				}
			}
		}
	}
}

func TestCleanLines(t *testing.T) {
	for _, o := range []Options{{}, {Markdown: true}, {Width: 70}} {
		for name, text := range texts(t, o) {
			cleanLines(t, name, text)
		}
	}
}

// cleanLines checks that a page has no two blank lines, that none ends in space, and that none holds a mark
// that is not seen, or what is no number.
func cleanLines(t *testing.T, name, text string) {
	t.Helper()
	if !strings.HasSuffix(text, "\n") || strings.HasSuffix(text, "\n\n") || strings.Contains(text, "\n\n\n") || strings.HasPrefix(text, "\n") {
		t.Errorf("%s: blank lines in excess, or no end of line", name)
	}
	for i, line := range strings.Split(text, "\n") {
		if strings.TrimRightFunc(line, unicode.IsSpace) != line {
			t.Errorf("%s line %d ends in space: %q", name, i+1, line)
		}
		for _, r := range line {
			if unicode.IsControl(r) || unicode.Is(unicode.Bidi_Control, r) {
				t.Errorf("%s line %d holds %U", name, i+1, r)
			}
		}
		if strings.Contains(line, "NaN") || strings.Contains(line, "Inf") || strings.Contains(line, "%!") {
			t.Errorf("%s line %d: %q", name, i+1, line)
		}
	}
}

// golden compares a page with a file of testdata, or writes it there.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if diff := cmp.Diff(strings.Split(file(t, path), "\n"), strings.Split(got, "\n")); diff != "" {
		t.Errorf("%s (-want +got):\n%s", name, diff)
	}
}

var forbidden = regexp.MustCompile(`(?i)\b(better|worse|worst|best|safe|safer|outliers?|pass(es|ed)?|fail(s|ed)?|league|rank(s|ed|ing)?|stars?|significant)\b`)

func TestForbiddenWords(t *testing.T) {
	for name, text := range texts(t, Options{}) {
		text, _, _ = strings.Cut(text, "\nPublished sources\n") // titles of papers follow
		if name == "published" {
			text, _, _ = strings.Cut(text, "\nSources\n")
		}
		text = strings.ReplaceAll(text, "--worst-case", "") // a flag, and the usual name of what it shows
		text = regexp.MustCompile(`(?i)worst case`).ReplaceAllString(text, "")
		if word := forbidden.FindString(text); word != "" {
			t.Errorf("%s says %q", name, word)
		}
	}
}

// TestCautionStands checks that the caution is on the page wherever a reading there says
// "compatible with", and further on follows every such reading before the next heading.
func TestCautionStands(t *testing.T) {
	headings := regexp.MustCompile(`(?m)^(-{3,}|={3,})$`)
	found := 0
	for name, text := range texts(t, Options{}) {
		page, text, _ := strings.Cut(text, whatWasRead+"\n==")
		if strings.Contains(joined(page), "compatible with") && !strings.Contains(joined(page), "“Compatible with” is no evidence of a difference") {
			t.Errorf("%s: no caution on the page", name)
		}
		text, _, _ = strings.Cut(text, "How the numbers were made")
		for _, part := range headings.Split(text, -1) {
			part = strings.Join(strings.Fields(part), " ")
			last := strings.LastIndex(part, "compatible with")
			if last < 0 {
				continue
			}
			found++
			if !strings.Contains(part[last:], caution) {
				t.Errorf("%s: no caution after: %s", name, part[max(0, last-60):])
			}
		}
	}
	if found < 4 {
		t.Errorf("only %d parts have such a reading", found)
	}
}

// TestMarkdownTables checks that all rows of a table have its number of cells.
func TestMarkdownTables(t *testing.T) {
	unescaped := regexp.MustCompile(`(^|[^\\])((\\\\)*)\|`)
	for name, text := range texts(t, Options{Markdown: true}) {
		want, tables := 0, 0
		for i, line := range strings.Split(text, "\n") {
			if !strings.HasPrefix(line, "|") {
				want = 0
				continue
			}
			n := len(unescaped.FindAllString(strings.ReplaceAll(line, "||", "| |"), -1))
			if want == 0 {
				want, tables = n, tables+1
			}
			if n != want || !strings.HasSuffix(line, "|") {
				t.Errorf("%s line %d: %d bars, want %d: %s", name, i+1, n, want, line)
			}
		}
		if tables == 0 {
			t.Errorf("%s has no table", name)
		}
		if name == "hostile" && (strings.Contains(text, "<script") && !strings.Contains(text, `\<script`) || !strings.Contains(text, `a\|b \*bold\*`)) {
			t.Errorf("a word is not escaped")
		}
	}
}

func TestRowsAccountedFor(t *testing.T) {
	text := written(t, small(t, audit.Options{}), Options{})
	_, text, _ = strings.Cut(text, whatWasRead+"\n==")
	got := strings.ReplaceAll(strings.Split(text, "\n\n")[1], "\n", " ")
	for _, want := range []string{"joints.csv: 92 rows read = 90 used + 2 set aside.", "1 row is set aside because the joint was revised on a day that is not known"} {
		if !strings.Contains(got, want) {
			t.Errorf("the paragraph lacks %q: %s", want, got)
		}
	}
	if !strings.Contains(text, "Invented data, made by rule for these tests.") {
		t.Error("the table's own first line is not shown")
	}
}

// TestNumbers compares lines of text with the audit's own numbers.
func TestNumbers(t *testing.T) {
	a := small(t, audit.Options{})
	text := written(t, a, Options{Markdown: true})
	all := a.Groups[0]
	for _, r := range all.Rows() {
		if !r.Requested || !r.Reached || r.KaplanMeier.AtRisk < 30 {
			continue
		}
		k, f := r.KaplanMeier, r.Incidence
		cells := []string{years(r.Years), number(k.AtRisk), number(k.Events), percentWith(k.Estimate, k.Lower, k.Upper, ""), percentWith(f.Estimate, f.Lower, f.Upper, "")}
		pattern := `(?m)^\|\s*`
		for _, c := range cells {
			pattern += regexp.QuoteMeta(c) + `\s*\|\s*`
		}
		if !regexp.MustCompile(pattern).MatchString(text) {
			t.Errorf("no line for %v", cells)
		}
	}
	if len(all.Rows()[0].Beside) == 0 {
		t.Fatal("no comparison at the first year")
	}
	c := all.Rows()[0].Beside[0].Comparison
	if want := percentWith(c.Difference, c.DifferenceLower, c.DifferenceUpper, ""); !strings.Contains(text, want) {
		t.Errorf("no difference %s", want)
	}
}

func TestBold(t *testing.T) {
	a := small(t, audit.Options{})
	bold := written(t, a, Options{Bold: true})
	if !strings.Contains(bold, "\x1b[1mEstimates\x1b[0m\n") {
		t.Error("headings are not bold")
	}
	plain := strings.NewReplacer("\x1b[1m", "", "\x1b[0m", "").Replace(bold)
	if plain != written(t, a, Options{}) {
		t.Error("bold changes more than headings")
	}
}

func TestPercent(t *testing.T) {
	for _, c := range []struct {
		p    float64
		want string
	}{
		{0, "0.0"}, {0.043, "4.3"}, {1, "100.0"}, {-0.003, "−0.3"}, {0.0008, "0.1"}, {-0.0008, "−0.1"}, {0.00096, "0.1"},
		{0.0004, "<0.1"}, {-0.0004, "0.0"}, {0.000001, "<0.1"}, {-0.000001, "0.0"}, {math.NaN(), ""}, {0.125, "12.5"},
	} {
		if got := percent(c.p); got != c.want {
			t.Errorf("percent(%v) = %q, want %q", c.p, got, c.want)
		}
	}
	if got := decimals(1234567.4, 0); got != "1,234,567" {
		t.Errorf("got %q", got)
	}
	if got := decimals(-0.04, 1); got != "0.0" {
		t.Errorf("got %q", got)
	}
}

func TestLetters(t *testing.T) {
	for n, want := range map[int]string{0: "a", 25: "z", 26: "aa", 51: "az", 52: "ba", 701: "zz", 702: "aaa"} {
		if got := letters(n); got != want {
			t.Errorf("letters(%d) = %q, want %q", n, got, want)
		}
	}
}

func BenchmarkAudit(b *testing.B) {
	a := practice(b, audit.Options{Published: benchmark.Builtin()})
	f := facts(b, a)
	b.ReportAllocs()
	for b.Loop() {
		d, err := Audit(a, f)
		if err != nil {
			b.Fatal(err)
		}
		if err := document.WriteText(&bytes.Buffer{}, d, document.TextOptions{}); err != nil {
			b.Fatal(err)
		}
	}
}
