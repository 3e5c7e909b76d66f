package figure

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

func closingDay(t testing.TB, s string) *cohort.Day {
	t.Helper()
	d, err := cohort.ParseDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return &d
}

// auditTable makes the audit of a table in memory, closed on 2024-12-31.
func auditTable(t testing.TB, table string, o audit.Options) *audit.Audit {
	t.Helper()
	return tableMade(t, table, o, audit.Run)
}

func tableMade(t testing.TB, table string, o audit.Options, run maker) *audit.Audit {
	t.Helper()
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(table)}},
		cohort.Options{Keep: []string{"surgeon"}, ClosingDate: closingDay(t, "2024-12-31"), Today: *closingDay(t, "2025-06-30")})
	if err != nil {
		t.Fatal(err)
	}
	a, err := run(c, o)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// maker makes an audit: as it is, or safe to share.
type maker = func(audit.Source, audit.Options) (*audit.Audit, error)

// practiceAudit is the invented practice beside the invented registry.
func practiceAudit(t testing.TB, o audit.Options) *audit.Audit {
	t.Helper()
	return practiceMade(t, o, audit.Run)
}

func practiceMade(t testing.TB, o audit.Options, run maker) *audit.Audit {
	t.Helper()
	table, err := os.ReadFile("../../examples/practice/practice.csv")
	if err != nil {
		t.Fatal(err)
	}
	registry, err := os.Open("../../examples/registry/registry.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer registry.Close()
	series, _, err := benchmark.Read(registry, "registry.csv")
	if err != nil {
		t.Fatal(err)
	}
	o.Published = series
	return tableMade(t, string(table), o, run)
}

// kind is one group of an invented table: how many joints, operated on over how
// many years up to the closing date, with what yearly hazards of revision and
// death.
type kind struct {
	word            string
	joints          int
	years           float64
	revision, death float64
}

// invented is a table of total hips, the same each time.
func invented(kinds ...kind) string {
	r := rand.New(rand.NewPCG(1, 2))
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	_ = w.Write([]string{"operation_date", "joint", "procedure", "surgeon", "age", "revision_date", "death_date", "last_seen_date"})
	closing := 20088 // days from 1970 to 2024-12-31
	for _, k := range kinds {
		for range k.joints {
			operated := closing - int(r.Float64()*k.years*365.25)
			date := func(rate float64) string {
				if rate == 0 {
					return ""
				}
				if d := operated + int(r.ExpFloat64()/rate*365.25); d <= closing {
					return iso(d)
				}
				return ""
			}
			revision, death := date(k.revision), date(k.death)
			if death != "" && revision > death {
				revision = ""
			}
			_ = w.Write([]string{iso(operated), "hip", "total", k.word, fmt.Sprint(50 + r.IntN(40)), revision, death, "2024-12-31"})
		}
	}
	w.Flush()
	return b.String()
}

// iso is a day from 1970 as text.
func iso(days int) string { return cohort.Day(days).String() }

// bySurgeon audits an invented table by its words.
func bySurgeon(t testing.TB, kinds ...kind) *audit.Audit {
	t.Helper()
	return auditTable(t, invented(kinds...), audit.Options{By: []string{"surgeon"}, Years: []float64{1, 3, 5, 10, 15, 20}})
}

// yAxisOf maps a value to a height, for a figure of one panel.
func yAxisOf(t testing.TB, all []element) func(float64) float64 {
	t.Helper()
	ticks := within(all, "text", "y ticks")
	first, last := ticks[0], ticks[len(ticks)-1]
	off := .36 * float64(labelText.size) // of a label's base line from its tick
	y0, y1 := number(t, first.attr["y"])-off, number(t, last.attr["y"])-off
	v0, v1 := number(t, first.text), number(t, last.text)
	return func(v float64) float64 { return y0 + (y1-y0)*(v-v0)/(v1-v0) }
}

// middleY is the middle of a path's vertical extent.
func middleY(t testing.TB, d string) float64 {
	t.Helper()
	low, high := math.Inf(1), math.Inf(-1)
	see := func(s string) {
		y := number(t, s)
		low, high = math.Min(low, y), math.Max(high, y)
	}
	for d != "" {
		command := d[0]
		d = d[1:]
		end := strings.IndexAny(d, "MLHVCZ")
		if end < 0 {
			end = len(d)
		}
		numbers := strings.Fields(d[:end])
		d = d[end:]
		switch command {
		case 'H', 'Z':
		case 'V':
			see(numbers[0])
		default:
			for i := 1; i < len(numbers); i += 2 {
				see(numbers[i])
			}
		}
	}
	return (low + high) / 2
}
