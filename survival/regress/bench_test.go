package regress

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// registry is joints with words of 8, 5, 2, 5, 4, 2 and 2 values, together 20
// coefficients, and whole days up to 20 years; one bearing's hazard is exp(0.1)
// times that of the others. The same is drawn in testdata/reference/speed.R.
func registry(rows int) Data {
	levels := []int{8, 5, 2, 5, 4, 2, 2}
	d := Data{Pattern: make([]int32, rows)}
	for j, n := range levels {
		for l := 1; l < n; l++ {
			d.Names = append(d.Names, fmt.Sprintf("word %d value %d", j+1, l+1))
		}
	}
	patterns := 1
	for _, n := range levels {
		patterns *= n
	}
	for p := range patterns {
		row, rest, at := make([]float64, len(d.Names)), p, 0
		for _, n := range levels {
			if l := rest % n; l > 0 {
				row[at+l-1] = 1
			}
			rest /= n
			at += n - 1
		}
		d.Design = append(d.Design, row)
	}
	random := rand.New(rand.NewPCG(1, 20))
	d.Sample.Exit, d.Sample.Cause = make([]float64, rows), make([]int, rows)
	for i := range rows {
		p := random.IntN(patterns)
		predictor := 0.0
		if p%8 == 7 {
			predictor = 0.1
		}
		event := 3652 * math.Pow(random.ExpFloat64()/(.045*math.Exp(predictor)), 1/.75)
		end := math.Min(1+7299*random.Float64(), 3652*random.ExpFloat64()/.35)
		d.Pattern[i] = int32(p)
		if d.Sample.Exit[i] = math.Floor(math.Min(event, end)); event <= end {
			d.Sample.Cause[i] = 1
		}
	}
	return d
}

// BenchmarkCox fits 20 coefficients, Efron's ties. Compare with the seconds that
// testdata/reference/speed.R prints for R's coxph on the same data.
func BenchmarkCox(b *testing.B) {
	for _, rows := range []int{1e5, 1e6, 5e6} {
		b.Run(fmt.Sprintf("rows=%d", rows), func(b *testing.B) {
			d := registry(rows)
			b.ReportAllocs()
			for b.Loop() {
				f, err := Cox(d, 1, Options{})
				if err != nil {
					b.Fatal(err)
				}
				b.ReportMetric(float64(f.Iterations), "iterations")
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N), "s/fit")
		})
	}
}

// BenchmarkCoxByPatient adds the robust variance, with a quarter of the joints
// being a patient's second.
func BenchmarkCoxByPatient(b *testing.B) {
	d := registry(1e6)
	d.Sample.Cluster = make([]int, 1e6)
	for i := range d.Sample.Cluster {
		d.Sample.Cluster[i] = i * 4 / 5
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Cox(d, 1, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkFirth fits few events among many joints, with profile limits.
func BenchmarkFirth(b *testing.B) {
	d := registry(2000)
	d.Names = d.Names[:8]
	for p, row := range d.Design {
		d.Design[p] = row[:8]
	}
	events := 0
	for i, c := range d.Sample.Cause {
		if events += c; events > 30 {
			d.Sample.Cause[i] = 0
		}
	}
	for b.Loop() {
		if _, err := Firth(d, 1, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFineGray(b *testing.B) {
	d := registry(1e6)
	for i := range d.Sample.Cause {
		if i%3 == 0 && d.Sample.Cause[i] == 0 {
			d.Sample.Cause[i] = 2
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := FineGray(d, 1, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
