package cohort

import (
	"cmp"
	"errors"
	"io"
	"math"

	"example.org/holdfast/cohort/internal/link"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/table"
	"example.org/holdfast/cohort/internal/words"
)

// Questions parts an error of [Read] that stopped it into what has to be answered
// before anything can be estimated: each a [*SheetsError], a [*MissingColumnError],
// a [*TwoColumnsError] or a [*DateOrderError]. There are none in any other error.
func Questions(stopped error) []error {
	switch e := stopped.(type) {
	case *MissingColumnError:
		all := []error{}
		for _, one := range append([]*MissingColumnError{e}, e.Others...) {
			all = append(all, one)
		}
		return all
	case *SheetsError, *TwoColumnsError, *DateOrderError:
		return []error{stopped}
	case interface{ Unwrap() []error }:
		var all []error
		for _, one := range e.Unwrap() {
			all = append(all, Questions(one)...)
		}
		return all
	case interface{ Unwrap() error }:
		return Questions(e.Unwrap())
	}
	return nil
}

// reading is the state of one Read.
type reading struct {
	options Options
	tables  *table.Reader
	sheets  *SheetsError        // which of a workbook's sheets was not said
	lacks   *MissingColumnError // what the tables lack
	open    []error             // other questions without an answer to which nothing can be estimated
}

// joined puts together what tables lack.
func joined(all, more *MissingColumnError) *MissingColumnError {
	if all == nil || more == nil {
		return cmp.Or(all, more)
	}
	all.Join(more)
	return all
}

// ask keeps of an error what is a question, so that what else is to be asked or said
// of the tables can be found out. It returns any other error.
func (r *reading) ask(err error) error {
	if errors.Is(err, table.ErrOption) {
		return &OptionError{err}
	}
	if several, ok := err.(interface{ Unwrap() []error }); ok {
		for _, one := range several.Unwrap() {
			if err := r.ask(one); err != nil {
				return err
			}
		}
		return nil
	}
	switch e := err.(type) {
	case *MissingColumnError:
		r.lacks = joined(r.lacks, e)
		return nil
	case *TwoColumnsError, *DateOrderError:
		if r.options.EveryColumn {
			r.open = append(r.open, err)
			return nil
		}
	}
	return err
}

// asksSheets keeps the question which of several sheets are meant, and says whether
// all of them are read so that what stands in them can be said.
func (r *reading) asksSheets(several *SheetsError, s table.Source, holds row.Role) bool {
	_, again := s.Reader.(io.Seeker)
	if !r.options.EveryColumn || holds != row.Primaries || s.Reader != nil && !again {
		return false
	}
	if r.sheets == nil {
		r.sheets = several
	}
	return true
}

// stopped is what has to be answered first. What sheets lack is not said before it
// is known which are meant.
func (r *reading) stopped() error {
	if r.sheets != nil {
		return r.sheets
	}
	if r.lacks == nil && len(r.open) == 0 {
		return nil
	}
	all := r.open
	if r.lacks != nil {
		r.tables.NameUnused(r.lacks)
		all = append(all, r.lacks)
	}
	if len(all) == 1 {
		return all[0]
	}
	return errors.Join(all...)
}

// described is what can be said of tables of which something has to be asked; nil
// if that is nothing.
func (r *reading) described() *Cohort {
	if len(r.tables.Files) == 0 {
		return nil
	}
	closing, err := closingOf(r.tables, r.options)
	if err != nil { // of no date at all
		closing = Closing{Day: r.options.Today}
	}
	return r.link(closing)
}

// link makes the facts and links all rows.
func (r *reading) link(closing Closing) *Cohort {
	t, o := r.tables, r.options
	t.HideNames()
	t.FoldNames()
	t.Present["age"] = t.Present["age"] || t.Present["birth_date"] || t.Present["birth_year"]
	b := &base{store: t.Store, text: t.Text, bands: AgeBands(o.AgeBands)}
	b.facts = row.Facts{Today: row.Day(o.Today), LostAfter: int32(o.LostAfter), Sides: b.hasCore("side")}
	for _, t := range b.store.Tables {
		b.facts.Tables = append(b.facts.Tables, t.Table)
	}
	side := t.Core[store.Side]
	b.facts.Left, b.facts.Right = side.Known(words.Left, math.MaxUint16), side.Known(words.Right, math.MaxUint16-1)
	b.store.Arrange(link.HoldersOf)
	c := &Cohort{Files: t.Files, Assumed: o.assumed(), base: b}
	return c.closed(closing, o.DeathsCompleteTo)
}

// closed is the cohort with its rows linked up to a closing date, or to the day up to
// which deaths are known if that is earlier.
func (c *Cohort) closed(closing Closing, deaths *Day) *Cohort {
	if deaths != nil && *deaths < closing.Day {
		closing.Day, closing.DeathsEnd = *deaths, true
	}
	then, b := *c, *c.base
	b.facts.Closing = row.Day(closing.Day)
	then.Closing, then.base, then.linked = closing, &b, b.link()
	then.linked.deathList.CompleteTo = deaths
	return then.remembering()
}
