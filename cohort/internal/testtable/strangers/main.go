// Strangers writes three workbooks as people keep them who have never heard of
// this program, and beside each the same joints as a clean table, from which the
// figures follow that an audit of the workbook must give. Everything is invented:
// people, numbers, days.
package main

import (
	"encoding/csv"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"time"
)

// joint is one joint as it was, whatever a workbook says of it.
type joint struct {
	patient                *patient
	operation              time.Time
	joint, side, procedure string
	bearing, fixation      string
	surgeon                int
	revision               time.Time // zero: none
	reason                 string
}

// patient is one person with an invented name.
type patient struct {
	number, name, sex string
	birth, death      time.Time // death is zero for the living
}

func day(y, m, d int) time.Time { return time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC) }

// closing is the day to which all of the workbooks are kept.
var closing = day(2024, 12, 31)

var (
	surnames = []string{"Testa", "Probe", "Sample", "Muster", "Exempel", "Eksempel", "Voorbeeld", "Fictum", "Nemo", "Quidam"}
	reasons  = []string{"infection", "aseptic loosening", "dislocation or instability", "periprosthetic fracture"}
	hips     = []string{"metal-on-polyethylene", "ceramic-on-polyethylene", "ceramic-on-ceramic"}
)

// made draws joints, in the order of their operations. Every fifth patient comes
// again for the other side.
func made(r *rand.Rand, n, surgeons int, from time.Time, kinds []string, perYear float64) []*joint {
	days := int(closing.Sub(from).Hours() / 24)
	var all []*joint
	var seen []*joint
	for i := range n {
		op := from.AddDate(0, 0, days*i/n+r.IntN(3))
		j := &joint{operation: op, joint: kinds[r.IntN(len(kinds))], side: []string{"left", "right"}[r.IntN(2)], procedure: "total", surgeon: r.IntN(surgeons)}
		for len(seen) > 0 && !seen[0].patient.death.IsZero() {
			seen = seen[1:]
		}
		if i%5 == 4 && len(seen) > 0 {
			first := seen[0]
			j.patient, j.joint, j.side = first.patient, first.joint, map[string]string{"left": "right", "right": "left"}[first.side]
			seen = seen[1:]
		} else {
			j.patient = &patient{number: "RX" + strconv.Itoa(310000+7*i), name: surnames[r.IntN(len(surnames))], sex: []string{"F", "M"}[r.IntN(2)],
				birth: op.AddDate(-50-r.IntN(38), -r.IntN(12), -r.IntN(28))}
			if died := op.AddDate(0, 0, int(r.ExpFloat64()*365/0.03)); died.Before(closing) {
				j.patient.death = died
			}
			seen = append(seen, j)
		}
		j.bearing, j.fixation = []string{"fixed", "mobile"}[r.IntN(2)], []string{"cemented", "porous"}[r.IntN(2)]
		if j.joint == "hip" {
			j.bearing = hips[r.IntN(len(hips))]
		}
		if revised := op.AddDate(0, 0, 1+int(r.ExpFloat64()*365/perYear)); perYear > 0 && revised.Before(closing) && (j.patient.death.IsZero() || revised.Before(j.patient.death)) {
			j.revision, j.reason = revised, reasons[r.IntN(len(reasons))]
		}
		all = append(all, j)
	}
	return all
}

func (j *joint) age() int {
	age := j.operation.Year() - j.patient.birth.Year()
	if j.operation.Month() < j.patient.birth.Month() || j.operation.Month() == j.patient.birth.Month() && j.operation.Day() < j.patient.birth.Day() {
		age--
	}
	return age
}

func iso(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

// cleanTable writes the joints as a table that leaves nothing to be understood.
func cleanTable(name string, all []*joint) error {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	w := csv.NewWriter(f)
	w.Write([]string{"patient", "operation_date", "joint", "side", "procedure", "bearing", "fixation", "age", "sex", "surgeon", "revision_date", "revision_reason", "death_date"})
	for _, j := range all {
		w.Write([]string{j.patient.number, iso(j.operation), j.joint, j.side, j.procedure, j.bearing, j.fixation, strconv.Itoa(j.age()), j.patient.sex, clean[j.surgeon],
			iso(j.revision), j.reason, iso(j.patient.death)})
	}
	w.Flush()
	if err := w.Error(); err != nil {
		return err
	}
	return f.Close()
}

func write(folder string) error {
	r := rand.New(rand.NewPCG(20241231, 9))
	for _, book := range []struct {
		name   string
		joints []*joint
		write  func(string, []*joint, *rand.Rand) error
	}{
		{"one-surgeon", made(r, 180, 1, day(2014, 1, 6), []string{"hip"}, 0.015), oneSurgeon},
		{"department", made(r, 420, 6, day(2016, 1, 4), []string{"hip", "knee"}, 0.012), department},
		{"forty-knees", made(r, 40, 1, day(2021, 2, 1), []string{"knee"}, 0), fortyKnees},
	} {
		path := filepath.Join(folder, book.name)
		if err := cleanTable(path+".csv", book.joints); err != nil {
			return err
		}
		if err := book.write(path+".xlsx", book.joints, r); err != nil {
			return err
		}
	}
	return nil
}

func main() {
	folder := flag.String("out", "testdata/workbooks", "folder to write to")
	flag.Parse()
	if err := write(*folder); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
