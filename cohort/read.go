package cohort

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"slices"
	"sort"
	"strings"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/table"
)

// ErrChanged says that a file was changed while it was read, of which a copy was asked
// for (Options.Copy).
var ErrChanged = table.ErrChanged

// Read reads and checks tables. The rows are streamed: memory grows by about
// 25 bytes a row, and by some more where there are days last seen, birth dates, initials
// or names of joints. Errors are about the tables as wholes (no such file, not
// decodable, no usable row, a needed column missing, [*MissingColumnError],
// [*TwoColumnsError], [*DateOrderError]) or about the options ([*OptionError],
// [*UnknownFieldError]); what is wrong with single rows is in the result. Some of
// these errors come with a cohort, so that what is wrong can be listed: a
// [*NoUsableRowError], a [*MostSetAsideError], and, with Options.EveryColumn, those
// that are questions: a [*MissingColumnError] of a table of which some heading is
// known, a [*TwoColumnsError], a [*DateOrderError], all of them joined where there
// are several, or a [*SheetsError], with all those sheets read; see [Questions].
func Read(ctx context.Context, sources []Source, o Options) (*Cohort, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	if len(sources) == 0 {
		return nil, errors.New("no table to read")
	}
	extra, asked, err := o.extraNames()
	if err != nil {
		return nil, err
	}
	var all []table.Source
	roles := make([]row.Role, 0, len(sources))
	for _, list := range []struct {
		holds   row.Role
		sources []Source
	}{{row.Primaries, sources}, {row.Revisions, o.Revisions}, {row.Deaths, o.DeathLists}} {
		for _, s := range list.sources {
			tables, err := tablesOf(s)
			if err != nil {
				return nil, err
			}
			all, roles = append(all, tables...), append(roles, slices.Repeat([]row.Role{list.holds}, len(tables))...)
		}
	}
	r := &reading{options: o, tables: table.NewReader(o.table(extra, asked, size(all), len(roles) > 1 && roles[1] == row.Primaries))}
	for i, s := range all {
		if err := r.source(ctx, s, roles[i]); err != nil {
			return nil, err
		}
	}
	if stopped := r.stopped(); stopped != nil {
		return r.described(), stopped
	}
	for _, assumed := range o.assumed() {
		if r.tables.HasAll(assumed.Column) {
			return nil, badOption("%s has a column %q, so that a value can't be assumed for %s: assume none, or leave that heading out with %q = \"\" under [columns] of a settings file",
				r.tables.Files[0].Title(), r.tables.Headed[assumed.Column], assumed.Column, r.tables.Headed[assumed.Column])
		}
	}
	return r.finish()
}

// size is how many bytes tables take up together; 0 if one doesn't say.
func size(sources []table.Source) int64 {
	total := int64(0)
	for _, s := range sources {
		var info fs.FileInfo
		var err error
		switch file := s.Reader.(type) {
		case nil:
			info, err = os.Stat(s.Name)
		case *os.File:
			info, err = file.Stat()
		default:
			return 0
		}
		if err != nil || !info.Mode().IsRegular() {
			return 0
		}
		total += info.Size()
	}
	return total
}

// extraNames are the fields kept beside the core ones: sex and the reason
// always, the others when asked for or needed for the scope; asked are the others
// less those that are kept because every column is.
func (o Options) extraNames() (names, asked []string, err error) {
	names = []string{table.ExtraSex: "sex", table.ExtraReason: "revision_reason"}
	wanted := slices.Clone(o.Keep)
	for _, w := range o.Where {
		wanted = append(wanted, w.Column)
	}
	for name := range o.Assume {
		wanted = append(wanted, name)
	}
	if names, err = o.addFields(names, wanted); err != nil {
		return nil, nil, err
	}
	asked = slices.Clone(names[table.ExtraReason+1:])
	if o.EveryColumn {
		if names, err = o.addFields(names, column.With(column.Grouping)); err != nil {
			return nil, nil, err
		}
	}
	sort.Strings(names[table.ExtraReason+1:])
	return names, asked, nil
}

// addFields appends the fields that are wanted and not yet there, nor always.
func (o Options) addFields(names, wanted []string) ([]string, error) {
	headings := table.Options{Columns: o.Columns}
	for _, name := range wanted {
		if known := headings.Column(name); known != "" {
			name = known
		}
		switch {
		case column.Identifying(name):
			return nil, badOption("column %s identifies patients: it is no column to group by or to select rows by", name)
		case slices.Contains(table.CoreFields[:], name), plainColumn(name) == fieldOperationYear:
			continue
		}
		if plainColumn(name) == fieldAgeBand {
			name = fieldAgeBand // a table's own, where it has no ages
		}
		if _, ok := column.Named(names, name); !ok {
			names = append(names, name)
		}
	}
	return names, nil
}

// source reads a source's table, or the tables on each of the sheets asked for.
func (r *reading) source(ctx context.Context, s table.Source, holds row.Role) error {
	sheets := []string{s.Sheet}
	if holds == row.Primaries && s.Sheet == "" && len(r.options.Sheets) > 0 {
		sheets = r.options.Sheets
	}
	again := false
	for i := 0; i < len(sheets); i++ {
		if again && s.Reader != nil {
			start, ok := s.Reader.(io.Seeker)
			if !ok {
				return badOption("%s can't be read twice, as several sheets need: save it as a file", table.ShownName(s.Name))
			}
			if _, err := start.Seek(0, io.SeekStart); err != nil {
				return err
			}
		}
		s.Sheet, again = sheets[i], true
		all := len(sheets) == 1 && strings.EqualFold(s.Sheet, AllSheets)
		if all {
			s.Sheet = ""
		}
		before := len(r.tables.Files)
		err := r.tables.Read(ctx, s, holds)
		if several, ok := errors.AsType[*SheetsError](err); ok && (all || r.asksSheets(several, s, holds)) {
			sheets, i = r.options.primaries(s.Name, several.Wanted), -1
			continue
		}
		if missing, ok := errors.AsType[*MissingColumnError](err); ok && missing.Sheet == "" {
			sheets = sheets[:i+1]
		}
		if err := r.ask(err); err != nil {
			return err
		}
		if len(r.tables.Files) == before { // it was not read
			continue
		}
		if err := twoRoles(r.tables.Files); err != nil {
			return err
		}
		if r.tables.Files[len(r.tables.Files)-1].Sheet == "" { // no workbook
			break
		}
	}
	return nil
}

// AllSheets, as the only one of Options.Sheets, stands for every sheet that has the
// headings of a table of primaries, but for those that are named as sheets of
// revisions or deaths, or are called so. A sheet of that name comes before.
const AllSheets = "all"

// primaries are those of a workbook's sheets that are read as tables of primaries
// where all are asked for.
func (o Options) primaries(book string, wanted []string) []string {
	var all []string
	for _, sheet := range wanted {
		if strings.EqualFold(sheet, AllSheets) {
			return []string{sheet}
		}
		revisions, deaths := LikelySheets([]string{sheet})
		if revisions != "" || deaths != "" || slices.ContainsFunc(slices.Concat(o.Revisions, o.DeathLists), func(s Source) bool {
			return strings.EqualFold(s.Sheet, sheet) && (s.Name == book || s.Name == "")
		}) {
			continue
		}
		all = append(all, sheet)
	}
	if all == nil {
		return wanted
	}
	return all
}

// twoRoles refuses a table that was read as what another role holds too: its
// primaries would be revisions of themselves.
func twoRoles(files []File) error {
	last := files[len(files)-1]
	for _, f := range files {
		if f.Holds != last.Holds && f.IsOf(last) {
			return badOption("%s is named as a table of %s and as one of %s: name it once", last.Title(), f.Holds, last.Holds)
		}
	}
	return nil
}

// finish settles what needs all rows of all tables, and links them.
func (r *reading) finish() (*Cohort, error) {
	t := r.tables
	if !slices.ContainsFunc(t.Files, func(f File) bool { return f.Rows > 0 }) {
		return nil, fmt.Errorf("%s: %w: there are headings, and no rows below them", t.Files[0].Title(), ErrNoUsableRow)
	}
	t.SettleNoDays()
	closing, err := closingOf(t, r.options)
	if err != nil {
		return nil, err
	}
	t.FindEarlySeen(row.Day(closing.Day))
	whole := r.link(closing)
	c, err := whole.Where(r.options.Where...)
	if err != nil {
		return nil, err
	}
	if a := c.Account(); a.Used == 0 {
		said := ""
		if slices.ContainsFunc(c.Files, func(f File) bool { return slices.Contains(f.Notes, table.ShortYears) }) {
			said = table.ShortYears
		}
		return c, &NoUsableRowError{Account: a, said: said, scope: c.Scope}
	}
	if err := whole.mostSetAside(); err != nil {
		return c, err
	}
	return c, nil
}

// ClosedOn is the cohort with follow-up up to a day instead, as if that had been
// Options.ClosingDate: an operation after it is set aside, and a revision or death after
// it has not happened yet. Nothing is read again; the rows are linked again. An [*OptionError]
// says that the day is in the future, a [*NoUsableRowError] that no row is left.
func (c *Cohort) ClosedOn(day Day) (*Cohort, error) {
	if today := Day(c.facts.Today); day > today {
		return nil, badOption("closing date %s is after today, %s: follow-up can't be complete up to it", day, today)
	}
	then := c.closed(Closing{Day: day, Asked: true}, c.linked.deathList.CompleteTo)
	if a := then.Account(); a.Used == 0 {
		return nil, &NoUsableRowError{Account: a, scope: c.Scope}
	}
	return then, nil
}

// NoUsableRowError says why no row is left. It wraps [ErrNoUsableRow].
type NoUsableRowError struct {
	Account Account
	said    string // what may be done about it; "" for nothing
	scope   []Condition
}

func (e *NoUsableRowError) Error() string {
	if e.Account.Read == 0 && len(e.scope) > 0 {
		var asked []string
		for _, w := range e.scope {
			asked = append(asked, w.Column+" "+w.Value)
		}
		return fmt.Sprintf("%v: no row has %s at once", ErrNoUsableRow, strings.Join(asked, " and "))
	}
	var why []string
	for _, r := range e.Account.Reasons {
		why = append(why, fmt.Sprintf("%s: %d", r.Reason, r.Rows))
	}
	said := fmt.Sprintf("%v: all %d rows are set aside (%s)", ErrNoUsableRow, e.Account.Read, strings.Join(why, "; "))
	if e.said != "" {
		said += ": " + e.said
	}
	return said
}

// Unwrap returns ErrNoUsableRow.
func (e *NoUsableRowError) Unwrap() error { return ErrNoUsableRow }
