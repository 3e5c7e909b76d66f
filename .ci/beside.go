// Command beside makes a table of joints, and runs programs on it in turn:
//
//	go run .ci/beside.go table ROWS          an invented table of 11 columns, on standard output
//	go run .ci/beside.go wide ROWS           the same joints with 22: further dates and words
//	go run .ci/beside.go run ROUNDS NAME=COMMAND...   ratios of the later commands to the first
//
// Each round runs every command once, one after the other, so that what else the
// machine does meets all alike. Of each the medians of processor seconds, of seconds
// on the clock and of the largest memory are divided by the first command's.
package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "beside:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	if len(args) < 2 {
		return errors.New("want table ROWS, wide ROWS, or run ROUNDS NAME=COMMAND...")
	}
	n, err := strconv.Atoi(args[1])
	if err != nil || n < 1 {
		return fmt.Errorf("%q is no number of 1 or more", args[1])
	}
	switch {
	case (args[0] == "table" || args[0] == "wide") && len(args) == 2:
		return table(os.Stdout, n, args[0] == "wide")
	case args[0] == "run" && len(args) > 3:
		return compare(n, args[2:])
	}
	return fmt.Errorf("unknown %q", args)
}

// span is the days in which the invented joints are operated on and followed.
const span = 25 * 365

// patient is somebody invented.
type patient struct {
	joint, procedure, sex string
	age, left             int // in years at the beginning; the first joint's side
	death                 int // day
}

// table writes invented joints: 10 for each 7 patients, in no order, with a constant
// rate of revision of 0.7 in 100 years; if wide, with further columns.
func table(to io.Writer, n int, wide bool) error {
	r, more := rand.New(rand.NewPCG(2024, 11)), rand.New(rand.NewPCG(2026, 12))
	w := bufio.NewWriterSize(to, 1<<20)
	w.WriteString("patient,operation_date,joint,side,procedure,bearing,fixation,age,sex,revision_date,death_date")
	if wide {
		w.WriteString(",birth_date,last_seen_date,revised,dead,revision_reason,diagnosis,polyethylene,surgeon,hospital,asa,approach")
	}
	w.WriteByte('\n')
	start := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	day := func(d int) string {
		if d >= span {
			return ""
		}
		return start.AddDate(0, 0, d).Format(time.DateOnly)
	}
	pick := func(words ...string) string { return words[r.IntN(len(words))] }
	people := make([]patient, max(1, n*7/10))
	for i := range people {
		p := patient{"knee", "TKR", pick("F", "M"), 40 + r.IntN(45), r.IntN(2), r.IntN(4 * span)}
		switch r.IntN(10) {
		case 0, 1, 2:
			p.joint, p.procedure = "hip", "THR"
		case 3:
			p.procedure = "UKR"
		}
		people[i] = p
	}
	for k := range n {
		i := k
		if k >= len(people) {
			i = (k - len(people)) * 2 % len(people)
		}
		p := &people[i*7919%len(people)]
		operation := r.IntN(min(p.death+1, span))
		bearing := pick("fixed", "mobile")
		if p.joint == "hip" {
			bearing = pick("MoP", "CoP", "CoC", "ceramic on metal", "MoXLPE")
		}
		side := [2]string{"left", "right"}[(p.left+k/len(people))%2]
		revision := operation + int(min(-math.Log(1-r.Float64())*365/0.007, 1e6))
		if revision > p.death {
			revision = span
		}
		fmt.Fprintf(w, "P%07d,%s,%s,%s,%s,%s,%s,%d,%s,%s,%s", i*7919%len(people), day(operation), p.joint, side, p.procedure, bearing,
			pick("cemented", "uncemented", "hybrid", "reverse hybrid"), p.age+operation/365, p.sex, day(revision), day(p.death))
		if wide {
			writeMore(w, more, p, operation, revision, day)
		}
		w.WriteByte('\n')
	}
	return w.Flush()
}

// writeMore writes the further cells of a joint: the days of birth and last seen, and words.
func writeMore(w io.Writer, r *rand.Rand, p *patient, operation, revision int, day func(int) string) {
	yes := func(happened bool) string {
		if happened {
			return "yes"
		}
		return "no"
	}
	pick := func(words ...string) string { return words[r.IntN(len(words))] }
	seen, reason := "", ""
	if r.IntN(3) > 0 {
		seen = day(min(operation+r.IntN(span-operation), p.death))
	}
	if revision < span {
		reason = pick("infection", "aseptic loosening", "instability", "fracture")
	}
	fmt.Fprintf(w, ",%s,%s,%s,%s,%s,%s,%s,Surgeon %02d,Hospital %d,%d,%s", day(-365*p.age-p.death%365), seen, yes(revision < span), yes(p.death < span), reason,
		pick("osteoarthritis", "osteoarthritis", "osteoarthritis", "fracture", "avascular necrosis"), pick("conventional", "cross-linked"), r.IntN(40), r.IntN(6), 1+r.IntN(4), pick("posterior", "anterolateral", "anterior"))
}

// cost is what one run took.
type cost struct{ processor, clock, memory float64 }

func compare(rounds int, commands []string) error {
	costs := make([][]cost, len(commands))
	for range rounds {
		for i, named := range commands {
			_, command, _ := strings.Cut(named, "=")
			c, err := once(command)
			if err != nil {
				return fmt.Errorf("%s: %w", named, err)
			}
			costs[i] = append(costs[i], c)
		}
	}
	median := func(i int, of func(cost) float64) float64 {
		var all []float64
		for _, c := range costs[i] {
			all = append(all, of(c))
		}
		slices.Sort(all)
		return all[len(all)/2]
	}
	fmt.Printf("| medians of %d | processor | clock | memory |\n|---|---|---|---|\n", rounds)
	for i, named := range commands {
		name, _, _ := strings.Cut(named, "=")
		fmt.Printf("| %s", name)
		for _, of := range []func(cost) float64{func(c cost) float64 { return c.processor }, func(c cost) float64 { return c.clock }, func(c cost) float64 { return c.memory }} {
			fmt.Printf(" | %.2f", median(i, of)/median(0, of))
		}
		fmt.Println(" |")
	}
	return nil
}

// once runs a command of the shell.
func once(command string) (cost, error) {
	c := exec.Command("sh", "-c", "exec "+command)
	c.Stderr = io.Discard
	began := time.Now()
	if err := c.Run(); err != nil {
		return cost{}, err
	}
	clock := time.Since(began).Seconds()
	used, ok := c.ProcessState.SysUsage().(*syscall.Rusage)
	if !ok {
		return cost{}, errors.New("the system does not say what a process used")
	}
	return cost{(c.ProcessState.UserTime() + c.ProcessState.SystemTime()).Seconds(), clock, float64(used.Maxrss)}, nil
}
