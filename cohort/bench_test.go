package cohort_test

import (
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"example.org/holdfast/cohort"
)

// invented is a table of n rows, made anew with the same seed: 48 groups of
// bearing, fixation and age band.
func invented(n int) string {
	r := newRand(2024)
	pick := func(values []string) string { return values[r.IntN(len(values))] }
	procedures := []string{"THR", "TKR"}
	joints := []string{"hip", "knee"}
	bearings := [][]string{{"MoP", "CoXLPE", "CoC"}, {"fixed", "mobile", ""}}
	fixations := []string{"cemented", "uncemented"}
	sides := []string{"left", "right"}
	var b strings.Builder
	b.WriteString("joint_id,patient,operation_date,joint,side,procedure,bearing,fixation,age,sex,revision_date,revision_reason,death_date\n")
	for i := range n {
		k := r.IntN(2)
		op := day("2004-01-01") + cohort.Day(r.IntN(7300))
		revision, reason, death := "", "", ""
		if r.IntN(25) == 0 {
			revision, reason = (op + cohort.Day(r.IntN(150))).String(), "infection"
		}
		if r.IntN(8) == 0 {
			death = (op + cohort.Day(150+r.IntN(20))).String()
		}
		fmt.Fprintf(&b, "%d,P%07d,%s,%s,%s,%s,%s,%s,%d,%s,%s,%s,%s\n", i, r.IntN(n)*4/5, op, joints[k], sides[i%2], procedures[k],
			pick(bearings[k]), pick(fixations), 40+r.IntN(50), pick([]string{"F", "M"}), revision, reason, death)
	}
	return b.String()
}

var inventedTables sync.Map // by number of rows

func inventedTable(n int) string {
	text, ok := inventedTables.Load(n)
	if !ok {
		text, _ = inventedTables.LoadOrStore(n, invented(n))
	}
	return text.(string)
}

func benchmarkSizes(b *testing.B, run func(b *testing.B, text string)) {
	for _, size := range []struct {
		name string
		n    int
	}{{"rows=1e4", 1e4}, {"rows=1e5", 1e5}, {"rows=1e6", 1e6}} {
		b.Run(size.name, func(b *testing.B) {
			text := inventedTable(size.n)
			b.ReportAllocs()
			run(b, text)
		})
	}
}

func readInvented(b *testing.B, text string) *cohort.Cohort {
	// Without the reader's other methods: as from a pipe.
	c, err := cohort.Read(b.Context(), []cohort.Source{{Name: "invented.csv", Reader: struct{ io.Reader }{strings.NewReader(text)}}}, cohort.Options{Today: day(today)})
	if err != nil {
		b.Fatal(err)
	}
	return c
}

func BenchmarkRead(b *testing.B) {
	benchmarkSizes(b, func(b *testing.B, text string) {
		b.SetBytes(int64(len(text)))
		for b.Loop() {
			readInvented(b, text)
		}
	})
}

// Tables whose patients are all alone, are all one, or are spread over many files.
func BenchmarkReadPatients(b *testing.B) {
	const rows = 100_000
	text := inventedTable(rows)
	heading, joints, _ := strings.Cut(text, "\n")
	patient := regexp.MustCompile(`,P\d+,`)
	one := func(name, text string) cohort.Source {
		return cohort.Source{Name: name, Reader: strings.NewReader(text)}
	}
	many := func() (all []cohort.Source) {
		lines := strings.SplitAfter(joints, "\n")
		for part := range slices.Chunk(lines, len(lines)/40+1) {
			all = append(all, one(fmt.Sprintf("invented-%d.csv", len(all)), heading+"\n"+strings.Join(part, "")))
		}
		return all
	}
	for _, test := range []struct {
		name string
		from func() []cohort.Source
	}{
		{"no column of patients", func() []cohort.Source {
			return []cohort.Source{one("invented.csv", strings.Replace(text, ",patient,", ",note,", 1))}
		}},
		{"one identifier", func() []cohort.Source {
			return []cohort.Source{one("invented.csv", heading+"\n"+patient.ReplaceAllString(joints, ",private,"))}
		}},
		{"forty tables", many},
	} {
		b.Run(test.name, func(b *testing.B) {
			b.ReportAllocs()
			sources := test.from()
			for b.Loop() {
				for i := range sources {
					sources[i].Reader.(io.Seeker).Seek(0, io.SeekStart)
				}
				c, err := cohort.Read(b.Context(), sources, cohort.Options{Today: day(today)})
				if err != nil {
					b.Fatal(err)
				}
				if read := c.Account().Read; read != rows {
					b.Fatalf("%d rows", read)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/rows, "ns/row")
		})
	}
}

func BenchmarkTally(b *testing.B) {
	benchmarkSizes(b, func(b *testing.B, text string) {
		c := readInvented(b, text)
		b.ResetTimer()
		groups := 0
		for b.Loop() {
			g, err := c.Tally([]string{"bearing", "fixation", "age_band"}, cohort.Endpoint{})
			if err != nil {
				b.Fatal(err)
			}
			groups = g.Set.Len()
		}
		b.ReportMetric(float64(groups), "groups")
	})
}
