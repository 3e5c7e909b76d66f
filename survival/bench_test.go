package survival_test

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"sync"
	"testing"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

var benchmarkRows = []int{1e4, 1e5, 1e6}

const followUp = 5479 // days in 15 years

// columns of a registry: staggered operations with a common closing date, 5 %
// revised and 20 % dead by the end, in 48 groups.
func columns(rows int) (exit []int32, cause, group []uint8) {
	random := rand.New(rand.NewPCG(1, 48))
	exit, cause, group = make([]int32, rows), make([]uint8, rows), make([]uint8, rows)
	for i := range rows {
		exit[i] = random.Int32N(followUp)
		switch u := random.Float64(); {
		case u < 0.03:
			cause[i] = 1
		case u < 0.15:
			cause[i] = 2
		}
		group[i] = uint8(random.IntN(48))
	}
	return exit, cause, group
}

func benchmarkSample(rows int) survival.Sample {
	exit, cause, _ := columns(rows)
	s := survival.Sample{Exit: make([]float64, rows), Cause: make([]int, rows)}
	for i := range exit {
		s.Exit[i], s.Cause[i] = float64(exit[i]), int(cause[i])
	}
	return s
}

// BenchmarkTable sorts a sample into a life table.
func BenchmarkTable(b *testing.B) {
	for _, n := range benchmarkRows {
		b.Run(fmt.Sprintf("rows=1e%d", len(strconv.Itoa(n))-1), func(b *testing.B) {
			s := benchmarkSample(n)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := survival.NewTable(s, 2); err != nil {
					b.Fatal(err)
				}
			}
			perRow(b, n)
		})
	}
}

// BenchmarkTally counts the same rows by day and makes the same table.
func BenchmarkTally(b *testing.B) {
	for _, n := range benchmarkRows {
		b.Run(fmt.Sprintf("rows=1e%d", len(strconv.Itoa(n))-1), func(b *testing.B) {
			exit, cause, _ := columns(n)
			b.ReportAllocs()
			for b.Loop() {
				c := tally.New(2)
				for i, day := range exit {
					c.Add(day, int(cause[i]))
				}
				c.Table()
			}
			perRow(b, n)
		})
	}
}

// BenchmarkCurve estimates both curves from a table, whose length is the number
// of distinct days at most.
func BenchmarkCurve(b *testing.B) {
	for _, n := range benchmarkRows {
		b.Run(fmt.Sprintf("rows=1e%d", len(strconv.Itoa(n))-1), func(b *testing.B) {
			table, err := survival.NewTable(benchmarkSample(n), 2)
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				bothCurves(b, table)
			}
		})
	}
}

// BenchmarkRobust is the sample's infinitesimal jackknife.
func BenchmarkRobust(b *testing.B) {
	for _, n := range benchmarkRows {
		b.Run(fmt.Sprintf("rows=1e%d", len(strconv.Itoa(n))-1), func(b *testing.B) {
			s := benchmarkSample(n)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := survival.Robust(s, 2, 1, survival.Incidence); err != nil {
					b.Fatal(err)
				}
			}
			perRow(b, n)
		})
	}
}

func bothCurves(b *testing.B, t *survival.Table) {
	for _, estimate := range []estimator{survival.KaplanMeier, survival.CumulativeIncidence} {
		if _, err := estimate(t, 1); err != nil {
			b.Fatal(err)
		}
	}
}

func perRow(b *testing.B, n int) {
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/row")
}

// BenchmarkGroups is five million rows in 48 groups, in memory: Kaplan–Meier and
// cumulative incidence with their errors for each group, and beside it one plain
// pass over the same columns, which only adds them up.
func BenchmarkGroups(b *testing.B) {
	const n = 5_000_000
	exit, cause, group := columns(n)
	b.Run("work=estimates/rows=5e6", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			var counts [48]*tally.Counts
			for g := range counts {
				counts[g] = tally.New(2)
				counts[g].Grow(followUp)
			}
			for i, day := range exit {
				counts[group[i]].Add(day, int(cause[i]))
			}
			for _, c := range counts {
				bothCurves(b, c.Table())
			}
		}
		perRow(b, n)
	})
	b.Run("work=columns/rows=5e6", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			counts, err := tally.Columns(48, 2, group, exit, cause)
			if err != nil {
				b.Fatal(err)
			}
			var wg sync.WaitGroup
			for half := range 2 {
				wg.Go(func() {
					for g := half; g < len(counts); g += 2 {
						bothCurves(b, counts[g].Table())
					}
				})
			}
			wg.Wait()
		}
		perRow(b, n)
	})
	b.Run("work=plain_pass/rows=5e6", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			sink = plainPass(exit, cause, group)
		}
		perRow(b, n)
	})
}

var sink int64

// plainPass reads every value of the columns once.
func plainPass(exit []int32, cause, group []uint8) int64 {
	var total int64
	for i, day := range exit {
		total += int64(day) + int64(cause[i]) + int64(group[i])
	}
	return total
}
