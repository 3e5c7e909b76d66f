package main

import (
	"bufio"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"time"
)

// hospitals is how many tables are made.
const hospitals = 20

// closing is the day to which the invented joints are followed.
var closing = time.Date(periodTo, 12, 31, 0, 0, 0, 0, time.UTC)

// daysAMonth turns months of follow-up into days.
const daysAMonth = 365.25 / 12

// writeHospitals writes the tables of the hospitals, about so many joints together: the
// first hospital has three times the joints of the last. The same seed gives the same
// tables.
func writeHospitals(folder string, joints int, seed uint64) error {
	weights := 0
	for h := range hospitals {
		weights += 3*hospitals - 2*h
	}
	for h := range hospitals {
		f, err := os.Create(filepath.Join(folder, fmt.Sprintf("hospital-%02d.csv", h+1)))
		if err != nil {
			return err
		}
		w := bufio.NewWriter(f)
		writeHospital(w, h+1, joints*(3*hospitals-2*h)/weights, rand.New(rand.NewPCG(seed, uint64(h))))
		if err := w.Flush(); err != nil {
			f.Close()
			return err
		}
		if err := f.Close(); err != nil {
			return err
		}
	}
	return nil
}

// silent is the hospital whose table has no day last seen: its follow-up is assumed.
const silent = 7

// writeHospital writes one table. Errors stay with the writer.
func writeHospital(w io.Writer, hospital, joints int, rng *rand.Rand) {
	fmt.Fprintln(w, "# Invented joints, made by examples/registry. They are nobody's.")
	fmt.Fprint(w, "patient,operation_date,joint,side,procedure,bearing,fixation,age,sex,diagnosis,revision_date,death_date,")
	if hospital != silent {
		fmt.Fprint(w, "last_seen_date,")
	}
	fmt.Fprintln(w, "surgeon,hospital")
	for n := 1; joints > 0; n++ {
		p := newPatient(rng)
		for _, j := range p.joints(rng) {
			if joints--; joints < 0 {
				break
			}
			j.write(w, hospital, n, rng)
		}
	}
}

// patient is who has one joint or two.
type patient struct {
	design    design
	age       int // completed years at the first operation
	band, sex int
	operation time.Time
	death     time.Time // the zero time of the living
}

func newPatient(rng *rand.Rand) patient {
	all := 0
	for _, d := range designs {
		all += d.joints
	}
	at := rng.IntN(all)
	p := patient{}
	for _, d := range designs {
		if at -= d.joints; at < 0 {
			p.design = d
			break
		}
	}
	p.band = chosen(rng, p.design.ages[:])
	p.age = []int{40, 55, 65, 75}[p.band] + rng.IntN([]int{15, 10, 10, 15}[p.band])
	if rng.IntN(100) < p.design.male {
		p.sex = 1
	}
	p.operation = time.Date(p.design.from+rng.IntN(p.design.to-p.design.from+1), 1, 1+rng.IntN(365), 0, 0, 0, 0, time.UTC)
	for m := 0; ; m++ {
		if day := within(p.operation, m, rng); day.After(closing) {
			return p
		} else if rng.Float64() < deathsByAge[min(p.band+m/120, 3)]/12 {
			p.death = day
			return p
		}
	}
}

// chosen is an index drawn by shares in per cent.
func chosen(rng *rand.Rand, shares []int) int {
	at := rng.IntN(100)
	for i, s := range shares {
		if at -= s; at < 0 {
			return i
		}
	}
	return len(shares) - 1
}

// within is a day in a month after an operation.
func within(operation time.Time, month int, rng *rand.Rand) time.Time {
	return operation.AddDate(0, 0, int(daysAMonth*(float64(month)+rng.Float64())))
}

// joint is one row.
type joint struct {
	patient
	fixation string
	side     string
	revised  time.Time // the zero time if it never was
}

// joints are those of a patient: of one in eight also the other side's, later.
func (p patient) joints(rng *rand.Rand) []joint {
	sides := []string{"left", "right"}
	first := rng.IntN(2)
	all := []joint{p.joint(sides[first], rng)}
	if rng.IntN(8) == 0 {
		other := p
		years := 1 + rng.IntN(4)
		other.operation, other.age = p.operation.AddDate(years, 0, 0), p.age+years
		if other.operation.Before(closing) && (p.death.IsZero() || other.operation.Before(p.death)) {
			all = append(all, other.joint(sides[1-first], rng))
		}
	}
	return all
}

func (p patient) joint(side string, rng *rand.Rand) joint {
	j := joint{patient: p, side: side}
	names, shares := []string{"cemented", "porous", "hybrid", "reverse hybrid"}, make([]int, 4)
	for i, name := range names {
		shares[i] = p.design.fixations[p.band][name]
	}
	j.fixation = names[chosen(rng, shares)]
	for m := 0; ; m++ {
		day := within(p.operation, m, rng)
		if day.After(closing) || !p.death.IsZero() && day.After(p.death) {
			return j
		}
		if rng.Float64() < hazard(p.design, j.fixation, p.band, p.sex, m) {
			j.revised = day
			return j
		}
	}
}

// write writes a joint's row. One in twelve of those who are neither revised nor dead was
// last seen some time before the closing date.
func (j joint) write(w io.Writer, hospital, n int, rng *rand.Rand) {
	seen := ""
	if j.revised.IsZero() && j.death.IsZero() {
		day := closing.AddDate(0, 0, -rng.IntN(365))
		if rng.IntN(12) == 0 {
			day = j.operation.AddDate(0, 0, int(rng.Float64()*closing.Sub(j.operation).Hours()/24))
		}
		if day.Before(j.operation) {
			day = closing
		}
		seen = date(day)
	}
	diagnosis := "osteoarthritis"
	if rng.IntN(9) == 0 {
		diagnosis = []string{"fracture", "avascular necrosis", "inflammatory arthritis"}[rng.IntN(3)]
	}
	fmt.Fprintf(w, "H%02d-%06d,%s,%s,%s,%s,%s,%s,%d,%s,%s,%s,%s,", hospital, n, date(j.operation), j.design.joint, j.side, j.design.procedure,
		j.design.bearing, j.fixation, j.age, sexes[j.sex], diagnosis, date(j.revised), date(j.death))
	if hospital != silent {
		fmt.Fprint(w, seen, ",")
	}
	fmt.Fprintf(w, "Surgeon %d-%d,Hospital %d\n", hospital, 1+rng.IntN(5), hospital)
}

func date(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}
