package testtable

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Record is one row of a table: its cells by column. What stands in no cell,
// such as the day on which the patient really died, has no column.
type Record struct {
	Cells map[string]string
	Died  string // the patient's day of death; "" if alive
}

// Practice is the tables of one practice, whose patients have one to four rows
// each.
type Practice struct {
	// Operations says that the rows of Primaries are operations, told apart by
	// the column operation_type; a revision has its own day as operation_date.
	Operations                   bool
	Primaries, Revisions, Deaths []Record
}

// Columns of the tables of a practice, in order.
var (
	PrimaryColumns = []string{"patient", "operation_date", "joint", "side", "procedure", "bearing", "fixation", "age", "sex", "revision_date", "revised",
		"revision_reason", "death_date", "dead", "last_seen_date", "surgeon"}
	RevisionColumns = []string{"patient", "joint", "side", "revision_date", "revision_reason", "surgeon"}
	DeathColumns    = []string{"patient", "death_date"}
)

// TextOf writes records as a table of these columns.
func TextOf(columns []string, records []Record) string {
	var b strings.Builder
	b.WriteString(strings.Join(columns, ",") + "\n")
	for _, r := range records {
		for i, c := range columns {
			if i > 0 {
				b.WriteByte(',')
			}
			b.WriteString(r.Cells[c])
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// PrimaryText, RevisionText and DeathText write the tables as text.
func (p Practice) PrimaryText() string {
	columns := PrimaryColumns
	if p.Operations {
		columns = append(slices.Clone(columns), "operation_type")
	}
	return TextOf(columns, p.Primaries)
}

func (p Practice) RevisionText() string { return TextOf(RevisionColumns, p.Revisions) }
func (p Practice) DeathText() string    { return TextOf(DeathColumns, p.Deaths) }

// Clone is a copy whose cells can be changed.
func (p Practice) Clone() Practice {
	for _, t := range []*[]Record{&p.Primaries, &p.Revisions, &p.Deaths} {
		*t = slices.Clone(*t)
		for i := range *t {
			(*t)[i].Cells = maps.Clone((*t)[i].Cells)
		}
	}
	return p
}

// Layout says which tables a practice keeps.
type Layout int

const (
	OneTable      Layout = iota // revisions and deaths stand beside the primaries
	OperationRows               // every operation is a row of one table
	WithRevisions               // a table of revisions beside
	WithLists                   // a table of revisions and a list of deaths
	LayoutCount
)

// Patients makes the tables of so many patients. Faults is how many of ten rows
// have one of the things that are wrong with tables; the same random numbers
// give the same tables. All dates are ISO, all words canonical, and two rows of
// a patient stand for one joint only where that is the fault.
func Patients(r *rand.Rand, n int, layout Layout, faults int) Practice {
	p := Practice{Operations: layout == OperationRows}
	for i := range n {
		p.patient(r, i, layout, faults)
	}
	return p
}

// patient adds the rows of one patient.
func (p *Practice) patient(r *rand.Rand, number int, layout Layout, faults int) {
	pick := func(values ...string) string { return values[r.IntN(len(values))] }
	id := fmt.Sprintf("ZQX-%d", 4410000+number*41)
	switch {
	case faults > 0 && number < 10:
		id = "x" // of more operations than a patient has
	case faults > 0 && r.IntN(25) == 0:
		id = ""
	case r.IntN(12) == 0:
		id = fmt.Sprintf("%07d", number+1)
	}
	first := date("2004-01-01").AddDate(0, 0, r.IntN(4000))
	died := ""
	if r.IntN(4) == 0 {
		died = iso(first.AddDate(0, 0, 400+r.IntN(3500)))
		if died > "2023-12-31" {
			died = ""
		}
	}
	sex, surgeon, age := pick("female", "male"), "S"+strconv.Itoa(r.IntN(3)), 45+r.IntN(40)
	// A patient has a joint once, and at least one place stays free.
	places := [][2]string{{"hip", "left"}, {"hip", "right"}, {"knee", "left"}, {"knee", "right"}}
	r.Shuffle(len(places), func(i, j int) { places[i], places[j] = places[j], places[i] })
	for k := range []int{1, 1, 1, 2, 2, 3}[r.IntN(6)] {
		operated := first.AddDate(0, 0, k*(30+r.IntN(300)))
		if died != "" && iso(operated) >= died {
			break
		}
		c := map[string]string{
			"patient": id, "operation_date": iso(operated), "joint": places[k][0], "side": places[k][1], "procedure": "total",
			"bearing": pick("metal-on-polyethylene", "ceramic-on-ceramic", ""), "fixation": pick("cemented", "porous", ""), "age": strconv.Itoa(age + years(first, operated)), "sex": sex, "surgeon": surgeon,
		}
		if c["joint"] == "knee" {
			c["bearing"] = pick("fixed", "mobile", "")
		}
		if r.IntN(2) == 0 && died == "" {
			c["last_seen_date"] = iso(operated.AddDate(0, 0, 200+r.IntN(3000)))
		}
		row := Record{c, died}
		if died != "" && layout != WithLists && (k == 0 || r.IntN(2) == 0) {
			c["death_date"] = died // the patient's other rows may not say so
		}
		elsewhere := false // the revision is a row of its own
		if r.IntN(4) == 0 {
			on := operated.AddDate(0, 0, 20+r.IntN(2500))
			if died == "" || iso(on) < died {
				p.revise(row, layout, iso(on), pick("infection", "aseptic loosening", ""))
				elsewhere = layout != OneTable
			}
		}
		if r.IntN(10) < faults {
			p.fault(r, row, operated)
			if elsewhere {
				c["revision_date"] = "" // one revision has one day
			}
		}
		if p.Operations && c["operation_type"] == "" {
			c["operation_type"] = "primary"
		}
		p.Primaries = append(p.Primaries, row)
	}
	if died != "" && layout == WithLists && r.IntN(6) > 0 {
		p.Deaths = append(p.Deaths, Record{map[string]string{"patient": id, "death_date": died}, died})
	}
}

// revise records a revision where the layout has it.
func (p *Practice) revise(of Record, layout Layout, on, reason string) {
	c := of.Cells
	switch layout {
	case OneTable:
		c["revision_date"], c["revised"], c["revision_reason"] = on, "yes", reason
	case OperationRows:
		p.Primaries = append(p.Primaries, Record{map[string]string{
			"patient": c["patient"], "operation_date": on, "joint": c["joint"], "side": c["side"], "revision_reason": reason,
			"surgeon": c["surgeon"], "operation_type": "revision",
		}, of.Died})
	default:
		p.Revisions = append(p.Revisions, Record{map[string]string{
			"patient": c["patient"], "joint": c["joint"], "side": c["side"], "revision_date": on, "revision_reason": reason, "surgeon": c["surgeon"],
		}, of.Died})
	}
}

// RowFault is one thing that is wrong with a row. It returns another row of the
// patient that it takes, nil for none.
type RowFault struct {
	Name  string
	apply func(r *rand.Rand, row Record, operated time.Time) *Record
}

// cellFault sets cells to what depends on the day of the operation.
func cellFault(name string, set func(c map[string]string, operated time.Time)) RowFault {
	return RowFault{name, func(_ *rand.Rand, row Record, operated time.Time) *Record {
		set(row.Cells, operated)
		return nil
	}}
}

// again is a fault by which a joint stands in the table again so many days
// later.
func again(name string, from, upTo int) RowFault {
	return RowFault{name, func(r *rand.Rand, row Record, operated time.Time) *Record {
		c := maps.Clone(row.Cells)
		for _, column := range []string{"revision_date", "revised", "revision_reason", "last_seen_date"} {
			c[column] = ""
		}
		if c["patient"] == "" || c["patient"] == "x" {
			return nil
		}
		c["operation_date"] = iso(operated.AddDate(0, 0, from+r.IntN(upTo-from)))
		if row.Died != "" && c["operation_date"] >= row.Died {
			return nil
		}
		return &Record{c, row.Died}
	}}
}

// RowFaults are what can be wrong with one row of a practice.
var RowFaults = []RowFault{
	cellFault("revised without a date", func(c map[string]string, _ time.Time) { c["revision_date"], c["revised"] = "", "yes" }),
	cellFault("revised on an impossible day", func(c map[string]string, _ time.Time) { c["revision_date"] = "2015-02-30" }),
	cellFault("revised before the operation", func(c map[string]string, op time.Time) { c["revision_date"] = iso(op.AddDate(0, 0, -40)) }),
	cellFault("not revised, with a date", func(c map[string]string, op time.Time) {
		c["revision_date"], c["revised"] = iso(op.AddDate(0, 0, 700)), "no"
	}),
	cellFault("a reason and no revision", func(c map[string]string, _ time.Time) {
		if c["revision_date"] == "" {
			c["revised"], c["revision_reason"] = "", "infection"
		}
	}),
	cellFault("neither yes nor no", func(c map[string]string, _ time.Time) { c["revised"] = "perhaps" }),
	cellFault("revised after death", func(c map[string]string, op time.Time) {
		if c["death_date"] != "" {
			d := date(c["death_date"])
			c["revision_date"], c["revised"] = iso(d.AddDate(0, 0, 30)), "yes"
		}
	}),
	cellFault("dead before the operation", func(c map[string]string, op time.Time) { c["death_date"] = iso(op.AddDate(0, 0, -700)) }),
	cellFault("dead without a date", func(c map[string]string, _ time.Time) {
		if c["death_date"] == "" {
			c["dead"], c["last_seen_date"] = "yes", ""
		}
	}),
	cellFault("alive, with a day of death", func(c map[string]string, op time.Time) {
		if c["death_date"] != "" {
			c["dead"] = "no"
		}
	}),
	cellFault("an age nobody has", func(c map[string]string, _ time.Time) { c["age"] = "740" }),
	cellFault("both sides", func(c map[string]string, _ time.Time) { c["side"] = "both" }),
	cellFault("no side", func(c map[string]string, _ time.Time) { c["side"] = "" }),
	cellFault("no date", func(c map[string]string, _ time.Time) { c["operation_date"] = "" }),
	cellFault("in the future", func(c map[string]string, _ time.Time) { c["operation_date"] = "2031-05-06" }),
	cellFault("no primary", func(c map[string]string, _ time.Time) { c["procedure"] = "revision THR" }),
	again("the same row again", 0, 1),
	again("the same joint again", 100, 2000),
}

// fault does one thing wrong to a row, or adds another.
func (p *Practice) fault(r *rand.Rand, row Record, operated time.Time) {
	if more := RowFaults[r.IntN(len(RowFaults))].apply(r, row, operated); more != nil {
		if p.Operations {
			more.Cells["operation_type"] = "primary"
		}
		p.Primaries = append(p.Primaries, *more)
	}
}
