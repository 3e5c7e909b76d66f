package disclose_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/testaudit"
)

var update = flag.Bool("update", false, "write what survives of tables to testdata/survives.txt")

// departmentOf is an invented table of so many joints, the same each time: 15 years of
// hips and knees by some surgeons, with bearings, fixations and ages as they are common,
// about 0.5 % revised and 2.5 % dead a year.
func departmentOf(joints, surgeons int) string {
	r := rand.New(rand.NewPCG(uint64(joints), 7))
	pick := func(words []string, weights ...float64) string {
		x := r.Float64()
		for i, w := range weights {
			if x -= w; x < 0 {
				return words[i]
			}
		}
		return words[len(words)-1]
	}
	end := 20088 // 2024-12-31
	var b strings.Builder
	b.WriteString("operation_date,joint,procedure,bearing,fixation,age,surgeon,revision_date,death_date\n")
	for range joints {
		operated := end - r.IntN(15*365)
		joint, procedure := "hip", "total"
		bearing := pick([]string{"metal-on-polyethylene", "metal-on-crosslinked-polyethylene", "ceramic-on-polyethylene", "ceramic-on-crosslinked-polyethylene", "ceramic-on-ceramic", "dual-mobility", "metal-on-metal"}, .2, .35, .05, .28, .06, .04, .02)
		fixation := pick([]string{"cemented", "porous", "hybrid", "reverse hybrid"}, .35, .4, .2, .05)
		if r.Float64() < .48 {
			joint, bearing, fixation = "knee", pick([]string{"fixed", "mobile"}, .85, .15), pick([]string{"cemented", "porous", "hybrid"}, .88, .08, .04)
			if r.Float64() < .1 {
				procedure = "unicompartmental"
			}
		}
		gone := func(yearly float64) string {
			if d := operated + int(r.ExpFloat64()/yearly*365.25); d <= end {
				return cohort.Day(d).String()
			}
			return ""
		}
		revised, died := gone(.005), gone(.025)
		if revised != "" && died != "" && died < revised {
			revised = ""
		}
		fmt.Fprintf(&b, "%s,%s,%s,%s,%s,%d,Surgeon %d,%s,%s\n", cohort.Day(operated), joint, procedure, bearing, fixation, 40+int(50*(r.Float64()+r.Float64())/2), 1+int(float64(surgeons)*r.Float64()*r.Float64()), revised, died)
	}
	return b.String()
}

// survives says how much of an audit is told: of its groups, of the estimates with ten
// or more at risk, and how many of their readings beside an invented register are as they were.
func survives(t *testing.T, c *cohort.Cohort, by []string) string {
	file, err := os.Open(filepath.Join("..", "..", "examples", "registry", "registry.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	published, _, err := benchmark.Read(file, "registry.csv")
	if err != nil {
		t.Fatal(err)
	}
	o := audit.Options{By: by, NoCells: true, Published: published}
	from, to := testaudit.Run(t, c, o), share(t, c, o)
	type of struct{ told, all int }
	var groups, estimates, readings of
	own := make(map[string]*audit.Group)
	key := func(g *audit.Group) string { // whatever the names have become
		k := fmt.Sprintln(g.Word("joint"), g.Word("procedure"), g.Field(), shownAs(g.Joints), shownAs(g.Revised), shownAs(g.Died))
		for _, r := range g.Rows() {
			if r.Reached {
				k += fmt.Sprintln(shownAs(int64(r.KaplanMeier.AtRisk)), shownAs(int64(r.KaplanMeier.Events)))
			}
		}
		return k
	}
	joined, covered := 0, int64(0)
	for i := range to.Groups {
		g := &to.Groups[i]
		if g.Joined > 1 {
			joined++
			covered += int64(g.Joined)
		} else {
			own[key(g)] = g
		}
	}
	for i := range from.Groups {
		g := &from.Groups[i]
		groups.all++
		told := own[key(g)]
		if told != nil {
			groups.told++
		}
		for _, r := range g.Rows() {
			if !r.Shown.Estimated() {
				continue
			}
			estimates.all++
			if told != nil && told.At(r.Years).Reached {
				estimates.told++
				_, was := r.Read(benchmark.OneMinusKaplanMeier)
				if _, is := told.At(r.Years).Read(benchmark.OneMinusKaplanMeier); was != nil && is != nil {
					readings.all++
					if is.Code() == was.Code() {
						readings.told++
					}
				}
			}
		}
	}
	part := func(o of) string { return fmt.Sprintf("%d of %d (%d %%)", o.told, o.all, 100*o.told/o.all) }
	return fmt.Sprintf("groups told by themselves %s, %d more as %d; estimates %s; readings alike %s", part(groups), covered, joined, part(estimates), part(readings))
}

// TestWhatSurvives measures how much of an audit is told, of the invented practice and
// of two invented departments; -update writes it anew.
func TestWhatSurvives(t *testing.T) {
	if testing.Short() {
		t.Skip("20,000 joints")
	}
	practice, err := os.ReadFile(filepath.Join("..", "..", "examples", "practice", "practice.csv"))
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, table := range []struct {
		name, text string
		by         []string
	}{
		{"example", string(practice), nil},
		{"department of 1,400", departmentOf(1400, 12), nil},
		{"department of 1,400, by surgeon", departmentOf(1400, 12), []string{"surgeon"}},
		{"20,000 joints", departmentOf(20000, 60), nil},
		{"20,000 joints, by surgeon", departmentOf(20000, 60), []string{"surgeon"}},
	} {
		end := testaudit.Day(t, "2024-12-31")
		c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(table.text)}}, cohort.Options{Today: end, ClosingDate: &end, Keep: []string{"surgeon"}})
		if err != nil {
			t.Fatal(err)
		}
		lines = append(lines, table.name+": "+survives(t, c, table.by))
	}
	got := strings.Join(lines, "\n") + "\n"
	golden := filepath.Join("testdata", "survives.txt")
	if *update {
		if err := os.WriteFile(golden, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Error(d)
	}
}
