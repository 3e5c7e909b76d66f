// Registry invents a table of published figures in the shape a joint registry's
// yearly report has: cumulative revision by joint, procedure, bearing, fixation
// and age band at 1, 3, 5, 10 and 15 years, with limits.
//
// Every figure is invented. The table shows how to bring one's own published
// figures to an audit; it is no publication and no yardstick for any implant.
//
//	go run ./examples/registry -out registry.csv
//
// With -hospitals it invents what such a register is made from: the tables of twenty
// hospitals, joint by joint.
//
//	go run ./examples/registry -hospitals folder -joints 20000
//
// The figures are what Kaplan–Meier would give in expectation for an invented
// population: month by month, joints at risk and revisions of every cell are
// worked out, summed over the cells of a group, and the proportions multiplied.
// Groups therefore agree with one another as they would in one register.
package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// run is the program with its surroundings passed in. It returns the exit
// status: 0 done, 1 the table could not be made or written, 2 wrong flags.
func run(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("registry", flag.ContinueOnError)
	flags.SetOutput(stderr)
	out := flags.String("out", "", "file for the table (default standard output)")
	folder := flags.String("hospitals", "", "folder for the tables of twenty hospitals, instead of the table of figures")
	joints := flags.Int("joints", 20_000, "how many joints the hospitals have, about")
	seed := flags.Uint64("seed", 1, "what chance begins with")
	if err := flags.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return 0
		}
		return 2
	}
	if flags.NArg() > 0 {
		fmt.Fprintf(stderr, "registry: unexpected argument %q\n", flags.Arg(0))
		return 2
	}
	if *folder != "" {
		if err := writeHospitals(*folder, *joints, *seed); err != nil {
			fmt.Fprintf(stderr, "registry: %v\n", err)
			return 1
		}
		return 0
	}
	table, err := format(invent())
	if err == nil && *out != "" {
		err = os.WriteFile(*out, table, 0o644)
	} else if err == nil {
		_, err = stdout.Write(table)
	}
	if err != nil {
		fmt.Fprintf(stderr, "registry: %v\n", err)
		return 1
	}
	return 0
}

const comments = `# Invented figures. Every number of this table was made by the program in examples/registry.
# It is not a publication, describes no registry, and is no yardstick for any implant.
# An empty joint attribute means all: every bearing, every fixation, every age, both sexes.
`

var headings = []string{
	"source", "joint", "procedure", "bearing", "fixation", "age_band", "sex", "years",
	"revision_pct", "lower_pct", "upper_pct", "level", "joints", "estimand",
	"period_from", "period_to", "covers", "citation",
}

// format writes the groups' figures as CSV.
func format(groups []group) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString(comments)
	w := csv.NewWriter(&b)
	w.Write(headings) // a bytes.Buffer returns no errors, so neither does w
	for _, g := range groups {
		for _, p := range g.points() {
			cells := []string{"invented-2024", g.joint, g.procedure, g.bearing, g.fixation, g.ageBand, g.sex, strconv.Itoa(p.years)}
			for _, v := range []float64{p.revision, p.lower, p.upper} {
				s, err := percent(v)
				if err != nil {
					return nil, err
				}
				cells = append(cells, s)
			}
			cells = append(cells, "0.95", strconv.Itoa(g.joints), "1-KM",
				strconv.Itoa(periodFrom), strconv.Itoa(periodTo), "invented registry, all diagnoses",
				"Invented figures made by examples/registry; not a publication")
			w.Write(cells)
		}
	}
	w.Flush()
	return b.Bytes(), nil
}

// percent writes a proportion in per cent with two decimals. Machines differ in
// the last bits of a calculation; a value so close to the edge of a rounding that
// this could show is refused, so that the same bytes come out everywhere.
func percent(v float64) (string, error) {
	hundredths := 1e4 * v
	if edge := math.Abs(hundredths - math.Floor(hundredths) - 0.5); edge < 1e-7 {
		return "", fmt.Errorf("%v %% stands on the edge between two roundings: change a figure of the model", 100*v)
	}
	return strconv.FormatFloat(100*v, 'f', 2, 64), nil
}
