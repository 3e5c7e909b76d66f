package report

import (
	"regexp"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// between is what stands in a text between two headings of plain text.
func between(t testing.TB, text, from, to string) string {
	t.Helper()
	start := regexp.MustCompile(`(?m)^` + regexp.QuoteMeta(from) + `\n[-=]+$`).FindStringIndex(text)
	if start == nil {
		t.Fatalf("no heading %q", from)
	}
	rest := text[start[1]:]
	if to == "" {
		to = `.+`
	} else {
		to = regexp.QuoteMeta(to)
	}
	if end := regexp.MustCompile(`(?m)^` + to + `\n[-=]+$`).FindStringIndex(rest); end != nil {
		rest = rest[:end[0]]
	}
	return rest
}

func joined(s string) string { return strings.Join(strings.Fields(s), " ") }

// TestOutsideIsCompared checks that every reading that says above or below stands in the
// comparison table, however few joints it is of.
func TestOutsideIsCompared(t *testing.T) {
	a := above(t)
	text := between(t, written(t, a, Options{}), "Comparison with published figures", "Published sources")
	said := joined(text)
	for _, want := range []string{
		"Ceramic-on-ceramic (36 joints)", // 6 revised
		"(2.9 to 28.4) above",
		"Metal-on-polyethylene, cemented, age 75+ (",
		"(−7.0 to −3.9) below",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("no %q in %s", want, text)
		}
	}
	// Hybrid joints are all ceramic-on-ceramic and of one age: the cell has
	// the joints of its margin, beside the same figure.
	named := make(map[string]bool)
	for _, g := range divide(a)[0].groups() {
		named[name(g)] = true
	}
	if !named["Fixation: hybrid"] || named["ceramic-on-ceramic, hybrid, 55-64"] {
		t.Errorf("the same joints are listed again: %v", named)
	}
	// Those of patients of 80 too, and the figure of theirs stands in the
	// comparison, whatever groups are listed.
	if named["metal-on-polyethylene, cemented, 75+"] {
		t.Errorf("the same joints are listed again: %v", named)
	}
}

// TestReferencesShown checks that the list of sources holds those that the text
// refers to, and no others.
func TestReferencesShown(t *testing.T) {
	mark := regexp.MustCompile(`\[(\d+)([a-z]+)\]`)
	number, letter := regexp.MustCompile(`^\[(\d+)\] `), regexp.MustCompile(`^  ([a-z]{1,3})  `)
	found := 0
	for name, text := range texts(t, Options{Width: 200}) {
		body, sources, ok := strings.Cut(text, "\nPublished sources\n")
		if !ok {
			continue
		}
		found++
		sources, _, _ = strings.Cut(sources, "\nCautions\n")
		used, listed := make(map[string]bool), make(map[string]bool)
		for _, m := range mark.FindAllStringSubmatch(body, -1) {
			used[m[1]+m[2]] = true
		}
		source := ""
		for _, line := range strings.Split(sources, "\n") {
			if m := number.FindStringSubmatch(line); m != nil {
				source = m[1]
			} else if m := letter.FindStringSubmatch(line); m != nil {
				listed[source+m[1]] = true
			}
		}
		for m := range used {
			if !listed[m] {
				t.Errorf("%s: [%s] is not listed", name, m)
			}
		}
		for m := range listed {
			if !used[m] {
				t.Errorf("%s: [%s] is listed and not used", name, m)
			}
		}
		if n := strings.Count(joined(body), "see Published sources below"); n != 1 {
			t.Errorf("%s: where the sources stand is said %d times", name, n)
		}
		if where := strings.Index(body, "see Published sources below"); mark.FindStringIndex(body)[0] > where {
			t.Errorf("%s: where the sources stand is said before any mark", name)
		}
	}
	if found < 4 {
		t.Errorf("only %d texts have sources", found)
	}
}

// TestCautionOnce checks that the words about a reading stand once in each
// joint and procedure.
func TestCautionOnce(t *testing.T) {
	for name, text := range texts(t, Options{}) {
		if name == "published" || !strings.Contains(text, "\nPublished sources\n") {
			continue
		}
		text = between(t, text, "Comparison with published figures", "Published sources")
		for i, part := range regexp.MustCompile(`(?m)^.+\n-{3,}$`).Split(text, -1) {
			part = joined(part)
			for _, s := range []string{caution, tooFew} {
				if n := strings.Count(part, s); n > 1 {
					t.Errorf("%s, part %d says %d times: %s", name, i, n, s)
				}
			}
			if strings.Contains(part, " too few to say ") && i > 0 && strings.Contains(part, "Published, %, and its") && !strings.Contains(part, tooFew) {
				t.Errorf("%s, part %d does not say what too few to say means", name, i)
			}
		}
	}
}

func TestNearTheLine(t *testing.T) {
	c := func(r benchmark.Reading, atRisk float64, notes benchmark.Note) *benchmark.Comparison {
		x := &benchmark.Comparison{Reading: r, Notes: notes}
		x.Own.AtRisk = atRisk
		return x
	}
	for _, test := range []struct {
		c    *benchmark.Comparison
		want string
	}{
		{c(benchmark.Above, 50, 0), ""},
		{c(benchmark.Above, 50, benchmark.NearTheLine), "just include 0; the limits from which the reading is made just exclude it"},
		{c(benchmark.Below, 50, benchmark.NearTheLine), "just include 0; the limits from which the reading is made just exclude it"},
		{c(benchmark.Compatible, 50, benchmark.NearTheLine), "just exclude 0; the stricter limits from which the reading is made do not"},
		{c(benchmark.TooFew, 50, benchmark.NearTheLine), "just exclude 0; the stricter limits from which the reading is made do not"},
		{c(benchmark.TooFew, 9, benchmark.NearTheLine), ""},
		{c(benchmark.TooFew, 50, benchmark.NearTheLine|benchmark.OwnLimitsUndefined), ""},
	} {
		if got := nearTheLine(test.c); got != test.want && (test.want == "" || !strings.HasSuffix(got, test.want)) {
			t.Errorf("%v: %q", test.c, got)
		}
	}
}

// TestShortfalls checks that each table of estimates or comparisons says what
// makes it too low.
func TestShortfalls(t *testing.T) {
	undated, deaths := "1 revision without a date is counted in no group: the estimates of its groups are too low", "deaths not recorded: the unknown dead stay at risk"
	tables := regexp.MustCompile(`(?m)^(─+)$`)
	for _, c := range []struct {
		a    *audit.Audit
		want []string
	}{{small(t, audit.Options{}), []string{undated}}, {noDeaths(t), []string{undated, deaths}}, {above(t), []string{deaths}}} {
		text := between(t, written(t, c.a, Options{Width: 140}), "Estimates", "Published sources")
		blocks := tables.Split(text, -1)
		read := 0
		for i, block := range blocks[1:] {
			head := blocks[i]
			head = head[strings.LastIndex(head, "\n\n")+1:]
			if strings.Contains(head, "Implant-years") {
				continue // counts and rates of the whole follow-up
			}
			read++
			for _, s := range []string{undated, deaths} {
				wanted := false
				for _, w := range c.want {
					wanted = wanted || w == s
				}
				if got := strings.Contains(joined(block), s); got != wanted {
					t.Errorf("under %s: %q: %v", head, s, got)
				}
			}
		}
		if read < 5 {
			t.Errorf("only %d tables", read)
		}
	}
}

func TestUnderstood(t *testing.T) {
	heading := func(typed string, how cohort.HeadingMatch) cohort.Heading {
		return cohort.Heading{Typed: typed, How: how}
	}
	for _, c := range []struct {
		file cohort.File
		want string
	}{
		{cohort.File{Format: "text, semicolon-separated", Headings: []cohort.Heading{heading("joint", cohort.ByName)}},
			"Text, semicolon-separated; 1 of 1 heading matched by name."},
		{cohort.File{Headings: []cohort.Heading{heading("joint", cohort.ByName), heading("gr\x1bade", cohort.Unmatched)}},
			"1 of 2 headings matched by name, 1 kept under its own name: grade."},
		{cohort.File{Headings: []cohort.Heading{heading("a", cohort.Unmatched), heading("b", cohort.Unmatched)}},
			"0 of 2 headings matched by name, 2 kept under their own names: a and b."},
		{cohort.File{Headings: []cohort.Heading{heading("a", 0), heading("b", 0), heading("c", 0), heading("d", 0), heading("e", 0),
			heading("f", 0), heading("g", 0), heading("h", 0), heading("i", 0), heading(" ", 0)}},
			"0 of 10 headings matched by name, 10 kept under their own names: a, b, c, d, e, f, g, h and 2 more."},
		{cohort.File{DateOrders: []cohort.ColumnOrder{{Column: "operation_date", Order: cohort.DayFirst, From: "operation_date"}, {Column: "revision_date", Order: cohort.DayFirst, From: "operation_date"}}},
			"0 of 0 headings matched by name; dates day first, settled by operation_date."},
		{cohort.File{DateOrders: []cohort.ColumnOrder{{Column: "operation_date", Order: cohort.MonthFirst}, {Column: "revision_date", Order: cohort.MonthFirst}}},
			"0 of 0 headings matched by name; dates month first, as given."},
	} {
		if got := understood(c.file, false); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}

func TestSmallNumbers(t *testing.T) {
	a := run(t, "one.csv", "operation_date,revision_date,joint,procedure,death_date\n2010-01-01,,hip,total,\n", cohort.Options{ClosingDate: day(t, "2019-12-31")}, audit.Options{})
	a.Deaths.Recorded = true
	if got, want := deaths(a), "Deaths recorded: in 0 of 1 row used the patient has died."; got != want {
		t.Errorf("got %s", got)
	}
	u := unreached{}
	u.add(5, "not recorded")
	u.add(10, "not recorded")
	u.add(10, "hybrid")
	if got, want := u.sentence(3, "fixation"), "Fixation not recorded: nobody followed to 5 years. Fixation hybrid: nobody followed to 10 years."; got != want {
		t.Errorf("got %s", got)
	}
}
