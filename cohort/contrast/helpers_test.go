package contrast_test

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/contrast"
)

func day(t testing.TB, s string) cohort.Day {
	t.Helper()
	d, err := cohort.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// read reads a table from memory, closed on 2020-12-31.
func read(t testing.TB, table string, o cohort.Options) *cohort.Cohort {
	t.Helper()
	closing := day(t, "2020-12-31")
	o.ClosingDate, o.Today = &closing, day(t, "2024-06-30")
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(table)}}, o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func run(t testing.TB, c *cohort.Cohort, o contrast.Options) *contrast.Contrast {
	t.Helper()
	k, err := contrast.Run(c, o)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// records are the rows of a file of testdata by heading.
func records(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, r := range all[1:] {
		m := make(map[string]string)
		for i, h := range all[0] {
			m[h] = r[i]
		}
		rows = append(rows, m)
	}
	return rows
}

// What the invented joints of testdata are called in an outcomes table.
var words = map[string]string{
	"A": "metal-on-polyethylene", "B": "ceramic-on-polyethylene", "C": "ceramic-on-ceramic",
	"p": "cemented", "q": "porous", "r": "hybrid", "0": "female", "1": "male",
}

// outcomes makes an outcomes table of joints.csv or few.csv: with deaths and no
// patients, or with patients, deaths then being the end of follow-up and no more,
// since the death of a patient would be that of both joints.
func outcomes(t testing.TB, name string, patients bool) string {
	t.Helper()
	start := day(t, "2001-01-01")
	var b strings.Builder
	b.WriteString("operation_date,joint,procedure,side,bearing,fixation,sex,age,revision_date,revision_reason,last_seen_date")
	if patients {
		b.WriteString(",patient\n")
	} else {
		b.WriteString(",death_date\n")
	}
	seen := make(map[string]bool)
	for _, r := range records(t, name) {
		days, err := strconv.Atoi(r["day"])
		if err != nil {
			t.Fatal(err)
		}
		end := (start + cohort.Day(days)).String()
		revised, reason, last, died := "", "", "", ""
		switch r["cause"] {
		case "1", "2":
			revised, reason = end, map[string]string{"1": "infection", "2": "pain"}[r["cause"]]
		case "3":
			last, died = end, end
		default:
			last = end
		}
		side := "left"
		if seen[r["patient"]] {
			side = "right"
		}
		seen[r["patient"]] = patients
		extra := died
		if patients {
			extra = "P" + r["patient"]
		}
		fmt.Fprintf(&b, "%s,hip,total,%s,%s,%s,%s,%s,%s,%s,%s,%s\n", start, side, words[r["bearing"]], words[r["fixation"]], words[r["sex"]], r["age"], revised, reason, last, extra)
	}
	return b.String()
}

// reference are values calculated with R; see testdata/README.md.
type reference map[string]float64

func references(t testing.TB, name string) reference {
	t.Helper()
	m := make(reference)
	for _, r := range records(t, name) {
		x, err := strconv.ParseFloat(r["value"], 64)
		if err != nil {
			continue
		}
		m[r["case"]+": "+r["what"]] = x
	}
	return m
}

// near wants a number to agree to ten digits, or to 1e-10 if it is small.
func near(t testing.TB, what string, got, want float64) {
	t.Helper()
	if !(math.Abs(got-want) <= 1e-9*math.Max(0.1, math.Abs(want))) {
		t.Errorf("%s: got %.15g, want %.15g", what, got, want)
	}
}

// row finds the one row of an item that is not too particular.
func row(t testing.TB, k *contrast.Contrast, item, group string, years float64, estimand string) contrast.Row {
	t.Helper()
	var found []contrast.Row
	for _, r := range k.Rows() {
		if r.Item == item && r.Group == group && (years == 0 || r.Years == years) && (estimand == "" || r.Estimand == estimand) {
			found = append(found, r)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d rows of %s %q at %v", len(found), item, group, years)
	}
	return found[0]
}
