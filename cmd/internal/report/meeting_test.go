package report

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// department is a table of surgeons of unequal size over twelve years, 6 % of whose
// joints would be revised by ten years (Weibull, shape 0.6); those of the third surgeon,
// of 40 joints a year, at so many times the hazard.
func department(surgeons int, times float64, seed uint64) string {
	rng := rand.New(rand.NewPCG(seed, 0))
	closing := dayNumber(2022, 1, 1)
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,procedure,age,sex,surgeon,hospital,revision_date,last_seen_date\n")
	n := 0
	for s := range surgeons {
		perYear, hazard := []int{8, 16, 40}[rng.IntN(3)], 1.0
		if s == 2 {
			perYear, hazard = 40, times
		}
		for year := 2010; year < 2022; year++ {
			for range perYear {
				n++
				day := dayNumber(year, 1, 1) + cohort.Day(rng.IntN(365))
				to := 3652.5 * math.Pow(rng.ExpFloat64()/(-math.Log(.94)*hazard), 1/.6)
				revised := ""
				if at := day + cohort.Day(math.Min(to, 1e6)); at < closing {
					revised = at.String()
				}
				fmt.Fprintf(&b, "p%d,%s,hip,total,%d,%s,Linden%03d,Ward%d,%s,%s\n", n, day, 50+rng.IntN(40), []string{"F", "M"}[rng.IntN(2)], s, s%3, revised, closing)
			}
		}
	}
	return b.String()
}

func dayNumber(year, month, day int) cohort.Day {
	d, err := cohort.ParseDay(fmt.Sprintf("%d-%02d-%02d", year, month, day))
	if err != nil {
		panic(err)
	}
	return d
}

// meetingOf writes a department's page with letters: surgeon 002 is letter P, the
// others S and their numbers.
func meetingOf(t *testing.T, table string, named bool) (*gather.Department, string) {
	t.Helper()
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "department.csv", Reader: strings.NewReader(table)}}, cohort.Options{ClosingDate: dayOn(t, "2021-12-31"), Keep: []string{"surgeon", "hospital", "sex"}})
	if err != nil {
		t.Fatal(err)
	}
	m, err := gather.Brief(c, audit.Options{By: []string{}})
	if err != nil {
		t.Fatal(err)
	}
	d, err := gather.DepartmentOf(m, audit.Options{}, gather.Watching{})
	if err != nil {
		t.Fatal(err)
	}
	if !named {
		letters := map[string]string{"Linden002": "P"}
		for i := range 100 {
			if i != 2 {
				letters[fmt.Sprintf("Linden%03d", i)] = fmt.Sprintf("S%d", i)
			}
		}
		d = d.Called("surgeon", letters).Called("hospital", map[string]string{"Ward0": "X", "Ward1": "Y", "Ward2": "Z"})
	}
	page, err := Department(d, PaperOptions{}, named)
	if err != nil {
		t.Fatal(err)
	}
	var text strings.Builder
	if err := document.WriteText(&text, page, document.TextOptions{Width: 100}); err != nil {
		t.Fatal(err)
	}
	return d, strings.Join(strings.Fields(text.String()), " ")
}

func dayOn(t *testing.T, s string) *cohort.Day {
	t.Helper()
	d, err := cohort.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return &d
}

// What the page leads a reader to say of departments of 6, 20 and 60 surgeons of
// unequal size: with one at twice the others' hazard that one is named among those with
// more revisions than is usual; with none, no more are outside than two of 20, and the
// page says how many chance alone names. Seeded. No name stands on a page of letters.
func TestDepartmentWithOnePlanted(t *testing.T) {
	for _, test := range []struct {
		surgeons int
		times    float64
		planted  bool
	}{{6, 2, true}, {6, 1, false}, {20, 2, true}, {20, 1, false}, {60, 2, true}, {60, 1, false}} {
		t.Run(fmt.Sprintf("%d surgeons, one at %v times", test.surgeons, test.times), func(t *testing.T) {
			if testing.Short() && test.surgeons > 6 {
				t.Skip("long")
			}
			d, said := meetingOf(t, department(test.surgeons, test.times, 11), false)
			outside := 0
			for _, u := range d.Units.Department {
				if u.Value.Field != "surgeon" {
					continue
				}
				if u.Outside() != 0 {
					outside++
				}
			}
			if named := strings.Contains(said, "P (hip), with more"); named != test.planted {
				t.Errorf("names P: %v. %.900s", named, said)
			}
			if !test.planted && outside > 1+test.surgeons/15 {
				t.Errorf("%d of %d outside without a difference", outside, test.surgeons)
			}
			for _, want := range []string{"Where all are alike, chance alone puts", "No ranking", "whoever knows the volumes knows the letters", "Rows to chase, by whom", "What to record better"} {
				if !strings.Contains(said, want) {
					t.Errorf("the page lacks %q", want)
				}
			}
			if strings.Contains(said, "Linden") || strings.Contains(said, "Ward") {
				t.Error("a name stands on a page of letters")
			}
		})
	}
}

// Names that may be one are asked about first, by their letters.
func TestDepartmentAsksFirst(t *testing.T) {
	table := strings.ReplaceAll(department(6, 1, 3), "Linden005", "J Linden004")
	_, said := meetingOf(t, table, true)
	if at := strings.Index(said, "First: are these one?"); at < 0 || at > strings.Index(said, "In short") || !strings.Contains(said, "Surgeon J Linden004 and Linden004") {
		t.Errorf("not asked first: %.600s", said)
	}
}
