package audit_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/survival"
)

// joint is one row of an invented cohort, with what follows from it.
type joint struct {
	patient                           int
	procedure, bearing, fixation, sex string
	operated                          time.Time
	revised, died, seen               int // days after operation; −1 for never
}

func (j joint) line() string {
	on := func(days int) string {
		if days < 0 {
			return ""
		}
		return j.operated.AddDate(0, 0, days).Format(time.DateOnly)
	}
	return fmt.Sprintf("p%d,%s,%s,%s,%s,%s,%s,%s,%s", j.patient, on(0), j.procedure, j.bearing, j.fixation, j.sex, on(j.revised), on(j.died), on(j.seen))
}

// outcome is day and cause of the end of follow-up by the rules of the table:
// revision, else death, else the earlier of last seen and closing date.
func (j joint) outcome(closing time.Time) (day float64, cause int) {
	end := int(closing.Sub(j.operated).Hours()/24 + .5)
	switch {
	case j.revised >= 0 && j.revised <= end:
		return float64(j.revised), 1
	case j.died >= 0 && j.died <= end:
		return float64(j.died), 2
	case j.revised >= 0 || j.died >= 0:
		return float64(end), 0
	case j.seen >= 0:
		return float64(min(j.seen, end)), 0
	}
	return float64(end), 0
}

// randomJoints draws a cohort with ties: few different days, all before today,
// some after the closing date.
func randomJoints(r *rand.Rand, n int) []joint {
	pick := func(words ...string) string { return words[r.IntN(len(words))] }
	days := func(share float64) int {
		if r.Float64() > share {
			return -1
		}
		return r.IntN(30) * 137
	}
	start := time.Date(2008, 1, 1, 0, 0, 0, 0, time.UTC)
	var all []joint
	for i := range n {
		j := joint{patient: i, procedure: pick("THR", "HRA"), bearing: pick("CoC", "MoP", "MoM", ""), fixation: pick("cemented", "porous", ""),
			sex: pick("F", "M"), operated: start.AddDate(0, 0, r.IntN(10)*149), revised: days(.2), died: days(.2), seen: days(.5)}
		if j.revised >= 0 && j.died >= 0 {
			j.revised = min(j.revised, j.died) // no revision after death
		}
		all = append(all, j)
	}
	return all
}

const randomHeadings = "patient,operation_date,procedure,bearing,fixation,sex,revision_date,death_date,last_seen_date\n"

func tableOf(joints []joint) string {
	var b strings.Builder
	b.WriteString(randomHeadings)
	for _, j := range joints {
		b.WriteString(j.line() + "\n")
	}
	return b.String()
}

// canonical gives the words of the fields as an audit writes them.
var canonical = map[string]string{"THR": "total", "HRA": "resurfacing", "CoC": "ceramic-on-ceramic", "MoP": "metal-on-polyethylene", "MoM": "metal-on-metal",
	"cemented": "cemented", "porous": "porous", "F": "female", "M": "male", "": "not recorded"}

// Every estimate equals, to the bit, that of the estimators run on the rows of
// the group, by the path that sorts.
func TestEstimatesAreThoseOfTheRows(t *testing.T) {
	end := time.Date(2020, 12, 31, 0, 0, 0, 0, time.UTC)
	for seed := range uint64(6) {
		r := rand.New(rand.NewPCG(seed, 1))
		joints := randomJoints(r, []int{3, 40, 150, 700, 700, 1500}[seed])
		interval := survival.Interval{Method: survival.Method(seed % 4), Level: []float64{0, .9}[seed%2]}
		by := [][]string{{"bearing", "fixation", "sex"}, {"sex"}, {"fixation", "bearing"}, {}, nil, nil}[seed]
		a := testaudit.Run(t, testaudit.Read(t, tableOf(joints), cohort.Options{ClosingDate: testaudit.Closing(t)}),
			audit.Options{By: by, Interval: interval, Years: []float64{.5, 1, 2, 3, 4, 5, 7.5, 10, 12}})
		form(t, a)
		rows := testaudit.Rows(t, a)
		reached := 0
		for _, g := range a.Groups {
			var s survival.Sample
			for _, j := range joints {
				of := map[string]string{"joint": "hip", "procedure": canonical[j.procedure], "bearing": canonical[j.bearing], "fixation": canonical[j.fixation], "sex": canonical[j.sex]}
				in := true
				for _, v := range g.Values {
					in = in && (v.All || of[v.Field] == v.Word)
				}
				if in {
					day, cause := j.outcome(end)
					s.Exit = append(s.Exit, day)
					s.Cause = append(s.Cause, cause)
				}
			}
			if int64(len(s.Exit)) != g.Joints || g.Joints == 0 {
				t.Fatalf("seed %d, %s: %d joints, %d rows", seed, g.Title(), g.Joints, len(s.Exit))
			}
			table, err := survival.NewTable(s, 2)
			if err != nil {
				t.Fatal(err)
			}
			km, err := survival.KaplanMeier(table, 1)
			if err != nil {
				t.Fatal(err)
			}
			incidence, err := survival.CumulativeIncidence(table, 1)
			if err != nil {
				t.Fatal(err)
			}
			for _, r := range g.Rows() {
				line := rows[0]
				rows = rows[1:]
				k, ok := km.At(cohort.DayOfYear(r.Years), interval)
				f, _ := incidence.At(cohort.DayOfYear(r.Years), interval)
				if ok != (line["km_pct"] != "") {
					t.Fatalf("seed %d, %s at %v: reached %v, in the CSV %q", seed, g.Title(), r.Years, ok, line["km_pct"])
				}
				if !ok {
					continue
				}
				reached++
				for _, c := range []struct {
					column string
					want   float64
				}{
					{"km_pct", k.Estimate}, {"km_se_pct", k.SE}, {"km_lower_pct", k.Lower}, {"km_upper_pct", k.Upper},
					{"incidence_pct", f.Estimate}, {"incidence_se_pct", f.SE}, {"incidence_lower_pct", f.Lower}, {"incidence_upper_pct", f.Upper},
				} {
					if got := proportion(t, line[c.column]); got != c.want {
						t.Errorf("seed %d, %s at %v: %s is %v, want %v", seed, g.Title(), r.Years, c.column, got, c.want)
					}
				}
				if line["at_risk"] != audit.Number(k.AtRisk) || line["revised_so_far"] != audit.Number(k.Events) {
					t.Errorf("seed %d, %s at %v: at risk %s, revised %s", seed, g.Title(), r.Years, line["at_risk"], line["revised_so_far"])
				}
			}
		}
		if reached < 10 {
			t.Errorf("seed %d: %d estimates compared", seed, reached)
		}
	}
}

// Joints, revisions and deaths of the groups of a field add up to those of all.
func TestMarginsAddUp(t *testing.T) {
	a := testaudit.Run(t, testaudit.Read(t, tableOf(randomJoints(rand.New(rand.NewPCG(7, 7)), 800)), cohort.Options{ClosingDate: testaudit.Closing(t)}),
		audit.Options{By: []string{"bearing", "fixation", "sex"}})
	type sum struct {
		joints, revised, died int64
		days                  float64
	}
	sums := make(map[string]sum)
	var levels []string
	for _, g := range a.Groups {
		key := g.Word("procedure") + " " + g.Pooling.String() + " " + g.Field()
		if g.Pooling == audit.Cell {
			key = g.Word("procedure") + " " + g.Pooling.String()
		}
		if !slices.Contains(levels, key) {
			levels = append(levels, key)
		}
		s := sums[key]
		sums[key] = sum{s.joints + g.Joints, s.revised + g.Revised, s.died + g.Died, s.days + g.ImplantYears*365.25}
	}
	if len(levels) != 10 { // two procedures: all, three fields, the cells
		t.Fatalf("%q", levels)
	}
	for i, key := range levels {
		got, want := sums[key], sums[levels[i/5*5]]
		if got.joints != want.joints || got.revised != want.revised || got.died != want.died || !testaudit.Near(got.days, want.days) {
			t.Errorf("%s: %+v, all %+v", key, got, want)
		}
	}
}

// The same table gives the same bytes, on one processor and on four.
func TestSameBytesAgain(t *testing.T) {
	table := tableOf(randomJoints(rand.New(rand.NewPCG(3, 3)), 5000))
	o := audit.Options{By: []string{"bearing", "fixation", "sex"}, Published: testaudit.Book(t, publishedHeadings+"a,hip,total,,,,3,4,3,5,,1-KM,Invented\nb,hip,total,*,,,5,4,3,5,,1-KM,Invented\n")}
	output := func() []byte {
		a := testaudit.Run(t, testaudit.Read(t, table, cohort.Options{ClosingDate: testaudit.Closing(t), Assume: map[string]string{"surgeon": "A", "hospital": "B"}}), o)
		return append(testaudit.CSV(t, a), testaudit.JSON(t, a)...)
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	var first []byte
	for _, processors := range []int{1, 4, 1, 4, 2} {
		runtime.GOMAXPROCS(processors)
		got := output()
		if first == nil {
			first = got
		}
		if !bytes.Equal(first, got) {
			t.Fatalf("other bytes on %d processors", processors)
		}
	}
}
