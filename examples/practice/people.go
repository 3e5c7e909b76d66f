package main

import (
	"fmt"
	"math/bits"
	"math/rand/v2"
	"slices"
	"strconv"
	"time"
)

// The columns of the table, in order.
const (
	colPatient = iota
	colOperation
	colJoint
	colSide
	colProcedure
	colBearing
	colFixation
	colAge
	colSex
	colDiagnosis
	colRevision
	colRevised
	colReason
	colDeath
	colLastSeen
	colSurgeon
	colHospital
	columns
)

var headings = [columns]string{
	"patient", "operation_date", "joint", "side", "procedure", "bearing", "fixation", "age", "sex", "diagnosis",
	"revision_date", "revised", "revision_reason", "death_date", "last_seen_date", "surgeon", "hospital",
}

// record is one row of the table as typed.
type record struct {
	cells   [columns]string
	planted *planted // nil unless the row holds an error put in on purpose
}

// day counts days from 1 January 2010; none stands for a day that is not there.
type day int

const none day = -1

var (
	firstDay = time.Date(2010, time.January, 1, 0, 0, 0, 0, time.UTC)
	lastDay  = dayOf(time.Date(2024, time.December, 31, 0, 0, 0, 0, time.UTC)) // closingDate
)

func dayOf(t time.Time) day { return day(t.Sub(firstDay) / (24 * time.Hour)) }

func (d day) time() time.Time { return firstDay.AddDate(0, 0, int(d)) }

// String is the date as YYYY-MM-DD, or nothing for none.
func (d day) String() string {
	if d == none {
		return ""
	}
	return d.time().Format(time.DateOnly)
}

// weekday moves a Saturday or Sunday back to the Friday.
func (d day) weekday() day {
	switch d.time().Weekday() {
	case time.Saturday:
		return d - 1
	case time.Sunday:
		return d - 2
	}
	return d
}

// monthStart is the first day of month m after an operation, in months of a
// twelfth of 365.25 days.
func monthStart(m int) day { return day(m * 36525 / 1200) }

// source draws whole numbers. It uses nothing of the generator but its 64 bits,
// which are the same on every machine.
type source struct{ pcg *rand.PCG }

// below draws from 0 to n-1.
func (s source) below(n int) int {
	high, _ := bits.Mul64(s.pcg.Uint64(), uint64(n))
	return int(high)
}

// between draws from low to high, both included.
func (s source) between(low, high day) day { return low + day(s.below(int(high-low)+1)) }

// chance is true so many times in a million.
func (s source) chance(perMillion int) bool { return s.below(1_000_000) < perMillion }

// choose draws an index with the given weights.
func (s source) choose(weights []int) int {
	total := 0
	for _, w := range weights {
		total += w
	}
	x := s.below(total)
	for i, w := range weights {
		if x < w {
			return i
		}
		x -= w
	}
	panic("unreachable: the draw is below the sum of the weights")
}

// one draws one of the words, all alike; list a word twice to draw it twice as often.
func (s source) one(words []string) string { return words[s.below(len(words))] }

// patient is what the joints of one person share.
type patient struct {
	birth    time.Time
	male     bool
	right    bool // the side of the first joint
	surgeon  int
	hospital int
	death    day // none when alive at the closing date
	lost     day // last contact of a patient lost to follow-up, else none
	lastSeen day
}

// ageAt is the age in completed years.
func (p patient) ageAt(d day) int {
	t := d.time()
	age := t.Year() - p.birth.Year()
	if t.Month() < p.birth.Month() || t.Month() == p.birth.Month() && t.Day() < p.birth.Day() {
		age--
	}
	return age
}

// operation is one implantation before its words are chosen.
type operation struct {
	who   *patient
	day   day
	kind  kind
	right bool
}

// invent makes a table of so many joints, ordered by operation date, without errors.
func invent(seed uint64, joints int, department bool) []*record {
	s := source{rand.NewPCG(seed, 0x686f6c6466617374)}
	var all []operation
	for len(all) < joints {
		all = append(all, s.person(department)...)
	}
	all = all[:joints]
	slices.SortStableFunc(all, func(a, b operation) int { return int(a.day - b.day) })

	pseudonyms := map[*patient]string{}
	rows := make([]*record, 0, joints)
	for _, o := range all {
		if pseudonyms[o.who] == "" {
			pseudonyms[o.who] = fmt.Sprintf("P%04d", len(pseudonyms)+1)
		}
		rows = append(rows, s.record(o, pseudonyms[o.who], department))
	}
	return rows
}

// person invents a patient and the operations, one or two.
func (s source) person(department bool) []operation {
	year := s.choose(yearWeights)
	start := dayOf(time.Date(2010+year, time.January, 1, 0, 0, 0, 0, time.UTC))
	first := (start + day(s.below(365))).weekday()
	first = max(first, 0)

	p := &patient{male: s.chance(430_000), right: s.chance(530_000), surgeon: s.choose(practiceSurgeons), death: none, lost: none}
	if department {
		p.surgeon = s.choose(departmentSurgeons)
	}
	p.hospital = s.choose(hospitalWeights[p.surgeon])
	k := s.kind(2010+year, p.male)
	age := s.age(k)
	p.birth = first.time().AddDate(-age, 0, -s.below(365))
	age = p.ageAt(first)

	for m := 0; p.death == none && first+monthStart(m) < lastDay; m++ {
		if s.chance(deathsPerMillion(age+m/12, p.male) / 12) {
			p.death = first + monthStart(m) + 1 + day(s.below(30))
		}
	}
	if p.death > lastDay {
		p.death = none
	}
	if s.chance(60_000) && lastDay-first > 600 {
		p.lost = s.between(first+42, lastDay-365)
		if p.death != none && p.death <= p.lost {
			p.lost = none
		} else {
			p.death = none // nobody heard of it
		}
	}

	operations := []operation{{p, first, k, p.right}}
	another := s.choose([]int{780, 25, 150, 45}) // none; other side the same day; other side later; other joint later
	second := operation{p, first, k, !p.right}
	if another >= 2 {
		second.day = (first + s.between(60, 2200)).weekday()
	}
	if another == 3 {
		second.kind = s.otherJoint(k)
		second.right = s.chance(500_000)
	}
	if second.kind == resurfacing && second.day.time().Year() > lastResurfacing {
		second.kind = totalHip
	}
	known := second.day <= lastDay && (p.death == none || second.day < p.death) && (p.lost == none || second.day <= p.lost)
	if another > 0 && known && p.ageAt(second.day) <= 92 {
		operations = append(operations, second)
	}

	latest := operations[len(operations)-1].day
	switch {
	case p.lost != none:
		p.lastSeen = p.lost
	case s.chance(50_000):
		p.lastSeen = none
	case p.death != none:
		p.lastSeen = s.between(max(latest, p.death-400), p.death)
	default: // the patients were asked in the last quarter before the closing date
		p.lastSeen = s.between(max(latest, lastDay-91), lastDay)
	}
	return operations
}

// age draws an age from 35 to 92 as the sum of four draws about the kind's mean.
func (s source) age(k kind) int {
	for {
		age := meanAge[k] - 34
		for range 4 {
			age += s.below(18)
		}
		if age >= 35 && age <= 92 {
			return age
		}
	}
}

// deathsPerMillion is the yearly mortality at an age, linear between the ages of the table.
func deathsPerMillion(age int, male bool) int {
	age = min(max(age, 35), 104)
	i, rest := (age-35)/5, (age-35)%5
	rate := yearlyDeaths[i] + (yearlyDeaths[i+1]-yearlyDeaths[i])*rest/5
	if male {
		return rate * 120 / 100
	}
	return rate * 85 / 100
}

// record chooses the words of one operation and its revision, if there is one.
func (s source) record(o operation, pseudonym string, department bool) *record {
	p := o.who
	age := p.ageAt(o.day)
	year := o.day.time().Year()
	bearing := s.bearing(o.kind, year, age)
	fixation := s.fixation(o.kind, bearing, year, age)

	revision := none
	for m := 0; revision == none && o.day+monthStart(m) < lastDay; m++ {
		hazard := revisionsPerMillion(o.kind, bearing, fixation, age, m)
		if department {
			hazard = hazard * surgeonPercent[p.surgeon] / 100
		}
		if s.chance(hazard) {
			revision = o.day + monthStart(m) + 1 + day(s.below(30))
		}
	}
	if revision > lastDay || p.death != none && revision > p.death || p.lost != none && revision > p.lost {
		revision = none
	}

	r := &record{}
	c := &r.cells
	c[colPatient] = pseudonym
	c[colOperation] = o.day.String()
	c[colJoint] = "hip"
	if !o.kind.hip() {
		c[colJoint] = "knee"
	}
	c[colSide] = s.one(sideWords[o.right])
	c[colProcedure] = s.one(procedureWords[o.kind])
	c[colBearing] = s.one(bearingWords[bearing])
	if s.chance(8_000) {
		c[colBearing] = s.one(missingWords)
	}
	c[colFixation] = s.one(fixationWords[fixation])
	if s.chance(6_000) {
		c[colFixation] = s.one(missingWords)
	}
	c[colAge] = strconv.Itoa(age)
	c[colSex] = "F"
	if p.male {
		c[colSex] = "M"
	}
	c[colDiagnosis] = s.diagnosis(o.kind)
	c[colRevised] = "no"
	if revision != none {
		c[colRevision] = revision.String()
		c[colRevised] = "yes"
		c[colReason] = s.reason(o.kind, bearing, revision-o.day < 183)
	}
	c[colDeath] = p.death.String()
	c[colLastSeen] = p.lastSeen.String()
	c[colSurgeon] = fmt.Sprintf("Surgeon %d", p.surgeon+1)
	c[colHospital] = []string{"Hospital A", "Hospital B"}[p.hospital]
	return r
}
