package settings

import (
	"math"
	"slices"

	"example.org/holdfast/cohort"
)

// Reading checks what is in force about reading, once.
func (s *Settings) Reading() (cohort.Options, error) {
	o := cohort.Options{Columns: s.Columns, Words: s.Words, Missing: s.Missing, Assume: s.Assume, AgeBands: s.AgeBands, Bands: s.Bands, Pivot: s.Pivot, Encoding: s.Encoding, Sheets: s.sheets()}
	for _, d := range []struct {
		key   string
		value any
		day   **cohort.Day
	}{{"closing_date", s.ClosingDate, &o.ClosingDate}, {"deaths_complete_to", s.DeathsCompleteTo, &o.DeathsCompleteTo}} {
		if d.value == nil {
			continue
		}
		day, err := cohort.ParseDay(d.value.(string))
		if err != nil {
			return o, Usage("%s: %w", s.From(d.key), err)
		}
		*d.day = &day
	}
	for _, column := range slices.Sorted(keys(s.Where)) {
		for _, value := range s.Where[column] {
			o.Where = append(o.Where, cohort.Condition{Column: column, Value: value})
		}
	}
	switch s.DateOrder {
	case "":
	case "day-first":
		o.DateOrder = cohort.DayFirst
	case "month-first":
		o.DateOrder = cohort.MonthFirst
	default:
		return o, Usage("%s %q: want day-first or month-first", s.From("date_order"), s.DateOrder)
	}
	if years := s.LostAfterYears; years != nil {
		if !(*years > 0 && *years <= 100) {
			return o, Usage("%s %v: want a number of years above 0", s.From("lost_after_years"), *years)
		}
		o.LostAfter = int(math.Round(*years * 365))
	}
	o.PatientsByTable = s.PatientsByTable != nil && *s.PatientsByTable
	for _, name := range s.Revisions {
		o.Revisions = append(o.Revisions, cohort.Source{Name: name})
	}
	if s.RevisionsSheet != "" {
		o.Revisions = append(o.Revisions, cohort.Source{Sheet: s.RevisionsSheet})
	}
	for _, name := range s.Deaths {
		o.DeathLists = append(o.DeathLists, cohort.Source{Name: name})
	}
	if s.DeathsSheet != "" {
		o.DeathLists = append(o.DeathLists, cohort.Source{Sheet: s.DeathsSheet})
	}
	switch d := s.Delimiter; {
	case d == "":
	case d == "tab":
		o.Delimiter = '\t'
	case len(d) == 1:
		o.Delimiter = rune(d[0])
	default:
		return o, Usage("%s %q: want one character, or tab", s.From("delimiter"), d)
	}
	return o, nil
}

// sheets are the sheets of primaries in force.
func (s *Settings) sheets() []string {
	names, _ := s.Sheet.([]string)
	return names
}

// NameLists gives the lists of revisions and deaths in options that are sheets of
// the same workbook its name: that of the one table.
func NameLists(tables []string, o cohort.Options) error {
	for _, list := range [][]cohort.Source{o.Revisions, o.DeathLists} {
		for i := range list {
			if list[i].Name != "" {
				continue
			}
			if len(tables) != 1 || tables[0] == "-" {
				return Usage("a sheet of the same workbook can be named for one workbook only")
			}
			list[i].Name = tables[0]
		}
	}
	return nil
}
