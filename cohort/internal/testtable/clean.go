package testtable

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"time"
)

// ClosingDate is the day up to which the follow-up of the clean table is
// complete, and Today a later day on which it is read.
const (
	ClosingDate = "2024-12-31"
	Today       = "2025-06-30"
)

// person is a patient with what no clean table shows: the name.
type person struct {
	id, name, birth string
	sex             string
	surgeon         string
	hospital        string
	death, seen     string
}

var (
	surnames  = []string{"Quillfeather", "Ottershaw", "Brockenhurst", "Zwartewaal", "Pellingbury", "Vantongeren", "Wexcombe", "Yarrowdale"}
	surgeons  = []string{"Dr Müller", "Dr Hélène Brå", "Dr Ñuñez", "Dr Smith"}
	hospitals = []string{"Saint-Étienne", "Örebro", "North"}
)

// bearing is a hip's bearing, and the head and liner that make it.
type bearing struct{ word, head, liner string }

var bearings = []bearing{
	{"metal-on-polyethylene", "metal", "polyethylene"},
	{"metal-on-crosslinked-polyethylene", "metal", "crosslinked-polyethylene"},
	{"ceramic-on-polyethylene", "ceramic", "polyethylene"},
	{"ceramic-on-crosslinked-polyethylene", "ceramic", "crosslinked-polyethylene"},
	{"ceramic-on-ceramic", "ceramic", "ceramic"},
	{"metal-on-metal", "metal", "metal"},
	{"dual-mobility", "metal", "dual-mobility"},
}

// columns of the clean table, in order.
var columns = []string{
	"patient", "operation_date", "joint", "side", "procedure", "bearing", "fixation", "age", "sex", "diagnosis",
	"revision_date", "revised", "revision_reason", "death_date", "last_seen_date", "surgeon", "hospital",
}

var causes = []string{"infection", "aseptic loosening", "dislocation or instability", "periprosthetic fracture"}

// Joint is one row of the clean table with what some damages need beside it.
type Joint struct {
	cells map[string]string // by column
	birth string
	name  string
}

// Clean makes a table of so many joints in canonical words and ISO dates. The
// same seed gives the same table.
func Clean(seed uint64, joints int) []Joint {
	r := rand.New(rand.NewPCG(seed, 0x64616d616765))
	first := date("2012-01-02")
	last := date(ClosingDate)
	var all []Joint
	for n := 0; len(all) < joints; n++ {
		p := person{
			id:       fmt.Sprintf("ZQX-%d", 7310000+n*37),
			name:     fmt.Sprintf("%s, %c.", surnames[n%len(surnames)], 'A'+rune(n/len(surnames)%26)),
			sex:      []string{"female", "male"}[r.IntN(2)],
			surgeon:  surgeons[r.IntN(len(surgeons))],
			hospital: hospitals[r.IntN(len(hospitals))],
		}
		// No two of 200 patients are born on one day: they would be one patient
		// under two identifiers.
		born := date("1932-03-01").AddDate(0, 0, r.IntN(65)*200+n%200)
		p.birth = iso(born)
		operated := first.AddDate(0, 0, r.IntN(12*365))
		end := last
		if r.IntN(4) == 0 {
			end = operated.AddDate(0, 0, 100+r.IntN(3000))
			if end.Before(last) {
				p.death = iso(end)
			} else {
				end = last
			}
		}
		kind := r.IntN(10)
		second := r.IntN(4) == 0
		days := []time.Time{operated}
		if second {
			days = append(days, operated.AddDate(0, 0, r.IntN(80)))
		}
		switch {
		case p.death != "":
			p.seen = iso(end.AddDate(0, 0, -r.IntN(15)))
		case r.IntN(12) == 0 && days[len(days)-1].Before(date("2020-01-01")): // lost
			end = days[len(days)-1].AddDate(0, 0, 200+r.IntN(900))
			p.seen = iso(end)
		default:
			p.seen = iso(last.AddDate(0, 0, -r.IntN(90)))
		}
		right := r.IntN(2)
		for i, day := range days {
			all = append(all, p.joint(r, day, end, kind, (right+i)%2))
		}
	}
	return all[:joints]
}

// joint is one operation of a patient, who is followed to a day.
func (p person) joint(r *rand.Rand, operated, end time.Time, kind, side int) Joint {
	c := map[string]string{
		"patient": p.id, "operation_date": iso(operated), "side": []string{"left", "right"}[side],
		"age": strconv.Itoa(years(date(p.birth), operated)), "sex": p.sex,
		"diagnosis": "osteoarthritis", "revised": "no", "death_date": p.death, "last_seen_date": p.seen,
		"surgeon": p.surgeon, "hospital": p.hospital, "procedure": "total",
	}
	switch {
	case kind < 6:
		c["joint"] = "hip"
		c["bearing"] = bearings[r.IntN(len(bearings))].word
		c["fixation"] = []string{"cemented", "porous", "hybrid", "reverse hybrid"}[r.IntN(4)]
		if c["bearing"] == "metal-on-metal" {
			c["procedure"] = "resurfacing"
		}
	default:
		c["joint"] = "knee"
		c["bearing"] = []string{"fixed", "mobile"}[r.IntN(2)]
		c["fixation"] = []string{"cemented", "cemented", "porous", "hybrid"}[r.IntN(4)]
		if kind == 9 {
			c["procedure"] = "unicompartmental"
		}
	}
	for _, column := range []string{"bearing", "fixation", "age"} {
		if r.IntN(30) == 0 {
			c[column] = ""
		}
	}
	if r.IntN(6) == 0 {
		if day := operated.AddDate(0, 0, r.IntN(2000)); day.Before(end) && (p.death == "" || iso(day) < p.death) {
			c["revision_date"], c["revised"], c["revision_reason"] = iso(day), "yes", causes[r.IntN(len(causes))]
		}
	}
	return Joint{cells: c, birth: p.birth, name: p.name}
}

func date(s string) time.Time {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		panic(err) // a date of this package
	}
	return t
}

func iso(t time.Time) string { return t.Format(time.DateOnly) }

// years are the completed years between two days.
func years(from, to time.Time) int {
	n := to.Year() - from.Year()
	if to.Month() < from.Month() || to.Month() == from.Month() && to.Day() < from.Day() {
		n--
	}
	return n
}

// Identifiers are the texts that may stand in no message: patients, their
// names and dates of birth.
func Identifiers(joints []Joint) []string {
	found := make(map[string]bool)
	for _, j := range joints {
		found[j.cells["patient"]] = true
		found[j.cells["patient"][len("ZQX-"):]] = true
		found[j.birth] = true
	}
	for _, name := range surnames {
		found[name] = true
	}
	var all []string
	for s := range found {
		all = append(all, s)
	}
	return all
}
