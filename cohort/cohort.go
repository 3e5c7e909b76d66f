package cohort

import (
	"cmp"
	"fmt"
	"slices"
	"sort"
	"sync"
)

// Cohort is one or more outcomes tables, read and checked.
type Cohort struct {
	Files     []File
	Closing   Closing
	Account   Account
	Deaths    Deaths
	DeathList DeathList
	Scope     []Condition // the conditions rows had to meet, in canonical words
	Assumed   []Condition // values assumed for columns the tables lack

	bands     []AgeBand
	chunks    []*chunk // of the primaries
	all       []*chunk // these, then the tables joined to them
	lostAfter int32
	core      [coreFieldCount]*field
	extra     []*field
	words     []*vocabulary
	present   map[string]bool // columns that at least one table has, or assumed
	headed    map[string]string
	shared    []places        // rows of patients who have several, in parts
	missing   [][]int         // by file and heading
	values    [][]*valueCount // as missing; nil for headings that are understood
	anyWho    bool
	sides     bool            // some table tells left from right
	repeats   map[place]place // rows of a joint that stands in the table already
	twins     map[place]place // rows whose patient another row may name otherwise
	repeated  sync.Mutex      // guards repeats while they are found

	listed      map[uint64]place // deaths of the lists, by patient
	told        map[uint64]place // deaths of the tables of revisions, by patient
	findSources sync.Once
	from        *sources

	today int32
}

// File is one table and how it was understood.
type File struct {
	Name        string
	Format      string
	Notes       []string // about the file as a whole, such as its encoding
	HeadingRow  int
	Preamble    []string // comment lines above the headings
	Headings    []Heading
	DateOrders  []ColumnOrder
	Rows        int
	Holds       string   // primaries, revisions or deaths
	Sheet       string   // of a workbook
	OtherSheets []string // of the workbook, not read

	cell func(row, column int) string
}

// Title tells a table from others in a message: its name, and its sheet if the
// workbook has several.
func (f File) Title() string { return title(f.Name, f.Sheet, len(f.OtherSheets) > 0) }

func title(name, sheet string, several bool) string {
	if !several {
		return name
	}
	return fmt.Sprintf("%s, sheet %q", name, sheet)
}

// Closing is the day up to which follow-up is complete.
type Closing struct {
	Day   Day
	Asked bool // given, rather than found

	// DeathsEnd says that the day is the one up to which deaths are known,
	// which is earlier than the closing date found or given.
	DeathsEnd bool

	// Where the day was found, unless it was asked for.
	File   int
	Row    int
	Column string

	// NextLatest is the latest date of another row; GapDays how far the
	// closing date stands after it.
	NextLatest Day
	GapDays    int
}

// LongestGap is the gap above which a found closing date is doubtful.
const LongestGap = 90

// Doubtful says that the closing date was found and stands so far after every
// other row's dates that it may be a typing error.
func (c Closing) Doubtful() bool { return !c.Asked && c.GapDays > LongestGap }

// Account says what became of the rows: Read = Used + SetAside.
type Account struct {
	InFiles  int // rows of all tables
	Read     int // rows in scope
	Used     int
	SetAside int

	Reasons  []ReasonCount // why rows were set aside, in the order of Reason
	Warnings []ReasonCount // warned of, but used

	// RevisedUndated counts rows set aside that were revised on a day nobody
	// knows: each makes every estimate too low.
	RevisedUndated int

	// Lost counts rows in use that were last seen longer before the closing
	// date than Options.LostAfter, neither revised nor dead.
	Lost int

	// RepeatsElsewhere counts rows set aside as repeats of a row of another
	// table.
	RepeatsElsewhere int

	// PossibleRevisions counts the joints in use that are not revised and of
	// which a row set aside would be the revision, if it is one.
	PossibleRevisions int

	// Unjoined counts, by what keeps them from counting, the rows that record a
	// revision and belong to no joint in use: of tables of revisions too.
	// UnjoinedJoints is how many joints more would be revised at most, if each
	// belonged to one in use.
	Unjoined       []ReasonCount
	UnjoinedJoints int
}

// Deaths says whether deaths can be relied on.
type Deaths struct {
	Recorded bool
	Column   bool     // every table has a column for deaths
	Without  []string // the tables that have none, if others do
	Used     int      // rows in use that say the patient died
	Expected float64  // if Used is 0: a rough number to be expected at these ages and follow-up
}

type place struct{ chunk, i int32 }

// HasColumn says whether a table has a column, or a value was assumed for it.
func (c *Cohort) HasColumn(name string) bool {
	_, ok := c.fieldName(name)
	return ok || c.present[name]
}

// problems lists the remarks on the rows in scope that keep says, in the order
// of file and row.
func (c *Cohort) problems(keep func(Reason) bool) []Problem {
	var found []Problem
	for ci, ch := range c.chunks {
		for i := range ch.row {
			if ch.status[i] == outOfScope {
				continue
			}
			c.remarks(int32(ci), int32(i), func(p Problem) {
				if keep(p.Reason) {
					found = append(found, p)
				}
			})
		}
	}
	slices.SortStableFunc(found, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Row, b.Row))
	})
	return found
}

// SetAside lists every row set aside, each with its reason.
func (c *Cohort) SetAside() []Problem { return c.problems(Reason.SetsAside) }

// Warnings lists what was warned of in rows that are used.
func (c *Cohort) Warnings() []Problem {
	return c.problems(func(r Reason) bool { return !r.SetsAside() })
}

// ColumnWords is how the words of one column were understood.
type ColumnWords struct {
	Column string
	Words  []Word // the commonest first
}

// Words lists how the words of each column that has a vocabulary were
// understood. Columns kept for grouping stand under their own headings.
func (c *Cohort) Words() []ColumnWords {
	var all []ColumnWords
	for _, v := range c.words {
		if len(v.words) < 2 || !c.present[v.column] {
			continue
		}
		var w []Word
		for n, word := range v.words {
			if n > 0 && (word.Rows > 0 || n == int(v.assumed)) { // the others stand in rows that are no joints
				w = append(w, word)
			}
		}
		if len(w) == 0 {
			continue
		}
		if n, rows := len(w), c.rows(); n > 20 && 2*n > rows && !slices.Contains(signatureColumns[:], v.column) {
			all = append(all, ColumnWords{v.column, []Word{{Typed: fmt.Sprintf("(%d different values)", n), Value: "as typed", Known: true, Rows: rows}}})
			continue
		}
		sort.SliceStable(w, func(i, j int) bool {
			return cmp.Or(-cmp.Compare(w[i].Rows, w[j].Rows), cmp.Compare(w[i].Typed, w[j].Typed)) < 0
		})
		all = append(all, ColumnWords{v.column, w})
	}
	return all
}

// Completeness is how many rows of a file have a value under a heading.
type Completeness struct {
	File    int
	Heading Heading
	Rows    int
	Missing int
	Counted bool // false: the column was not read
}

// Completeness lists it for every heading of every file.
func (c *Cohort) Completeness() []Completeness {
	var all []Completeness
	for i, f := range c.Files {
		for j, h := range f.Headings {
			n := c.missing[i][j]
			all = append(all, Completeness{File: i, Heading: h, Rows: f.Rows, Missing: max(n, 0), Counted: n >= 0})
		}
	}
	return all
}

// LostAfter is how many days before the closing date a joint must have been
// seen last to count as lost.
func (c *Cohort) LostAfter() int { return int(c.lostAfter) }

// AgeBands are the bands in use.
func (c *Cohort) AgeBands() []AgeBand { return slices.Clone(c.bands) }
