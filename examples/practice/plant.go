package main

import (
	"fmt"
	"slices"
	"strconv"
	"time"
)

// planted is one error put into a row on purpose.
type planted struct {
	column    int
	what      string
	treatment string // setAside, warned or listed
}

// How a table with the error should be treated.
const (
	setAside = "set aside" // the row is not used
	warned   = "warned"    // the row is used and the fault is reported
	listed   = "listed"    // the word is kept as its own group and reported
)

// mistake describes an error: which rows it can be put into, and how.
type mistake struct {
	planted
	at    int                                       // where to begin looking, in percent of the table
	fits  func(r *record) bool                      // rows it can be put into
	apply func(rows []*record, r *record) []*record // changes r, or adds a row that carries the error
}

// change is a mistake in the row itself.
func change(f func(r *record)) func([]*record, *record) []*record {
	return func(rows []*record, r *record) []*record {
		f(r)
		return rows
	}
}

// mistakes lists what people mistype. Each row gets one at most.
var mistakes = []mistake{
	{planted{colOperation, "impossible date", setAside}, 60,
		func(r *record) bool { return r.plain() && r.cells[colOperation][:7] == "2019-02" },
		change(func(r *record) { r.cells[colOperation] = "2019-02-30" })},
	{planted{colOperation, "operation after the closing date", setAside}, 90,
		// With the year wrong the date stands more than 90 days after the closing date.
		func(r *record) bool { return r.plain() && r.cells[colOperation] > "2024-04-10" },
		change(func(r *record) {
			r.cells[colOperation] = inYear(r.cells[colOperation], 2025)
			r.cells[colLastSeen] = ""
		})},
	{planted{colRevision, "revision before the operation", setAside}, 20,
		func(r *record) bool { return r.revised() && r.cells[colDeath] == "" },
		change(func(r *record) { r.cells[colRevision] = inYear(r.cells[colRevision], r.year()-1) })},
	{planted{colRevision, "revised without a date", setAside}, 50,
		func(r *record) bool { return r.revised() && r.cells[colDeath] == "" },
		change(func(r *record) { r.cells[colRevision] = "" })},
	{planted{colDeath, "death before the operation", setAside}, 35,
		func(r *record) bool { return !r.revised() && r.cells[colDeath] != "" },
		change(func(r *record) { r.cells[colDeath] = inYear(r.cells[colDeath], r.year()-1) })},
	{planted{colRevision, "revision after death", warned}, 25,
		func(r *record) bool { return !r.revised() && r.cells[colDeath] != "" && r.cells[colDeath] < "2024-11" },
		change(func(r *record) {
			r.cells[colRevision] = later(r.cells[colDeath], 0, 40)
			r.cells[colRevised] = "yes"
			r.cells[colReason] = "infection"
		})},
	{planted{colAge, "age below 10", setAside}, 44,
		func(r *record) bool { return r.plain() && r.cells[colAge][0] == '7' },
		change(func(r *record) { r.cells[colAge] = "7" })},
	{planted{colAge, "age above 110", setAside}, 72, (*record).plain,
		change(func(r *record) { r.cells[colAge] = "129" })},
	{planted{colProcedure, "not a primary", setAside}, 55,
		func(r *record) bool { return r.plain() && r.cells[colProcedure] == "THR" },
		change(func(r *record) { r.cells[colProcedure] = "revision THR" })},
	{planted{colSide, "both sides in one row", setAside}, 64, (*record).plain,
		change(func(r *record) { r.cells[colSide] = "Bilat" })},
	{planted{colSide, "side missing", warned}, 15, (*record).plain,
		change(func(r *record) { r.cells[colSide] = "" })},
	{planted{colBearing, "unknown word", listed}, 30,
		func(r *record) bool { return r.plain() && r.cells[colProcedure] == "THR" },
		change(func(r *record) { r.cells[colBearing] = "standard" })},
	{planted{colLastSeen, "last seen before the operation", warned}, 80,
		func(r *record) bool { return r.plain() },
		change(func(r *record) { r.cells[colLastSeen] = inYear(r.cells[colLastSeen], r.year()-1) })},
	{planted{colPatient, "entered twice", setAside}, 40,
		func(r *record) bool { return r.plain() && r.cells[colBearing] != "" && r.cells[colFixation] != "" },
		func(rows []*record, r *record) []*record {
			twin := &record{cells: r.cells}
			twin.cells[colBearing], twin.cells[colFixation] = "", ""
			return slices.Insert(rows, slices.Index(rows, r)+1, twin)
		}},
	{planted{colPatient, "second primary of the same joint, possibly its revision", setAside}, 10,
		func(r *record) bool { return r.plain() && r.cells[colProcedure] == "THR" && r.year() < 2018 },
		func(rows []*record, r *record) []*record {
			again := &record{cells: r.cells}
			c := &again.cells
			c[colOperation] = later(c[colOperation], 4, 77)
			age, _ := strconv.Atoi(c[colAge]) // a whole number: invent wrote it
			c[colAge] = strconv.Itoa(age + 4)
			at := slices.IndexFunc(rows, func(o *record) bool { return o.planted == nil && o.cells[colOperation] > c[colOperation] })
			if at < 0 {
				at = len(rows)
			}
			return slices.Insert(rows, at, again)
		}},
}

// plant puts every mistake into a row of its own, of patients with one joint.
func plant(rows []*record) ([]*record, error) {
	joints := map[string]int{}
	for _, r := range rows {
		joints[r.cells[colPatient]]++
	}
	taken := map[string]bool{}
	for _, m := range mistakes {
		n := len(rows)
		found := false
		for i := range n {
			r := rows[(n*m.at/100+i)%n]
			if joints[r.cells[colPatient]] != 1 || taken[r.cells[colPatient]] || !m.fits(r) {
				continue
			}
			found = true
			taken[r.cells[colPatient]] = true
			before := slices.Clone(rows)
			rows = m.apply(rows, r)
			carrier := r
			for _, o := range rows {
				if !slices.Contains(before, o) {
					carrier = o
				}
			}
			e := m.planted
			carrier.planted = &e
			break
		}
		if !found {
			return nil, fmt.Errorf("no row to put the error %q into: ask for more joints, or for -clean", m.what)
		}
	}
	return rows, nil
}

func (r *record) revised() bool { return r.cells[colRevision] != "" }

// plain is true for a patient who is alive, not revised and still seen.
func (r *record) plain() bool {
	return !r.revised() && r.cells[colDeath] == "" && r.cells[colLastSeen] > "2024-09"
}

// year is the year of the operation.
func (r *record) year() int { return parse(r.cells[colOperation]).Year() }

// inYear is a date moved to another year, as in a slip of the keyboard.
func inYear(date string, year int) string {
	t := parse(date)
	return t.AddDate(year-t.Year(), 0, 0).Format(time.DateOnly)
}

// later is a date so many years and days on.
func later(date string, years, days int) string {
	return parse(date).AddDate(years, 0, days).Format(time.DateOnly)
}

// parse reads a date that invent wrote.
func parse(date string) time.Time {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		panic(err)
	}
	return t
}
