package figure

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/disclose"
)

// registry are the figures of the example registry, which are invented.
var registry = sync.OnceValues(func() ([]*benchmark.Series, error) {
	f, err := os.Open(filepath.Join("..", "..", "examples", "registry", "registry.csv"))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	series, _, err := benchmark.Read(f, "registry.csv")
	return series, err
})

func registryBook(t testing.TB) []*benchmark.Series {
	t.Helper()
	b, err := registry()
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// against audits a table beside the example registry, closed on 2024-12-31.
func against(t testing.TB, table string, by ...string) *audit.Audit {
	t.Helper()
	return againstWith(t, table, audit.Options{By: by})
}

// shared is such an audit made safe to share.
func shared(t testing.TB, table string, by ...string) *audit.Audit {
	t.Helper()
	return againstMade(t, table, audit.Options{By: by}, disclose.Run)
}

func againstWith(t testing.TB, table string, o audit.Options) *audit.Audit {
	t.Helper()
	return againstMade(t, table, o, audit.Run)
}

func againstMade(t testing.TB, table string, o audit.Options, run maker) *audit.Audit {
	t.Helper()
	day, err := cohort.ParseDay("2024-12-31")
	if err != nil {
		t.Fatal(err)
	}
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(table)}}, cohort.Options{Keep: []string{"surgeon", "hospital"}, ClosingDate: &day, Today: day})
	if err != nil {
		t.Fatal(err)
	}
	if o.Published == nil {
		o.Published = registryBook(t)
	}
	a, err := run(c, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// practiceBy is the invented practice beside the invented registry.
func practiceBy(t testing.TB, by ...string) *audit.Audit {
	t.Helper()
	return against(t, practiceTable(t), by...)
}

func practiceTable(t testing.TB) string {
	t.Helper()
	table, err := os.ReadFile(filepath.Join("..", "..", "examples", "practice", "practice.csv"))
	if err != nil {
		t.Fatal(err)
	}
	return string(table)
}

// department is an invented, seeded table of hips: surgeons with 2 to most
// joints a year from 2012, revised about as the invented registry has it, each
// surgeon's hazard multiplied by a Gamma variable of mean 1 and the given
// standard deviation.
func department(surgeons, most int, spread float64) string {
	rng := rand.New(rand.NewPCG(29, 11))
	var b strings.Builder
	b.WriteString("operation_date,procedure,surgeon,hospital,revision_date\n")
	for s := range surgeons {
		factor := 1.0
		if spread > 0 {
			factor = gammaDraw(rng, 1/(spread*spread)) * spread * spread
		}
		perYear := 2 + int(float64(most-2)*math.Pow(float64(s%17)/16, 2))
		for year := 2012; year <= 2024; year++ {
			for range perYear {
				day := rng.IntN(365)
				at := float64(year) + float64(day)/365
				revised := ""
				// 1.1 % in the first year, then 0.45 % a year.
				if after := revisedAfter(rng, factor); at+after < 2024.99 {
					y, part := math.Modf(at + after)
					revised = calendar(int(y), int(part*365))
				}
				fmt.Fprintf(&b, "%s,THR,Surgeon %d,Hospital %c,%s\n", calendar(year, day), s+1, 'A'+rune(s%3), revised)
			}
		}
	}
	return b.String()
}

func revisedAfter(rng *rand.Rand, factor float64) float64 {
	h := rng.ExpFloat64() / factor
	if h < .011 {
		return h / .011
	}
	return 1 + (h-.011)/.0045
}

func gammaDraw(rng *rand.Rand, shape float64) float64 {
	// Marsaglia & Tsang, ACM Trans Math Softw 2000;26:363; shape at least 1.
	d := shape - 1./3
	for {
		x := rng.NormFloat64()
		v := math.Pow(1+x/math.Sqrt(9*d), 3)
		if v > 0 && math.Log(rng.Float64()) < x*x/2+d-d*v+d*math.Log(v) {
			return d * v
		}
	}
}

func calendar(year, day int) string {
	month := day * 12 / 366
	return fmt.Sprintf("%d-%02d-%02d", year, month+1, 1+(day-month*366/12)%28)
}

// element is one element of a parsed SVG.
type element struct {
	name  string
	class []string // of the groups around it, outermost first
	attr  map[string]string
	text  string
}

// parsed are the elements of a figure's SVG, which must be well formed and have
// neither a script nor a reference to anything outside.
func parsed(t testing.TB, f *Figure) []element {
	t.Helper()
	var b bytes.Buffer
	if err := f.WriteSVG(&b); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "NaN") {
		t.Error("something is drawn nowhere: NaN")
	}
	d := xml.NewDecoder(&b)
	var all []element
	var stack []int
	var classes []string
	var pushed []bool
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return all
		}
		if err != nil {
			t.Fatal(err)
		}
		switch tok := tok.(type) {
		case xml.StartElement:
			e := element{name: tok.Name.Local, attr: map[string]string{}}
			for _, a := range tok.Attr {
				e.attr[a.Name.Local] = a.Value
				if a.Name.Local == "href" || strings.HasPrefix(a.Name.Local, "on") || strings.Contains(a.Value, "url(") {
					t.Errorf("attribute %s=%q", a.Name.Local, a.Value)
				}
			}
			if e.name == "script" || e.name == "foreignObject" || e.name == "image" {
				t.Errorf("element %s", e.name)
			}
			class, ok := e.attr["class"]
			if ok {
				classes = append(classes, class)
			}
			pushed = append(pushed, ok)
			e.class = append([]string(nil), classes...)
			all = append(all, e)
			stack = append(stack, len(all)-1)
		case xml.EndElement:
			if pushed[len(pushed)-1] {
				classes = classes[:len(classes)-1]
			}
			pushed, stack = pushed[:len(pushed)-1], stack[:len(stack)-1]
		case xml.CharData:
			if len(stack) > 0 {
				all[stack[len(stack)-1]].text += string(tok)
			}
		}
	}
}

// within are the elements of a name inside groups of a class.
func within(all []element, name, class string) []element {
	var found []element
	for _, e := range all {
		if e.name != name {
			continue
		}
		for _, c := range e.class {
			if c == class {
				found = append(found, e)
				break
			}
		}
	}
	return found
}

func texts(all []element) []string {
	var s []string
	for _, e := range all {
		if e.name == "text" {
			s = append(s, e.text)
		}
	}
	return s
}

// inside fails if any text starts or ends outside the figure, as measured.
func inside(t testing.TB, f *Figure, all []element) {
	t.Helper()
	for _, e := range all {
		if e.name != "text" || e.attr["transform"] != "" {
			continue
		}
		x, err1 := strconv.ParseFloat(e.attr["x"], 64)
		y, err2 := strconv.ParseFloat(e.attr["y"], 64)
		size, err3 := strconv.ParseFloat(e.attr["font-size"], 64)
		if err1 != nil || err2 != nil || err3 != nil {
			t.Fatalf("text %q at %q %q, size %q", e.text, e.attr["x"], e.attr["y"], e.attr["font-size"])
		}
		w := float64(defaultMeasure().width(textStyle{size: 1, bold: e.attr["font-weight"] == "bold"}, e.text)) * size
		switch e.attr["text-anchor"] {
		case "middle":
			x -= w / 2
		case "end":
			x -= w
		}
		if x < -1.5 || x+w > float64(f.Width)+1.5 || y-.7*size < -1 || y+.2*size > float64(f.Height)+1 {
			t.Errorf("%.60q from %.1f to %.1f at %.1f lies outside %v by %v", e.text, x, x+w, y, f.Width, f.Height)
		}
	}
}

// csvOf are the records of a figure's data by column.
func csvOf(t testing.TB, f *Figure) []map[string]string {
	t.Helper()
	var b bytes.Buffer
	if err := f.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	return byColumn(t, &b)
}

func auditCSV(t testing.TB, a *audit.Audit) []map[string]string {
	t.Helper()
	var b bytes.Buffer
	if err := audit.WriteCSV(&b, a); err != nil {
		t.Fatal(err)
	}
	return byColumn(t, &b)
}

func byColumn(t testing.TB, r io.Reader) []map[string]string {
	t.Helper()
	records, err := csv.NewReader(r).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, r := range records[1:] {
		m := make(map[string]string)
		for i, h := range records[0] {
			m[h] = r[i]
		}
		rows = append(rows, m)
	}
	return rows
}

// golden compares a figure's SVG with a file in testdata. With -update it is
// written anew.
func goldenSVG(t *testing.T, f *Figure, name string) {
	t.Helper()
	var b bytes.Buffer
	if err := f.WriteSVG(&b); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join("testdata", name+".svg")
	if os.Getenv("UPDATE_FIGURES") != "" {
		if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b.Bytes(), want) {
		t.Errorf("%s is no longer what is drawn; to write it anew set UPDATE_FIGURES and look at the difference", file)
	}
}

// unseemly are words that no figure says of its own.
var unseemly = []string{"better", "worse", "outlier", "rank", "score", "star", "performance", "traffic", "NaN", "Inf"}

// plainWords checks the figure's own words.
func plainWords(t testing.TB, f *Figure) {
	t.Helper()
	text := f.Title + " " + f.Alternative + " " + strings.Join(f.Notes, " ")
	for _, w := range unseemly {
		if strings.Contains(text, w) {
			t.Errorf("the figure says %q: %s", w, text)
		}
	}
}
