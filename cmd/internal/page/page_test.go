package page

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cmd/internal/command"
)

// answers asks several questions, each an object and the file that comes with it,
// and gives the last answer's kind, result and file.
func answers(t *testing.T, questions ...any) (kind string, result json.RawMessage, file []byte) {
	t.Helper()
	var in, out bytes.Buffer
	for i := 0; i < len(questions); i += 2 {
		q, content := questions[i].(map[string]any), questions[i+1].([]byte)
		q["size"] = len(content)
		line, err := json.Marshal(q)
		if err != nil {
			t.Fatal(err)
		}
		in.Write(append(line, '\n'))
		in.Write(content)
	}
	if err := Serve(&in, &out); err != nil {
		t.Fatal(err)
	}
	for out.Len() > 0 {
		line, err := out.ReadBytes('\n')
		if err != nil {
			t.Fatal(err)
		}
		var a struct {
			Kind   string
			Size   int
			Result json.RawMessage
		}
		if err := json.Unmarshal(line, &a); err != nil {
			t.Fatal(err)
		}
		kind, result, file = a.Kind, a.Result, bytes.Clone(out.Next(a.Size))
	}
	return kind, result, file
}

func read(t *testing.T, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

type object = map[string]any

// The page makes the same numbers as the command: the audit as data, byte by byte,
// and the rows to look up.
func TestSameAsTheCommand(t *testing.T) {
	const root = "../../../"
	registry := root + "examples/registry/registry.csv"
	for _, c := range []struct {
		table    string
		settings object
		flags    []string
	}{
		{"examples/practice/practice.csv", object{"closing_date": "2024-12-31", "published": []string{"registry.csv"}}, []string{"--closing-date", "2024-12-31", "--published", registry}},
		{"examples/practice/practice.csv", object{"by": []string{"surgeon", "bearing"}, "years": []float64{2, 7.5}, "level": 0.9, "min_at_risk": 10, "interval": "beta-product"},
			[]string{"--by", "surgeon,bearing", "--years", "2,7.5", "--level", "0.9", "--min-at-risk", "10", "--interval", "beta-product"}},
		{"testdata/tables/semicolons.csv", object{}, nil},
		{"testdata/tables/ambiguous-dates.csv", object{"date_order": "month-first", "assume": object{"joint": "hip", "procedure": "total"}}, []string{"--date-order", "month-first", "--assume", "joint=hip", "--assume", "procedure=total"}},
		{"testdata/tables/title-rows.csv", object{"where": object{"side": []string{"left"}}, "age_bands": []int{60}}, []string{"--where", "side=left", "--age-bands", "60"}},
	} {
		name := filepath.Base(c.table)
		ask := func(form string) []byte {
			kind, result, file := answers(t, object{"do": "file", "name": name}, read(t, root+c.table), object{"do": "file", "name": "registry.csv"}, read(t, registry),
				object{"do": "save", "form": form, "tables": []string{name}, "settings": c.settings}, []byte(nil))
			if kind != "answer" {
				t.Fatalf("%s: %s %s", name, kind, result)
			}
			return file
		}
		run := func(args ...string) string {
			var stdout, stderr bytes.Buffer
			if status := command.Main(append(args, c.flags...), strings.NewReader(""), &stdout, &stderr); status != 0 {
				t.Fatalf("%s: status %d: %s", name, status, &stderr)
			}
			return strings.ReplaceAll(stdout.String(), root+filepath.Dir(c.table)+"/", "")
		}
		if diff := cmp.Diff(run("audit", root+c.table, "--format", "csv"), string(ask("audit.csv"))); diff != "" {
			t.Errorf("%s: audit (-command +page):\n%s", c.table, diff)
		}
		if len(c.flags) > 0 && c.flags[0] == "--by" {
			continue // check knows no such flags
		}
		reading := c.flags[:min(2, len(c.flags))]
		c.flags = append([]string(nil), reading...)
		if strings.HasSuffix(c.table, "ambiguous-dates.csv") {
			c.flags = append(c.flags, "--assume", "joint=hip", "--assume", "procedure=total")
		}
		if diff := cmp.Diff(run("check", root+c.table, "--format", "csv"), string(ask("to-do.csv"))); diff != "" {
			t.Errorf("%s: rows to look up (-command +page):\n%s", c.table, diff)
		}
	}
}

// The headings of a check are as the page has them.
func TestHeadings(t *testing.T) {
	for from, to := range map[string]string{
		"FIRST: no audit without this":                       "First: there is no answer without this",
		"THEN: an audit runs without these, and may mislead": "Without these the answer may mislead",
		"ROWS TO CHASE":                      "Rows to chase",
		"NOT IN THE TABLE, and it matters":   "Not in the table, and it matters",
		"TAKEN AS READ: say if it is not so": "Taken as read: say if it is not so",
		"Hip, total":                         "Hip, total",
	} {
		if got := sentence(from); got != to {
			t.Errorf("%q as %q, want %q", from, got, to)
		}
	}
}

// What is settled by a choice is settled: each thing that is asked can be, and is
// not asked again.
func TestChoicesSettle(t *testing.T) {
	for _, c := range []struct{ table, after string }{
		{"ambiguous-dates.csv", "day-first"},
		{"two-headings.csv", "Leave out"},
		{"missing-column.csv", "is the revision date"},
		{"words-nobody-knows.csv", "word"},
		{"semicolons.csv", "closing_date"},
	} {
		content := read(t, "../../../testdata/tables/"+c.table)
		check := func(settings object) checked {
			kind, result, _ := answers(t, object{"do": "file", "name": c.table}, content, object{"do": "check", "tables": []string{c.table}, "settings": settings}, []byte(nil))
			var got checked
			if err := json.Unmarshal(result, &got); err != nil || kind != "answer" {
				t.Fatalf("%s: %s %s %v", c.table, kind, result, err)
			}
			return got
		}
		things := func(got checked) (all []thing) {
			for _, p := range got.Parts {
				all = append(all, p.Asks...)
			}
			return all
		}
		before := check(object{})
		asked := things(before)
		var first *thing
		for i := range asked {
			if len(asked[i].Choices) > 0 {
				first = &asked[i]
				break
			}
		}
		if first == nil {
			t.Errorf("%s: nothing to choose", c.table)
			continue
		}
		settings := object{}
		for _, choice := range first.Choices {
			o := choice.Options[0]
			if choice.Kind == "word" {
				for _, k := range columns() {
					if k.Name == choice.Column && len(k.Words) > 0 {
						o.Value = k.Words[0]
					}
				}
			}
			at := settings
			if o.Section != "" {
				for part := range strings.SplitSeq(o.Section, ".") {
					if at[part] == nil {
						at[part] = object{}
					}
					at = at[part].(object)
				}
			}
			at[o.Key] = o.Value
		}
		for _, again := range things(check(settings)) {
			if again.Text == first.Text {
				t.Errorf("%s: asked again after %v: %s", c.table, settings, again.Text)
			}
		}
	}
}

// A settings file as it is saved, and chosen again, changes nothing.
func TestSettingsComeBack(t *testing.T) {
	practice := read(t, "../../../examples/practice/practice.csv")
	settings := object{"closing_date": "2024-12-31", "by": []string{"bearing"}, "words": object{"bearing": object{"standard": "metal-on-polyethylene"}}, "assume": object{}}
	save := func(form string, settings any) []byte {
		kind, result, file := answers(t, object{"do": "file", "name": "practice.csv"}, practice,
			object{"do": "save", "form": form, "tables": []string{"practice.csv"}, "settings": settings}, []byte(nil))
		if kind != "answer" {
			t.Fatalf("%s %s", kind, result)
		}
		return file
	}
	text := save("settings.toml", settings)
	kind, back, _ := answers(t, object{"do": "settings", "name": "practice.toml"}, text)
	if kind != "answer" {
		t.Fatalf("%s %s", kind, back)
	}
	if diff := cmp.Diff(string(save("audit.csv", settings)), string(save("audit.csv", back))); diff != "" {
		t.Errorf("(-chosen +read back):\n%s", diff)
	}
}

// What can't be read is refused in words, and the conversation goes on.
func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name, content string
		settings      object
		want          string // in the answer
	}{
		{"empty.csv", "", object{}, "the file is empty"},
		{"broken.xlsx", "PK\x03\x04\x14\x00\x00\x00\x00\x00[Content_Types].xml xl/workbook.xml", object{}, "broken.xlsx"},
		{"cut.parquet", "PAR1\x15\x04\x15\x20\x15\x24", object{}, "cut.parquet"},
		{"a.csv", "operation_date,revision_date\n2015-01-13,\n", object{"closing_date": "soon"}, "closing_date"},
		{"a.csv", "operation_date,revision_date\n2015-01-13,\n", object{"nonsense": 1}, "nonsense"},
		{"a.csv", "operation_date,revision_date\n2015-01-13,\n", object{"published": []string{"folder/ours.csv"}}, "the file ours.csv, which was not chosen"},
		{"<img src=x onerror=alert(1)>.csv", "operation_date,revision_date,bearing\n2015-01-13,2016-02-03,<script>alert(2)</script>\n", object{}, "&lt;script&gt;"},
	} {
		kind, result, _ := answers(t, object{"do": "file", "name": c.name}, []byte(c.content), object{"do": "check", "tables": []string{c.name}, "settings": c.settings}, []byte(nil))
		said := string(result)
		if kind == "answer" {
			var got checked
			if err := json.Unmarshal(result, &got); err != nil {
				t.Fatal(err)
			}
			said = got.Refused
			for _, p := range got.Parts {
				if strings.Contains(p.HTML, "<script") || strings.Contains(p.HTML, "<img") {
					t.Errorf("%s: markup of a table: %s", c.name, p.HTML)
				}
				said += p.HTML + p.Title
			}
			if strings.Contains(c.want, "script") {
				kind, result, _ = answers(t, object{"do": "file", "name": c.name}, []byte(c.content), object{"do": "audit", "tables": []string{c.name}, "settings": c.settings}, []byte(nil))
				var shown part
				if err := json.Unmarshal(result, &shown); err != nil || kind != "answer" || strings.Contains(shown.HTML, "<script") || strings.Contains(shown.HTML, "<img") {
					t.Errorf("%s: %s %s", c.name, kind, result)
				}
				continue
			}
		}
		if !strings.Contains(said, c.want) {
			t.Errorf("%s: %s %s; want %q", c.name, kind, said, c.want)
		}
	}
}

// Nothing that a page shows speaks of a command line: not the texts of the
// library, nor what is shown of tables of every kind.
func TestNoCommandLine(t *testing.T) {
	command := regexp.MustCompile(`--[a-z]|\bholdfast (audit|check|report|contrast|published|template)\b`)
	for _, folder := range []string{"../../../cohort", "../report"} {
		err := filepath.WalkDir(folder, func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
				return err
			}
			for _, not := range []string{"testtable", "sim", "template.go", "check.go", "earlier.go", "since.go", "watch.go", "meeting.go", "contrast", "published.go"} { // said by nothing that a page asks for
				if strings.Contains(name, not) {
					return nil
				}
			}
			f, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			ast.Inspect(f, func(n ast.Node) bool {
				if l, ok := n.(*ast.BasicLit); ok && l.Kind == token.STRING {
					s, err := strconv.Unquote(l.Value)
					if err == nil && s != "--full" && s != "--list" && command.MatchString(plain(s)) {
						t.Errorf("%s: %s", name, plain(s))
					}
				}
				return true
			})
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	tables, err := filepath.Glob("../../../testdata/tables/*.csv")
	if err != nil || len(tables) < 10 {
		t.Fatalf("%d tables, %v", len(tables), err)
	}
	for _, table := range append(tables, "../../../examples/practice/practice.csv") {
		name := filepath.Base(table)
		for _, do := range []string{"check", "audit"} {
			_, result, _ := answers(t, object{"do": "file", "name": name}, read(t, table), object{"do": do, "tables": []string{name}, "settings": object{}}, []byte(nil))
			var said struct{ HTML, Refused string }
			var got checked
			if json.Unmarshal(result, &said) != nil {
				said.Refused = string(result)
			}
			if do == "check" && json.Unmarshal(result, &got) == nil {
				for _, p := range got.Parts {
					said.HTML += p.Title + p.HTML + fmt.Sprint(p.Asks)
				}
			}
			if found := command.FindString(said.HTML + said.Refused); found != "" {
				t.Errorf("%s of %s says %q: %s", do, name, found, said.HTML+said.Refused)
			}
		}
	}
}
