package audit_test

import (
	"bytes"
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testaudit"
)

type object = map[string]any

// document reads an audit's JSON with numbers as they are written.
func document(t testing.TB, a *audit.Audit) object {
	t.Helper()
	d := json.NewDecoder(bytes.NewReader(testaudit.JSON(t, a)))
	d.UseNumber()
	var o object
	if err := d.Decode(&o); err != nil {
		t.Fatal(err)
	}
	if d.More() {
		t.Fatal("more than one object")
	}
	return o
}

// cell is a JSON value as the CSV would have it: null is empty.
func cell(t testing.TB, o object, name string) string {
	t.Helper()
	switch v, ok := o[name]; v := v.(type) {
	case nil:
		if !ok {
			t.Errorf("no name %q", name)
		}
		return ""
	case json.Number:
		return v.String()
	case string:
		return v
	case []any:
		var all []string
		for _, s := range v {
			all = append(all, s.(string))
		}
		return strings.Join(all, "; ")
	default:
		t.Errorf("%s is a %T", name, v)
		return ""
	}
}

func each(list any, f func(object)) {
	for _, o := range list.([]any) {
		f(o.(object))
	}
}

// The JSON has the CSV's names and the CSV's numbers, digit by digit.
func TestJSONIsTheCSV(t *testing.T) {
	const published = "a,hip,total,,,,3,4,3,5,,1-KM,Invented\nlimit,hip,total,,,,3,5,,,,threshold,Invented\nlimit,hip,total,,,,10,5,,,,threshold,Invented\n" +
		"b,hip,total,,,,15,9,,,,cumulative incidence,Invented\n"
	noDeaths := strings.ReplaceAll(strings.ReplaceAll(mixed, ",death_date", ""), ",2019-01-01\n", "\n")
	noDeaths = strings.ReplaceAll(strings.ReplaceAll(noDeaths, ",,\n", ",\n"), ",2014-02-05\n", "\n")
	for name, table := range map[string]string{"mixed": mixed, "many": manyHips, "without deaths": noDeaths} {
		t.Run(name, func(t *testing.T) {
			a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{Published: testaudit.Book(t, publishedHeadings+published)})
			rows := testaudit.Rows(t, a)
			d := document(t, a)
			lines := testaudit.Comparisons(t, a)
			thresholds := 0
			each(d["comparisons"], func(c object) {
				line := lines[0]
				lines = lines[1:]
				if c["match"] == "threshold" {
					thresholds++
				}
				for name, want := range line {
					if got := cell(t, c, name); got != want {
						t.Errorf("%v at %v: %s is %q, in the CSV %q", c["source"], c["years"], name, got, want)
					}
				}
			})
			if thresholds == 0 || len(lines) > 0 {
				t.Errorf("%d thresholds in the JSON, %d comparisons in the CSV alone", thresholds, len(lines))
			}
			each(d["groups"], func(g object) {
				each(g["rows"], func(r object) {
					line := rows[0]
					rows = rows[1:]
					check := func(o object, name string) {
						t.Helper()
						if got, want := cell(t, o, name), line[name]; got != want {
							t.Errorf("%v at %v: %s is %q, in the CSV %q", g["values"], r["years"], name, got, want)
						}
					}
					for _, name := range append([]string{"joint", "procedure"}, a.By...) {
						check(g["values"].(object), name)
					}
					for _, name := range strings.Fields("joints patients revised died implant_years rate_per_100 rate_lower rate_upper") {
						check(g, name)
					}
					for _, name := range strings.Fields("years at_risk revised_so_far km_pct km_se_pct km_lower_pct km_upper_pct " +
						"incidence_pct incidence_se_pct incidence_lower_pct incidence_upper_pct " +
						"published_figures published_registers published_least_pct published_most_pct published_origin reading notes") {
						check(r, name)
					}
				})
			})
			if len(rows) > 0 {
				t.Errorf("%d rows in the CSV alone", len(rows))
			}
		})
	}
}

// The table object accounts for every row.
func TestJSONTable(t *testing.T) {
	table := "# An invented table.\n" + testaudit.Lines("Patient No,Date of operation,procedure,Side,revision_date,sex",
		"A,03/04/2015,THR,L,25/04/2016,F", "A,03/04/2016,THR,L,,F", "B,04/05/2015,THR,,,F", "C,,THR,L,,F", "D,31/12/2018,THR,L,,M", "E,30/11/2018,THR,R,,F")
	a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{Where: []cohort.Condition{{Column: "sex", Value: "f"}}, Assume: map[string]string{"diagnosis": "osteoarthritis"}}), audit.Options{})
	d := document(t, a)
	got := d["table"].(object)
	want := object{
		"files": []any{object{
			"name": "own.csv", "format": "CSV, comma-separated, UTF-8", "rows": json.Number("6"),
			"headings": []any{
				object{"column": "patient", "value": "Patient No"}, object{"column": "operation_date", "value": "Date of operation"},
				object{"column": "procedure", "value": "procedure"}, object{"column": "side", "value": "Side"},
				object{"column": "revision_date", "value": "revision_date"}, object{"column": "sex", "value": "sex"}},
			"date_orders": []any{
				object{"column": "operation_date", "order": "day first", "settled_by": "operation_date"},
				object{"column": "revision_date", "order": "day first", "settled_by": "revision_date"}},
		}},
		"rows_in_files":            json.Number("6"),
		"scope":                    []any{object{"column": "sex", "value": "female"}},
		"assumed":                  []any{object{"column": "diagnosis", "value": "osteoarthritis"}},
		"rows_read":                json.Number("5"),
		"rows_used":                json.Number("3"),
		"rows_set_aside":           json.Number("2"),
		"reasons":                  []any{object{"reason": "no operation date", "rows": json.Number("1")}, object{"reason": "same joint again: possible revision", "rows": json.Number("1")}},
		"warnings":                 []any{object{"reason": "side missing", "rows": json.Number("1")}},
		"revised_without_a_date":   json.Number("0"),
		"follow_up_assumed":        json.Number("2"), // B and E
		"possible_revisions":       json.Number("0"), // A is revised already
		"lost_to_follow_up":        json.Number("0"),
		"revisions_recorded_apart": []any{},
		"deaths":                   "not recorded",
		"closing_date": object{"date": "2018-12-31", "given": false, "file": "own.csv", "row": json.Number("7"), "column": "operation_date",
			"next_latest": "2018-11-30", "gap_days": json.Number("31")},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	asked := document(t, testaudit.Run(t, testaudit.Read(t, twelveHips, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}}))
	if diff := cmp.Diff(object{"date": "2020-12-31", "given": true, "file": nil, "row": nil, "column": nil, "next_latest": nil, "gap_days": nil},
		asked["table"].(object)["closing_date"]); diff != "" {
		t.Error(diff)
	}
	names := []string{"table", "event", "by", "level", "interval", "groups", "comparisons", "readings", "comparisons_by_chance", "notes", "method", "cautions"}
	slices.Sort(names)
	if diff := cmp.Diff(names, slices.Sorted(maps.Keys(asked))); diff != "" {
		t.Error(diff)
	}
	if by, ok := asked["by"].([]any); !ok || len(by) != 0 {
		t.Errorf("by is %v, want []", asked["by"])
	}
	if c, ok := asked["comparisons"].([]any); !ok || len(c) != 0 {
		t.Errorf("comparisons is %v, want []", asked["comparisons"])
	}
}

// Nothing is left out of the JSON: every object of a kind has the same names.
func TestJSONHasAllNames(t *testing.T) {
	a := testaudit.Run(t, testaudit.Read(t, mixed, cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{Published: testaudit.Book(t, publishedHeadings+"a,hip,total,,,,3,4,3,5,,1-KM,Invented\n")})
	d := document(t, a)
	same := func(kind string, list any) {
		var first []string
		each(list, func(o object) {
			names := slices.Sorted(maps.Keys(o))
			if first == nil {
				first = names
			}
			if diff := cmp.Diff(first, names); diff != "" {
				t.Errorf("%s: %s", kind, diff)
			}
		})
	}
	same("groups", d["groups"])
	same("comparisons", d["comparisons"])
	each(d["groups"], func(g object) { same("rows", g["rows"]) })
}

// A revision for another reason is counted where the endpoint names reasons, 0
// of them too, and is not defined elsewhere.
func TestJSONOtherReasons(t *testing.T) {
	c := testaudit.Read(t, "operation_date,procedure,revision_date,revision_reason\n2010-01-01,THR,2011-01-01,infection\n2010-01-01,THR,,\n", cohort.Options{ClosingDate: testaudit.Closing(t)})
	for _, w := range []struct {
		reasons []string
		want    any
	}{{nil, nil}, {[]string{"infection"}, json.Number("0")}, {[]string{"pain"}, json.Number("1")}} {
		d := document(t, testaudit.Run(t, c, audit.Options{By: []string{}, Endpoint: cohort.Endpoint{Reasons: w.reasons}}))
		each(d["groups"], func(g object) {
			if got, ok := g["revised_for_another_reason"]; !ok || got != w.want {
				t.Errorf("%v: %v, want %v", w.reasons, got, w.want)
			}
		})
	}
}

// The file is written as encoding/json does: of no group, of several parts of groups, and with
// words that need marks of their own.
func TestJSONIsWrittenAsUsual(t *testing.T) {
	const headings = "operation_date,revision_date,joint,procedure,\"Cup \"\"maker\"\"\"\n"
	var many strings.Builder
	for _, maker := range []string{`"say ""a"" & <b>"`, `back\slash`, "Größe\u2028µ", "a\u0001b", "plain"} {
		many.WriteString(testaudit.Repeat(12, "2015-01-02,,hip,THR,"+maker))
	}
	for i := range 200 {
		many.WriteString(testaudit.Repeat(1, "2016-03-04,,knee,TKR,m"+strings.Repeat("x", i)))
	}
	c := testaudit.ReadClosed(t, headings+many.String(), cohort.Options{Keep: []string{`Cup "maker"`}})
	for name, a := range map[string]*audit.Audit{
		"none": {Closing: cohort.Closing{Asked: true}}, "several": testaudit.Run(t, c, audit.Options{By: []string{`Cup "maker"`}}),
	} {
		t.Run(name, func(t *testing.T) {
			got := testaudit.JSON(t, a)
			var value, want bytes.Buffer
			if err := json.Compact(&value, got); err != nil {
				t.Fatal(err)
			}
			if err := json.Indent(&want, value.Bytes(), "", " "); err != nil {
				t.Fatal(err)
			}
			want.WriteByte('\n')
			if d := cmp.Diff(want.String(), string(got)); d != "" {
				t.Errorf("(-usual +written):\n%s", d)
			}
			for _, s := range []string{`"Cup \"maker\"": "say \"a\" & <b>"`, `back\\slash`} {
				if strings.Contains(string(got), s) != (name == "several") {
					t.Errorf("%s: %t", s, name == "none")
				}
			}
		})
	}
}
