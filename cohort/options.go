package cohort

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/table"
	"example.org/holdfast/cohort/internal/words"
)

// Day is a calendar day, counted from 1 January 1970.
type Day int32

// ParseDay reads an ISO date such as 2024-12-31.
func ParseDay(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, fmt.Errorf("date %q, want one such as 2024-12-31", s)
	}
	d, ok := dates.FromYMD(t.Year(), int(t.Month()), t.Day())
	if !ok {
		return 0, fmt.Errorf("date %q, want a year from %d to %d", s, dates.MinYear, dates.MaxYear)
	}
	return Day(d), nil
}

// String is the ISO form.
func (d Day) String() string { return dates.ISO(int32(d)) }

// Year is the calendar year.
func (d Day) Year() int {
	y, _, _ := dates.YMD(int32(d))
	return y
}

// Condition is one value a column must have for a row to be in scope.
type Condition struct{ Column, Value string }

// Source is one table to read.
type Source struct {
	Name   string    // as it is to be named in messages
	Reader io.Reader // nil: the file called Name
	Sheet  string    // of a workbook; "" is each of Options.Sheets for primaries, and else found
}

// Options say how tables are read. The zero value reads them as they are.
type Options struct {
	// Columns maps headings as typed to columns, before any other matching.
	// An empty column name leaves the heading out.
	Columns map[string]string

	// Words says, by column, what words as typed mean: canonical words or
	// synonyms. Case, accents and punctuation don't matter.
	Words map[string]map[string]string

	// Missing are words that stand for a missing value in every column, beside
	// the usual ones.
	Missing []string

	// Assume gives a column that the tables lack one value for every row.
	Assume map[string]string

	// Where keeps rows that have, for each column named, one of the values
	// named for it. Values may be synonyms.
	Where []Condition

	// Keep names columns beside the known ones, by heading, to keep for
	// grouping.
	Keep []string

	DateOrder DateOrder
	// Pivot reads two-digit years: below it as 20yy, from it on as 19yy. Nil
	// refuses them.
	Pivot *int

	// AgeBands are the lower bounds of the age bands after the first; nil
	// means [DefaultAgeBands].
	AgeBands []int

	// Bands are, by column, the lower bounds of the bands of its numbers after the
	// first. A column that is not named has its own: body mass index those from
	// 18.5, activity and head size none, so that their numbers stay as typed.
	Bands map[string][]float64

	// ClosingDate is the day up to which follow-up is complete; nil takes the
	// latest date that is not after Today, of all tables but lists of deaths.
	ClosingDate *Day

	// Today is the day after which dates are in the future; 0 means the
	// machine's.
	Today Day

	// EveryColumn counts missing cells and words in columns that are not
	// needed otherwise too.
	EveryColumn bool

	// Sheets are the sheets of a workbook to read as tables of primaries, pooled
	// like tables of their own; see AllSheets. None takes the only sheet that has headings of
	// such a table. Text and columnar files have no sheets and are read once.
	Sheets []string

	// Revisions are tables with one row per revision, joined to the primaries
	// by patient, joint and side. The day is revision_date, else operation_date.
	Revisions []Source

	// DeathLists are tables of patient and death_date, joined by patient.
	DeathLists []Source

	// PatientsByTable says that each table of primaries numbers its own patients: nobody
	// in it is a patient of another. Else one identifier is one patient in all tables; see
	// [Cohort.InSeveralTables]. Nothing can then be joined to the primaries.
	PatientsByTable bool

	// DeathsCompleteTo is the day up to which deaths are known. Follow-up ends
	// there if the closing date is later.
	DeathsCompleteTo *Day

	// LostAfter is how many days before the closing date a joint must have
	// been seen last to count as lost to follow-up; 0 means DefaultLostAfter.
	LostAfter int

	// Delimiter and Encoding of text tables; zero finds them from the file.
	Delimiter rune
	Encoding  string

	// Memory is how many bytes there are for the rows, 0 if nobody knows. A table that
	// needs more is refused, as soon as that is seen, with a [*TooLargeError].
	Memory int64

	// Copy, if set, is called with the name of each file that is read, as it is given or
	// found in a folder, and gives what takes the file's bytes, all and in order, while it is
	// read; or nil. They are those that the rows were made from: an error says if a workbook,
	// Parquet or Arrow file, which are read in no order and so read once more, was changed in
	// between. It is called once for each sheet of a workbook that is read.
	Copy func(name string) io.Writer

	// Progress, if set, is told now and then how far the reading of all tables has
	// come. It is called from one goroutine at a time.
	Progress func(Progress)
}

// DefaultLostAfter is two years.
const DefaultLostAfter = 730

// DefaultAgeBands are the lower bounds of the usual bands: under 55, 55–64,
// 65–74, 75 and over.
func DefaultAgeBands() []int { return []int{55, 65, 75} }

// OptionError says that options are wrong, whatever the tables hold.
type OptionError struct{ Err error }

func (e *OptionError) Error() string { return e.Err.Error() }

// Unwrap returns the error itself.
func (e *OptionError) Unwrap() error { return e.Err }

// WordError says that a word is explained by one that its column does not know.
type WordError struct {
	Column       string
	Typed, Value string
	Known        []string // the words of the column
}

func (e *WordError) Error() string {
	return fmt.Sprintf("%s: %q is explained as %q, which is no known word%s; write one of: %s", e.Column, e.Typed, e.Value, words.DidYouMean(e.Value, e.Known), strings.Join(e.Known, ", "))
}

func badOption(format string, args ...any) error {
	return &OptionError{fmt.Errorf(format, args...)}
}

func (o Options) withDefaults() (Options, error) {
	if o.AgeBands == nil {
		o.AgeBands = DefaultAgeBands()
	}
	for i, a := range o.AgeBands {
		if a < 1 || a > row.MaxAge || i > 0 && a <= o.AgeBands[i-1] {
			return o, badOption("age bands %v: want ages from 1 to %d that increase, such as 55,65,75", o.AgeBands, row.MaxAge)
		}
	}
	if o.Today == 0 {
		now := time.Now()
		d, _ := dates.FromYMD(now.Year(), int(now.Month()), now.Day())
		o.Today = Day(d)
	}
	for i, name := range o.Sheets {
		if name == "" || slices.ContainsFunc(o.Sheets[:i], func(other string) bool { return strings.EqualFold(name, other) }) {
			return o, badOption("sheet %q: name each sheet once", name)
		}
	}
	if o.ClosingDate != nil && *o.ClosingDate > o.Today {
		return o, badOption("closing date %s is after today, %s: follow-up can't be complete up to it", o.ClosingDate, o.Today)
	}
	if o.DateOrder > MonthFirst {
		return o, badOption("date order %d, want 0 to %d", o.DateOrder, MonthFirst)
	}
	if o.PatientsByTable && len(o.Revisions)+len(o.DeathLists) > 0 {
		return o, badOption("each table numbers its own patients: revisions or deaths of another table can't be joined to several; read each table with its own")
	}
	if o.LostAfter < 0 {
		return o, badOption("lost after %d days: want 0 or more", o.LostAfter)
	}
	if o.LostAfter == 0 {
		o.LostAfter = DefaultLostAfter
	}
	if o.Pivot != nil && (*o.Pivot < 0 || *o.Pivot > 100) {
		return o, badOption("two-digit-year pivot %d: want 0 to 100", *o.Pivot)
	}
	known := column.Every()
	for heading, name := range o.Columns {
		if name != "" && !slices.Contains(known, name) {
			return o, badOption("heading %q is mapped to %q, which is no column%s", heading, name, words.DidYouMean(name, known))
		}
	}
	wordColumns := column.Of(column.Words, column.Names)
	for name, mapping := range o.Words {
		if !slices.Contains(wordColumns, name) && !column.IsOf(name, column.YesNo) {
			return o, badOption("words can't be explained for column %q%s", name, words.DidYouMean(name, wordColumns))
		}
		for typed, value := range mapping {
			if !column.Explains(name, value) {
				return o, &OptionError{&WordError{Column: name, Typed: typed, Value: value, Known: column.Order(name)}}
			}
		}
	}
	for name, bounds := range o.Bands {
		if err := column.CheckBands(name, bounds); err != nil {
			return o, &OptionError{err}
		}
	}
	for name := range o.Assume {
		if !slices.Contains(wordColumns, name) {
			return o, badOption("a value can't be assumed for column %q; it can for %s", name, strings.Join(wordColumns, ", "))
		}
	}
	return o, nil
}

// assumed are the values assumed, by column.
func (o Options) assumed() []Condition {
	var all []Condition
	for _, name := range slices.Sorted(maps.Keys(o.Assume)) {
		all = append(all, Condition{name, o.Assume[name]})
	}
	return all
}

// table are the options that say how a table is understood; extra are the fields
// beside the core ones, asked those of them to group or select by, bytes the size of
// all tables, several whether there are several tables of primaries.
func (o Options) table(extra, asked []string, bytes int64, several bool) table.Options {
	return table.Options{Columns: o.Columns, Words: o.Words, Missing: o.Missing, Assume: o.Assume, Bands: o.Bands, DateOrder: o.DateOrder, Pivot: o.Pivot, Today: row.Day(o.Today),
		EveryColumn: o.EveryColumn, Delimiter: o.Delimiter, Encoding: o.Encoding, Progress: o.Progress, Copy: o.Copy, Extra: extra, Asked: asked, Bytes: bytes, Memory: o.Memory, Revisions: len(o.Revisions) > 0, Joined: len(o.Revisions)+len(o.DeathLists) > 0, Several: several, PatientsByTable: o.PatientsByTable}
}

// AgeBand is a range of completed years at operation, From ≤ age < To. From 0
// and To 0 mean no bound.
type AgeBand struct{ From, To int }

// String is the ASCII form: <55, 55-64, 75+.
func (b AgeBand) String() string {
	switch {
	case b.From == 0 && b.To == 0:
		return "all ages"
	case b.From == 0:
		return "<" + strconv.Itoa(b.To)
	case b.To == 0:
		return strconv.Itoa(b.From) + "+"
	}
	return fmt.Sprintf("%d-%d", b.From, b.To-1)
}

// AgeBands turns lower bounds into bands.
func AgeBands(bounds []int) []AgeBand {
	bands := make([]AgeBand, len(bounds)+1)
	for i, b := range bounds {
		bands[i].To, bands[i+1].From = b, b
	}
	return bands
}
