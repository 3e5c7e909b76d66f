// Practice invents an outcomes table: the hip and knee replacements of one
// surgeon in two hospitals over fifteen years, as people type them.
//
// Every row is invented. The table shows how the command works and gives the
// tests a table whose faults are known; it says nothing about any implant.
//
//	go run ./examples/practice -out practice.csv -errors errors.csv
//	go run ./examples/practice -xlsx practice.xlsx
//
// The second writes the same rows as a workbook, as people keep one.
//
// The same seed gives the same bytes on every machine: all draws and all
// decisions are made with whole numbers.
package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"strconv"
)

// closingDate is the day up to which the invented follow-up is complete.
const closingDate = "2024-12-31"

const (
	practiceSeed     = 1
	practiceJoints   = 900
	departmentJoints = 3000
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// run is the program with its surroundings passed in. It returns the exit
// status: 0 done, 1 the table could not be made or written, 2 wrong flags.
func run(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("practice", flag.ContinueOnError)
	flags.SetOutput(stderr)
	seed := flags.Uint64("seed", practiceSeed, "seed of the random numbers")
	joints := flags.Int("joints", 0, "number of joints (default 900; 3000 with -department)")
	department := flags.Bool("department", false, "four surgeons instead of one")
	clean := flags.Bool("clean", false, "leave out the planted errors")
	out := flags.String("out", "", "file for the table (default standard output)")
	workbook := flags.String("xlsx", "", "file for the table as a workbook, instead of as text")
	errorsOut := flags.String("errors", "", "file for the list of planted errors")
	if err := flags.Parse(args); err != nil {
		if errors.Is(err, flag.ErrHelp) {
			return 0
		}
		return 2
	}
	if *joints == 0 {
		*joints = practiceJoints
		if *department {
			*joints = departmentJoints
		}
	}
	switch {
	case flags.NArg() > 0:
		fmt.Fprintf(stderr, "practice: unexpected argument %q\n", flags.Arg(0))
		return 2
	case *joints < 1:
		fmt.Fprintf(stderr, "practice: -joints is %d, must be 1 or more\n", *joints)
		return 2
	case *clean && *errorsOut != "":
		fmt.Fprintln(stderr, "practice: -clean plants no errors, so there is none to list with -errors")
		return 2
	}

	rows := invent(*seed, *joints, *department)
	if !*clean {
		var err error
		if rows, err = plant(rows); err != nil {
			fmt.Fprintf(stderr, "practice: %v\n", err)
			return 1
		}
	}
	table, list := format(rows, *clean)
	if *errorsOut != "" {
		if err := os.WriteFile(*errorsOut, list, 0o644); err != nil {
			fmt.Fprintf(stderr, "practice: %v\n", err)
			return 1
		}
	}
	if *workbook != "" {
		if err := writeWorkbook(*workbook, rows); err != nil {
			fmt.Fprintf(stderr, "practice: %v\n", err)
			return 1
		}
		if *out == "" {
			return 0
		}
	}
	var err error
	if *out != "" {
		err = os.WriteFile(*out, table, 0o644)
	} else {
		_, err = stdout.Write(table)
	}
	if err != nil {
		fmt.Fprintf(stderr, "practice: %v\n", err)
		return 1
	}
	return 0
}

// format writes the table, and the list of planted errors that belongs to it.
func format(rows []*record, clean bool) (table, list []byte) {
	comments := []string{
		"# Invented data. Every row of this table was made by the program in examples/practice.",
		"# No real patient, surgeon or hospital is in it, and it says nothing about any implant.",
		"# Follow-up is complete to the closing date " + closingDate + ".",
	}
	if !clean {
		comments = append(comments, "# Some rows hold an error put in on purpose; errors.csv lists them.")
	}
	var t, l bytes.Buffer
	for _, c := range comments {
		t.WriteString(c + "\n")
	}
	l.WriteString("# Invented data. The errors put into practice.csv on purpose. Row 1 is the first row below the headings;\n" +
		"# line counts from the top of the file.\n")
	tw, lw := csv.NewWriter(&t), csv.NewWriter(&l)
	// A bytes.Buffer returns no errors, so neither do these writers.
	tw.Write(headings[:])
	lw.Write([]string{"row", "line", "column", "what", "treatment"})
	for i, r := range rows {
		tw.Write(r.cells[:])
		if e := r.planted; e != nil {
			line := len(comments) + 1 + i + 1
			lw.Write([]string{strconv.Itoa(i + 1), strconv.Itoa(line), headings[e.column], e.what, e.treatment})
		}
	}
	tw.Flush()
	lw.Flush()
	return t.Bytes(), l.Bytes()
}
