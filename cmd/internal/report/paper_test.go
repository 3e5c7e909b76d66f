package report

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/document/html"
	"example.org/holdfast/cmd/internal/document/pdf"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

func gathered(t testing.TB, name, table string, ro cohort.Options, ao audit.Options) *gather.Material {
	t.Helper()
	ro.Keep = append(ro.Keep, "sex", "diagnosis", "side", "surgeon")
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: name, Reader: strings.NewReader(table)}}, ro)
	if err != nil {
		t.Fatal(err)
	}
	m, err := gather.All(c, ao)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// A column of the case mix in which most rows have a value of their own is left
// out of it, and said; so are those that can't be counted together with the others
// in a report to share. Neither stops the report.
func TestCaseMixLeavesOut(t *testing.T) {
	var own, many strings.Builder
	own.WriteString("operation_date,revision_date,joint,procedure,diagnosis,approach\n")
	many.WriteString("operation_date,revision_date,joint,procedure," + strings.Join(cohort.CaseMix()[1:], ",") + "\n")
	const values = 20 // a column: 20 to the power of 14, by the years that there are
	for i := range 60 {
		fmt.Fprintf(&own, "2015-01-0%d,,hip,total,%cx%c,posterior\n", 1+i%9, 'a'+i/10, 'a'+i%10)
		many.WriteString("2015-01-01,,hip,total")
		for range cohort.CaseMix()[1:] {
			fmt.Fprintf(&many, ",z%c", 'a'+i%values)
		}
		many.WriteString("\n")
	}
	for _, test := range []struct {
		name, table string
		gather      func(gather.Source, audit.Options) (*gather.Material, error)
		mixed       string
		out         bool
	}{
		{"values of their own", own.String(), gather.All, "approach", true},
		{"values of their own, to share", own.String(), gather.Shared, "approach", true},
		{"many values", many.String(), gather.All, "grade", false},
		{"many values, to share", many.String(), gather.Shared, "sex", true},
	} {
		c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "t.csv", Reader: strings.NewReader(test.table)}}, cohort.Options{ClosingDate: day(t, "2024-12-31"), Keep: cohort.CaseMix()})
		if err != nil {
			t.Fatal(err)
		}
		m, err := test.gather(c, audit.Options{})
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		d, err := Paper(m, PaperOptions{Full: true})
		if err != nil {
			t.Fatal(err)
		}
		said := laidOut(t, d, Options{})
		if !slices.ContainsFunc(m.Mix, func(a *audit.Audit) bool { return a.By[0] == test.mixed }) || strings.Contains(said, "Left out, for the many different values:") != test.out || (len(m.Unmixed) > 0) != test.out {
			t.Errorf("%s: left out %q", test.name, m.Unmixed)
		}
	}
}

// rowsOf makes n invented joints by a rule.
func rowsOf(n int, line func(i int) string) string {
	var b strings.Builder
	b.WriteString("patient,operation_date,revision_date,revision_reason,joint,procedure,bearing,fixation,age,sex,death_date\n")
	for i := range n {
		b.WriteString(line(i) + "\n")
	}
	return b.String()
}

// materials are reports of every kind of table.
func materials(t testing.TB) map[string]*gather.Material {
	t.Helper()
	book := append(figures(t, "../../../examples/registry/registry.csv"), benchmark.Builtin()...)
	to := cohort.Options{ClosingDate: day(t, "2024-12-31")}
	plain := func(i int) string {
		return fmt.Sprintf("p%d,20%02d-03-0%d,,,hip,total,ceramic-on-polyethylene,porous,%d,F,", i, 10+i%12, 1+i%9, 50+i%40)
	}
	return map[string]*gather.Material{
		"practice":   gathered(t, "some/where/practice.csv", file(t, "../../../examples/practice/practice.csv"), to, audit.Options{Published: book}),
		"one joint":  gathered(t, "one.csv", rowsOf(1, plain), to, audit.Options{Published: book}),
		"no events":  gathered(t, "none.csv", rowsOf(120, plain), to, audit.Options{Published: book}),
		"no figures": gathered(t, "none.csv", rowsOf(40, plain), to, audit.Options{}),
		"no deaths":  gathered(t, "bare.csv", "operation_date,revision_date\n2001-02-03,\n2002-03-04,2005-06-07\n", cohort.Options{}, audit.Options{Published: book}),
		"long": gathered(t, "long.csv", rowsOf(300, func(i int) string {
			rev, why := "", ""
			if i%7 == 0 {
				rev, why = fmt.Sprintf("20%02d-05-06", 1+i%20), "infection"
			}
			return fmt.Sprintf("p%d,1999-0%d-02,%s,%s,knee,total,fixed,cemented,70,M,", i, 1+i%9, rev, why)
		}), to, audit.Options{Published: book, Years: []float64{1, 5, 10, 20, 25}}),
		"twelve": gathered(t, "twelve.csv", rowsOf(600, func(i int) string {
			rev := ""
			if i%23 == 0 {
				rev = "2020-05-06"
			}
			return fmt.Sprintf("p%d,2012-0%d-02,%s,,hip,total,own kind %d,porous,61,M,", i, 1+i%9, rev, i%12)
		}), to, audit.Options{Published: book}),
		"hostile": gathered(t, `<b>"x"&y.csv`, rowsOf(90, func(i int) string {
			words := []string{`<script>alert(1)</script>`, `=cmd|'/c calc'!A1`, "שלום עולם", strings.Repeat("unbroken", 625), "керамика", "陶瓷", "\x1b[31mred\u202e", "</td></table>"}
			return fmt.Sprintf("p%d,2015-0%d-02,,,hip,total,\"%s\",porous,61,M,", i, 1+i%9, strings.ReplaceAll(words[i%len(words)], `"`, `""`))
		}), to, audit.Options{Published: book}),
	}
}

func papers(t testing.TB) map[string]*document.Document {
	t.Helper()
	all := make(map[string]*document.Document)
	for name, m := range materials(t) {
		d, err := Paper(m, PaperOptions{Full: true, Version: "test", Prints: []Print{{"a.csv", strings.Repeat("ab", 32)}}})
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		all[name] = d
	}
	return all
}

func TestPaperParts(t *testing.T) {
	for name, d := range papers(t) {
		var parts []string
		for _, b := range d.Blocks {
			if h, ok := b.(document.Heading); ok && h.Level == 1 {
				parts = append(parts, h.Text)
			}
		}
		i := slices.Index(parts, "Data and completeness")
		if i < 0 {
			t.Fatalf("%s has the parts %q", name, parts)
		}
		short := slices.DeleteFunc(slices.Clone(parts[:i]), func(s string) bool { return strings.Contains(s, ", ") || s == "What numbers of this size can show" })
		if want := []string{"Data and follow-up", "Reflection and actions"}; !slices.Equal(short, want) {
			t.Errorf("%s has the parts %q before the appendix, want %q", name, short, want)
		}
		parts = parts[i:]
		want := []string{"Data and completeness", "Case mix", "Follow-up", "Estimates", "Reasons for revision", "Comparison with published figures",
			"Cautions", "Method and references", "What this report was made from"}
		if name == "practice" { // which has joints lost
			want = slices.Insert(want, 1, "Worst case of the joints lost to follow-up")
		}
		if name == "no deaths" { // a table of two columns has no mix
			want = slices.DeleteFunc(want, func(s string) bool { return s == "Case mix" })
		}
		if !slices.Equal(parts, want) {
			t.Errorf("%s has the parts %q, want %q", name, parts, want)
		}
	}
}

// TestPaperIsTheSame writes reports twice, from the tables again.
func TestPaperIsTheSame(t *testing.T) {
	first, second := papers(t), papers(t)
	for name := range first {
		var pages [4]bytes.Buffer
		for i, d := range []*document.Document{first[name], second[name]} {
			if err := html.Write(&pages[2*i], d); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			if err := pdf.Write(&pages[2*i+1], d, nil); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
		if !bytes.Equal(pages[0].Bytes(), pages[2].Bytes()) || !bytes.Equal(pages[1].Bytes(), pages[3].Bytes()) {
			t.Errorf("%s: not the same the second time", name)
		}
	}
}

func TestPaperHTML(t *testing.T) {
	tag := regexp.MustCompile(`<[^>]*>`)
	for name, d := range papers(t) {
		var b bytes.Buffer
		if err := html.Write(&b, d); err != nil {
			t.Fatal(err)
		}
		page := b.String()
		for _, bad := range []string{"<script", "javascript:", "<b>\"x\"", "http:", "https:", "<iframe", "\x1b", "\u202e", "some/where"} {
			if strings.Contains(strings.ReplaceAll(page, `xmlns="http://www.w3.org/2000/svg"`, ""), bad) {
				t.Errorf("%s has %q", name, bad)
			}
		}
		for _, tag := range tag.FindAllString(page, -1) {
			if strings.Contains(tag, " on") && regexp.MustCompile(`\son\w+\s*=`).MatchString(tag) {
				t.Errorf("%s has %s", name, tag)
			}
		}
		if name == "hostile" && !strings.Contains(page, "&lt;script&gt;alert(1)&lt;/script&gt;") {
			t.Error("a word is not shown as it was typed")
		}
	}
}

// TestPaperWords looks for words that judge, in the whole of a report but its
// sources, and for patients.
func TestPaperWords(t *testing.T) {
	for name, d := range papers(t) {
		var b bytes.Buffer
		if err := document.WriteText(&b, d, document.TextOptions{}); err != nil {
			t.Fatal(err)
		}
		text := b.String()
		before, after, _ := strings.Cut(text, "\nPublished sources\n")
		_, after, _ = strings.Cut(after, "\nCautions\n")
		text = regexp.MustCompile(`(?i)--worst-case|worst case`).ReplaceAllString(before+after, "")
		if word := forbidden.FindString(text); word != "" {
			t.Errorf("%s says %q", name, word)
		}
		if id := regexp.MustCompile(`\bp\d+\b`).FindString(text); id != "" {
			t.Errorf("%s names the patient %s", name, id)
		}
	}
}

// TestPaperNumbers looks in the report for the numbers that the audit has as
// data.
func TestPaperNumbers(t *testing.T) {
	m := materials(t)["practice"]
	d, err := Paper(m, PaperOptions{Full: true})
	if err != nil {
		t.Fatal(err)
	}
	var rows []string
	for _, b := range d.Blocks {
		if table, ok := b.(*document.Table); ok {
			for _, r := range table.Rows {
				rows = append(rows, strings.Join(r.Cells, "|"))
			}
		}
	}
	found := 0
	for i := range m.Audit.Groups {
		g := &m.Audit.Groups[i]
		if g.Pooling == audit.Cell || g.Joints < 100 {
			continue
		}
		for _, r := range g.Rows() {
			k := r.KaplanMeier
			if !r.Requested || !r.Reached || k.AtRisk < 30 {
				continue
			}
			want := fmt.Sprintf("|%s|%s|%s|", number(k.AtRisk), number(k.Events), percentWith(k.Estimate, k.Lower, k.Upper, ""))
			if !slices.ContainsFunc(rows, func(s string) bool { return strings.Contains("|"+s+"|", want) }) {
				t.Errorf("%s at %v years: no row with %s", g.Title(), r.Years, want)
			}
			found++
		}
	}
	if found < 20 {
		t.Errorf("only %d estimates were looked for", found)
	}
	for _, a := range m.Reasons {
		for i := range a.Groups {
			if g := &a.Groups[i]; g.Pooling == audit.AllJoints && g.Revised > 0 && g.Joints > 100 {
				want := a.Endpoint.Reasons[0] + "|" + count(g.Revised) + "|"
				if !slices.ContainsFunc(rows, func(s string) bool { return strings.HasPrefix(s, want) }) {
					t.Errorf("no row %s", want)
				}
			}
		}
	}
}

// TestReasonsAddUp: the incidences of all reasons, and of the revisions without
// one that is known, add up to that of any reason.
func TestReasonsAddUp(t *testing.T) {
	m := materials(t)["long"]
	all := &m.Audit.Groups[0]
	for _, y := range []float64{5, 20} {
		sum := 0.0
		for _, a := range m.Reasons {
			sum += same(a, all).At(y).Incidence.Estimate
		}
		if got := all.At(y).Incidence.Estimate; !all.Rows()[0].IncidenceEmpty && (got-sum > 1e-12 || sum-got > 1e-12) {
			t.Errorf("at %v years %v, and the reasons add up to %v", y, got, sum)
		}
	}
}

func BenchmarkPaper(b *testing.B) {
	m := materials(b)["practice"]
	for _, form := range []string{"html", "pdf"} {
		b.Run(form, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				d, err := Paper(m, PaperOptions{Full: true})
				if err != nil {
					b.Fatal(err)
				}
				var out bytes.Buffer
				if form == "pdf" {
					err = pdf.Write(&out, d, nil)
				} else {
					err = html.Write(&out, d)
				}
				if err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// TestWritePages writes reports of every kind of table to the folder
// HOLDFAST_PAGES, to be looked at in a browser and as pages.
func TestWritePages(t *testing.T) {
	folder := os.Getenv("HOLDFAST_PAGES")
	if folder == "" {
		t.Skip("HOLDFAST_PAGES names no folder")
	}
	for name, d := range papers(t) {
		name = filepath.Join(folder, strings.ReplaceAll(name, " ", "-"))
		var page, pages bytes.Buffer
		if err := errors.Join(html.Write(&page, d), pdf.Write(&pages, d, nil)); err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(os.WriteFile(name+".html", page.Bytes(), 0o666), os.WriteFile(name+".pdf", pages.Bytes(), 0o666)); err != nil {
			t.Fatal(err)
		}
	}
}

// The report of two hundred joints of one kind has at most four pages, and says
// on the first what the text says.
func TestPaperIsShort(t *testing.T) {
	closing := cohort.Options{ClosingDate: day(t, "2024-12-31")}
	m := gathered(t, "hips.csv", hips(), closing, audit.Options{Published: benchmark.Builtin()})
	d, err := Paper(m, PaperOptions{Year: "2024", Version: "test"})
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := pdf.Write(&b, d, nil); err != nil {
		t.Fatal(err)
	}
	if n := len(regexp.MustCompile(`/Type /Page\b`).FindAll(b.Bytes(), -1)); n < 2 || n > 4 {
		t.Errorf("%d pages", n)
	}
	paper, text := laidOut(t, d, Options{Width: 400}), laidOut(t, pages(t)["hips"], Options{Width: 400})
	first, _, _ := strings.Cut(paper, "\nData and follow-up\n")
	for _, want := range []string{"Hip, total: ", "  Look first at ", "  cumulative revision  ", "What this practice as a whole"} {
		_, line, ok := strings.Cut(text, "\n"+want)
		line, _, _ = strings.Cut(line, "\n")
		if !ok || !strings.Contains(first, want+line) {
			t.Errorf("the first page lacks %q", want+line)
		}
	}
	if !strings.Contains(first, "Appraisal year: 2024.") {
		t.Errorf("lacks the year:\n%s", first)
	}
}

// The first page counts surgeons, not the ways in which their names are typed, nor those of rows
// that are set aside.
func TestPaperCountsSurgeons(t *testing.T) {
	table := "patient,operation_date,joint,procedure,surgeon,revision_date\n1,2010-01-01,hip,THR,Mr A Example,\n2,2010-01-01,hip,THR,A. Example,\n" +
		"3,2010-01-01,hip,THR,B Invented,\n4,2010-01-01,hip,THR,,\n5,2010-02-31,hip,THR,C Other,\n"
	m := gathered(t, "s.csv", table, cohort.Options{ClosingDate: day(t, "2024-12-31"), Keep: []string{"surgeon"}}, audit.Options{})
	d, err := Paper(m, PaperOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if text := laidOut(t, d, Options{Width: 400}); !strings.Contains(text, "Whose joints: all of s.csv, of 2 surgeons.") {
		t.Error(text)
	}
}
