// Watchsim simulates practices joint by joint and counts how often their charts touch
// the line, and how often drawn ratios have limits that hold. It prints the tables
// of SIMULATION.md:
//
//	go run ./cohort/monitor/internal/watchsim
//
// The same seed gives the same tables.
package main

import (
	"bufio"
	"bytes"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"strings"
	"sync"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

func run(args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("watchsim", flag.ContinueOnError)
	flags.SetOutput(stderr)
	practices := flags.Int("practices", 1200, "simulated practices per line, fewer where one costs more")
	seed := flags.Uint64("seed", 1, "seed of the random numbers")
	only := flags.String("table", "", "one of the tables alone: one, looks, late, past, several, downward, drawn or visits")
	if err := flags.Parse(args); err != nil {
		return 2
	}
	out := bufio.NewWriter(stdout)
	if err := simulate(out, *practices, *seed, *only); err != nil {
		fmt.Fprintln(stderr, err)
		return 1
	}
	if err := out.Flush(); err != nil {
		fmt.Fprintln(stderr, err)
		return 1
	}
	return 0
}

// simulate writes all tables, or one of them, which are made at once, each from random
// numbers of its own.
func simulate(w io.Writer, practices int, seed uint64, only string) error {
	fmt.Fprintf(w, "Seed %d; each table says how many practices, or departments, a line is of.\n", seed)
	tables := []struct {
		name string
		make func(io.Writer, int, *rand.Rand) error
	}{{"one", one}, {"looks", looks}, {"late", late}, {"past", past}, {"several", several}, {"downward", downward}, {"drawn", drawn}, {"visits", visits}}
	out, failed := make([]bytes.Buffer, len(tables)), make([]error, len(tables))
	var wait sync.WaitGroup
	for i, table := range tables {
		if only == "" || only == table.name {
			wait.Go(func() { failed[i] = table.make(&out[i], practices, rand.New(rand.NewPCG(seed, uint64(i)))) })
		}
	}
	wait.Wait()
	for i := range out {
		if _, err := out[i].WriteTo(w); err != nil {
			return err
		}
	}
	return errors.Join(failed...)
}

// heading writes a table's.
func heading(w io.Writer, title string, practices int, columns ...string) {
	fmt.Fprintf(w, "\n### %s\n\n%d a line.\n\n| %s |\n|%s\n", title, practices, strings.Join(columns, " | "), strings.Repeat("--:|", len(columns)))
}

// percent of so many.
func percent(n, of int) string {
	if of == 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f", 100*float64(n)/float64(of))
}
