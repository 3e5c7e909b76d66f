package regress_test

import (
	"errors"
	"fmt"
	"log"

	"example.org/holdfast/survival"
	"example.org/holdfast/survival/regress"
)

const (
	revised = 1
	died    = 2
)

// Invented hips: bearing B or not, and age at operation in tens of years above
// 60; months to revision, death or the end of follow-up.
var hips = regress.Data{
	Names: []string{"bearing B", "age per 10 years"},
	Design: [][]float64{
		{0, 0.5}, {1, 0.2}, {0, 1.1}, {1, -0.8}, {0, -0.3}, {1, 0.9}, {0, 0.0}, {1, 1.4},
		{0, 0.7}, {1, -0.2}, {0, 1.6}, {1, 0.4}, {0, -0.6}, {1, 1.0}, {0, 0.3}, {1, 0.6},
	},
	Sample: survival.Sample{
		Exit:  []float64{40, 12, 60, 12, 24, 33, 60, 60, 51, 48, 18, 60, 60, 6, 60, 30},
		Cause: []int{0, revised, 0, revised, revised, 0, 0, died, 0, revised, died, 0, revised, 0, 0, revised},
	},
}

// The values in these examples agree with R's survival and cmprsk packages, but
// for those of Firth, which they do not have.

func ExampleCox() {
	f, err := regress.Cox(hips, revised, regress.Options{})
	if err != nil {
		log.Fatal(err)
	}
	for j, name := range f.Names {
		ratio, lower, upper := f.Ratio(j)
		fmt.Printf("%s: revision rate %.2f times (%.2f to %.2f)\n", name, ratio, lower, upper)
	}
	fmt.Printf("%d revised of %d; likelihood ratio %.2f on %d degrees of freedom, p %.2f\n",
		f.Events, f.Subjects, f.LikelihoodRatio.Value, f.LikelihoodRatio.DF, f.LikelihoodRatio.P)
	// Output:
	// bearing B: revision rate 5.64 times (0.83 to 38.21)
	// age per 10 years: revision rate 0.11 times (0.02 to 0.66)
	// 6 revised of 16; likelihood ratio 9.52 on 2 degrees of freedom, p 0.01
}

// Without a revision in one group its ratio has no finite estimate by Cox.
func ExampleFirth() {
	d := hips
	d.Sample.Cause = []int{0, revised, 0, revised, 0, 0, 0, died, 0, revised, died, 0, 0, 0, 0, revised}
	_, err := regress.Cox(d, revised, regress.Options{})
	var column *regress.ColumnError
	if errors.As(err, &column) {
		fmt.Println(column.Name, "is separated:", errors.Is(err, regress.ErrSeparated))
	}
	f, err := regress.Firth(d, revised, regress.Options{})
	if err != nil {
		log.Fatal(err)
	}
	ratio, lower, upper := f.Ratio(0)
	fmt.Printf("%s: revision rate %.1f times (%.1f to %.0f)\n", f.Names[0], ratio, lower, upper)
	// Output:
	// bearing B is separated: true
	// bearing B: revision rate 14.6 times (1.5 to 1955)
}

// Is the ratio after two years another than before?
func ExampleSplit() {
	one, err := regress.Cox(hips, revised, regress.Options{})
	if err != nil {
		log.Fatal(err)
	}
	d, err := regress.Split(hips, []float64{24}, 1)
	if err != nil {
		log.Fatal(err)
	}
	two, err := regress.Cox(d, revised, regress.Options{})
	if err != nil {
		log.Fatal(err)
	}
	for j, name := range two.Names {
		ratio, _, _ := two.Ratio(j)
		fmt.Printf("%s: %.2f\n", name, ratio)
	}
	test := survival.NewChiSquare(2*(two.LogLikelihood-one.LogLikelihood), 1)
	fmt.Printf("p %.2f\n", test.P)
	// Output:
	// bearing B: 5.53
	// age per 10 years, to 24: 0.10
	// age per 10 years, after 24: 0.12
	// p 0.93
}

func ExampleFit_Proportional() {
	f, err := regress.Cox(hips, revised, regress.Options{})
	if err != nil {
		log.Fatal(err)
	}
	tests, together, err := f.Proportional(regress.ShareFailed, nil)
	if err != nil {
		log.Fatal(err)
	}
	for _, t := range tests {
		fmt.Printf("%s: χ² %.3f, p %.2f\n", t.Name, t.Value, t.P)
	}
	fmt.Printf("together: χ² %.3f on %d degrees of freedom\n", together.Value, together.DF)
	// Output:
	// bearing B: χ² 0.154, p 0.70
	// age per 10 years: χ² 0.501, p 0.48
	// together: χ² 0.524 on 2 degrees of freedom
}

func ExampleFineGray() {
	f, err := regress.FineGray(hips, revised, regress.Options{})
	if err != nil {
		log.Fatal(err)
	}
	ratio, lower, upper := f.Ratio(0)
	fmt.Printf("%s: %.2f (%.2f to %.2f)\n", f.Names[0], ratio, lower, upper)
	// Output:
	// bearing B: 5.19 (1.49 to 18.06)
}
