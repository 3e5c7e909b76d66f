// Command compare makes an audit of an outcomes table and prints its
// comparisons with a file of published figures, one line each.
//
//	go run ./examples/compare [TABLE [FIGURES]]
package main

import (
	"context"
	"fmt"
	"log"
	"os"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

func main() {
	names := []string{"examples/practice/practice.csv", "examples/registry/registry.csv"}
	copy(names, os.Args[1:])

	f, err := os.Open(names[1])
	if err != nil {
		log.Fatal(err)
	}
	defer f.Close()
	figures, _, err := benchmark.Read(f, names[1])
	if err != nil {
		log.Fatal(err)
	}
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: names[0]}}, cohort.Options{Keep: audit.Statable()})
	if err != nil {
		log.Fatal(err)
	}
	a, err := audit.Run(c, audit.Options{By: []string{"fixation"}, Published: figures})
	if err != nil {
		log.Fatal(err)
	}
	for _, b := range a.Beside {
		if c := b.Comparison; b.Read() && c.Reached {
			fmt.Printf("%s, %s, %v joints, %v years: own %.1f %%, published %.1f %% (%s): %s\n",
				b.Joint, b.Procedure, b.Joints, b.Figure.Years, 100*c.Own.Estimate, 100*c.Figure.Revision, c.Series.Source, c.Words())
		}
	}
	fmt.Println()
	for _, caution := range a.Cautions {
		fmt.Println(caution)
	}
}
