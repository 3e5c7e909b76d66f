package exchange

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/survival/tally"
)

// Tally is what a cohort comes to without its rows: for each cell of joints alike in
// all that is grouped by and all that a published figure may state, how many left
// observation on which day and why, and what is known of the tables as wholes.
//
// It tells of single joints by the day: it is not anonymous, and is for bodies that may
// exchange such data.
type Tally struct {
	Name   string // of the file, to call it by
	header header
	cells  *tally.Set
}

// Options say what a tally can be asked for.
type Options struct {
	// By are the fields to group by; nil means [audit.DefaultBy], of which those that
	// the tables lack are dropped.
	By []string

	// Published are the series that an audit of the tally can be set beside. Others
	// can, if they part ages and years where these do, or where age bands and whole
	// years do.
	Published []*benchmark.Series

	Endpoint cohort.Endpoint

	Coarsen Coarse
}

// wholeYears is how many completed years of possible follow-up are told apart.
const wholeYears = 60

// fixed are the dimensions of every tally, in the order of [cohort.Cohort.Cells].
var fixed = []string{"joint", "procedure", "bearing", "polyethylene", "fixation", "sex", "diagnosis", column.OperationYear, cohort.AtomAge, cohort.AtomReach}

// ofWords are those of them whose words are a vocabulary.
var ofWords = fixed[:7]

// Count makes the tally of a cohort. Its closing date must have been asked for, so that
// tallies of several places have one. Errors are those of [cohort.Cohort.Tally], and
// [*cohort.OptionError].
func Count(name string, c *cohort.Cohort, o Options) (*Tally, error) {
	if !o.Coarsen.known() {
		return nil, refused("days can be coarsened to %s or %s, not to %q", ByMonths, ByQuarters, string(o.Coarsen))
	}
	if !c.Closing.Asked {
		return nil, refused("a tally needs a closing date that is named: tallies are pooled only where theirs is the same")
	}
	by := o.By
	if by == nil {
		by = defaultBy(c)
	}
	var fields []string
	for _, f := range by {
		name, err := c.Field(f)
		switch {
		case err != nil:
			return nil, err
		case cohort.Outcome(name):
			return nil, &audit.AfterwardsError{Column: name}
		case slices.Contains(dataColumns, name):
			return nil, refused("a column called %s can't be grouped by in a tally, which has another of that name", name)
		}
		fields = append(fields, name)
	}
	ages, years := breaks(c, o.Published)
	return count(name, c, fields, ages, years, o.Endpoint, o.Coarsen)
}

// defaultBy are the fields grouped by unless others are named.
func defaultBy(c *cohort.Cohort) []string {
	return slices.DeleteFunc(audit.DefaultBy(), func(f string) bool { return !slices.Contains(c.Fields(), f) })
}

// breaks are the ages and the years of possible follow-up at which joints are parted:
// those of the age bands and of published series, and whole years.
func breaks(c *cohort.Cohort, published []*benchmark.Series) (ages []int, years []float64) {
	ages, years = audit.Breaks(c.AgeBands(), published)
	for y := 1; y <= wholeYears; y++ {
		years = append(years, float64(y))
	}
	slices.Sort(years)
	return ages, slices.Compact(years)
}

// Like makes the tally of a cohort alike in all that was chosen when t was made.
func (t *Tally) Like(name string, c *cohort.Cohort) (*Tally, error) {
	h := &t.header
	var by []string
	for _, f := range h.By {
		field, err := c.Field(f)
		if err != nil {
			return nil, fmt.Errorf("beside %s, which is grouped by it: %w", t.Name, err)
		}
		by = append(by, field)
	}
	return count(name, c, by, h.Ages, h.Years, cohort.Endpoint{Reasons: h.Reasons}, h.Coarsened)
}

// Reading is how tables are read that are to be pooled with the tally: its closing date
// and age bands, and what is grouped by kept. An [*cohort.OptionError] says what was
// asked for otherwise.
func (t *Tally) Reading(o cohort.Options) (cohort.Options, error) {
	about, err := t.header.about(t.Name)
	if err != nil {
		return o, err
	}
	h, closing := &t.header, about.Closing.Day
	switch {
	case len(o.Where) > 0:
		return o, refused("%s is a tally, and can't be narrowed: make one of the part that is wanted", t.Name)
	case o.ClosingDate != nil && *o.ClosingDate != closing && !about.Closing.DeathsEnd:
		return o, refused("the closing date of %s is %s, and can't be %s: that is settled when a tally is made", t.Name, closing, o.ClosingDate)
	case o.AgeBands != nil && !slices.Equal(o.AgeBands, h.AgeBands):
		return o, refused("the lower bounds of the age bands of %s are %v, and can't be %v: that is settled when a tally is made", t.Name, h.AgeBands, o.AgeBands)
	case o.LostAfter != 0 && o.LostAfter != h.LostAfter:
		return o, refused("in %s a joint is lost after %d days, and can't be after %d: that is settled when a tally is made", t.Name, h.LostAfter, o.LostAfter)
	}
	if o.ClosingDate == nil {
		o.ClosingDate = &closing
	}
	o.AgeBands, o.LostAfter = h.AgeBands, h.LostAfter
	o.Keep = slices.Concat(o.Keep, h.By, audit.Statable(), audit.Finer())
	return o, nil
}

// count is the tally of a cohort by fields, ages and years of possible follow-up.
func count(name string, c *cohort.Cohort, fields []string, ages []int, years []float64, e cohort.Endpoint, coarse Coarse) (*Tally, error) {
	h, err := headerFor(c, fields, ages, years, e)
	if err != nil {
		return nil, err
	}
	h.Coarsened = coarse
	h.forget()
	t := &Tally{Name: name, header: *h}
	cells, err := c.Cells(ages, years, h.extra(), h.Further, e)
	if err != nil {
		return nil, err
	}
	if t.cells, err = coarsened(cells, coarse); err != nil || coarse == ByDay {
		return t, err
	}
	alone, err := NewPool(t)
	if err != nil {
		return nil, err
	}
	t.header.CoarseSaid = alone.about.Coarsened
	return t, nil
}

// headerFor is the header of the tally of a cohort by fields, ages and years of possible
// follow-up.
func headerFor(c *cohort.Cohort, fields []string, ages []int, years []float64, e cohort.Endpoint) (*header, error) {
	h := headerOf(c, e)
	h.By, h.Ages, h.Years = fields, ages, years
	switch {
	case c.HasColumn("age"):
		h.AgesAs = "years"
	case slices.Contains(c.Fields(), column.AgeBand):
		h.AgesAs = "bands"
	default:
		h.AgesAs = "none"
	}
	h.Further = h.further()
	var err error
	if h.Patients, err = patientsOf(c, fields, e); err != nil {
		return nil, err
	}
	if h.FollowUp, err = followedOf(c); err != nil {
		return nil, err
	}
	found, err := c.Longest()
	for of, days := range found {
		h.Longest = append(h.Longest, longest{of[0], of[1], days})
	}
	slices.SortFunc(h.Longest, func(a, b longest) int {
		return cmp.Or(cmp.Compare(a.Joint, b.Joint), cmp.Compare(a.Procedure, b.Procedure))
	})
	return &h, err
}

// CoarseSaid says what coarsening could have done to estimates of the tally alone; "" of
// days as they are.
func (t *Tally) CoarseSaid() string { return t.header.CoarseSaid }

// extra are the dimensions of a tally beside the fixed and the further ones: fields
// grouped by that no series can state, and the age band of tables that have no ages.
func (h *header) extra() []string {
	var extra []string
	for _, f := range h.By {
		if !slices.Contains(fixed, f) && (f != column.AgeBand || h.AgesAs == "bands") {
			extra = append(extra, f)
		}
	}
	if h.AgesAs == "bands" && !slices.Contains(extra, column.AgeBand) {
		extra = append(extra, column.AgeBand)
	}
	return extra
}

// forget leaves of the tables' columns those that a tally tells of.
func (h *header) forget() {
	told := slices.Concat(h.dimensionNames(), []string{"age", column.AgeBand, "patient"})
	h.Has = slices.DeleteFunc(slices.Clone(h.Has), func(f string) bool { return !slices.Contains(told, f) })
}

// further are the columns beside those, within which an audit expects revisions of units
// such as surgeons; none if nothing is grouped by that may be one.
func (h *header) further() []string {
	if !slices.ContainsFunc(h.By, func(f string) bool { return !slices.Contains(fixed, f) && f != column.AgeBand }) {
		return nil
	}
	return slices.DeleteFunc(audit.Finer(), func(f string) bool { return slices.Contains(fixed, f) || slices.Contains(h.By, f) })
}

// mostMargins is how many fields may be grouped by for patients to be counted by every
// choice of them; of more only by each alone and by all.
const mostMargins = 6

// patientsOf counts the patients in each group that a tally can be asked for; nil if no
// table names them.
func patientsOf(c *cohort.Cohort, by []string, e cohort.Endpoint) ([]margin, error) {
	groups, err := c.Tally(slices.DeleteFunc(slices.Clone(by), func(f string) bool { return f == "joint" || f == "procedure" }), e)
	if err != nil {
		return nil, err
	}
	var margins []margin
	for _, fields := range choices(groups.Fields[2:]) {
		set, patients, err := groups.Margin(fields...)
		if err != nil {
			return nil, err
		}
		if patients == nil {
			return nil, nil
		}
		m := margin{Fields: slices.Concat([]string{"joint", "procedure"}, fields)}
		for _, key := range set.Keys() {
			g := group{Patients: patients[key]}
			for i, d := range set.Dimensions {
				if l := key.Level(i); l != tally.All {
					g.Words = append(g.Words, d.Levels[l])
				}
			}
			m.Groups = append(m.Groups, g)
		}
		margins = append(margins, m)
	}
	return margins, nil
}

// choices are the choices of fields by which patients are counted, each in the order of
// the fields.
func choices(fields []string) [][]string {
	var all [][]string
	if len(fields) <= mostMargins {
		for bits := range 1 << len(fields) {
			var choice []string
			for i, f := range fields {
				if bits&(1<<i) != 0 {
					choice = append(choice, f)
				}
			}
			all = append(all, choice)
		}
		return all
	}
	all = append(all, nil)
	for _, f := range fields {
		all = append(all, []string{f})
	}
	return append(all, fields)
}

func refused(format string, args ...any) error {
	return &cohort.OptionError{Err: fmt.Errorf(format, args...)}
}

// headerOf is what a cohort's tally says before what it can be asked for.
func headerOf(c *cohort.Cohort, e cohort.Endpoint) header {
	a, reasons := c.About(), slices.Sorted(slices.Values(e.Reasons))
	h := header{
		Holds: HoldsTally, Version: tallyVersion, Caution: Caution, Closing: a.Closing.Day.String(), DeathsEnd: a.Closing.DeathsEnd,
		Endpoint: cohort.Endpoint{Reasons: reasons}.String(), Reasons: reasons, LostAfter: a.LostAfter, DaysPerYear: cohort.DaysPerYear,
		Scope: conditions(a.Scope), Assumed: conditions(a.Assumed), Vocabulary: make(map[string][]string), Definitions: tallyDefinitions,
	}
	for _, b := range a.AgeBands[1:] {
		h.AgeBands = append(h.AgeBands, b.From)
	}
	for _, f := range ofWords {
		if order := column.Order(f); order != nil {
			h.Vocabulary[f] = order
		}
	}
	for _, f := range slices.Concat(c.Fields(), []string{"age", "patient"}) {
		if c.HasColumn(f) && !slices.Contains(h.Has, f) {
			h.Has = append(h.Has, f)
		}
	}
	slices.Sort(h.Has)
	h.Tables, h.Invented = len(a.Files), slices.ContainsFunc(a.Files, cohort.File.Invented)
	h.Account = accountOf(a.Account)
	h.Deaths = deaths{Column: a.Deaths.Column, Used: a.Deaths.Used, Expected: a.Deaths.Expected}
	h.DeathList = deathList{a.DeathList.Patients, a.DeathList.Joined, a.DeathList.Unusable, a.DeathList.Contradicting, ""}
	if to := a.DeathList.CompleteTo; to != nil {
		h.DeathList.CompleteTo = to.String()
	}
	h.Revisions = reasonsOf(a.Revisions)
	return h
}

// Reasons by their words, in the order of the reasons.
func reasonsOf(counts []cohort.ReasonCount) []reasonRows {
	all := []reasonRows{}
	for _, r := range counts {
		all = append(all, reasonRows{r.Reason.String(), r.Rows})
	}
	return all
}

var reasonByText = func() map[string]cohort.Reason {
	all := make(map[string]cohort.Reason)
	for r := row.Used; r < row.ReasonCount; r++ {
		all[r.String()] = r
	}
	return all
}()

func reasonCounts(counts []reasonRows) ([]cohort.ReasonCount, error) {
	var all []cohort.ReasonCount
	for _, c := range counts {
		r, known := reasonByText[c.Reason]
		if !known || c.Rows < 0 {
			return nil, fmt.Errorf("%w: %q is no reason that this program knows", ErrDamaged, c.Reason)
		}
		all = append(all, cohort.ReasonCount{Reason: r, Rows: c.Rows})
	}
	return all, nil
}

// levels are the values of a dimension, given those that occur, in the order in which
// groups are listed.
func (h *header) levels(name string, occur map[string]bool) []string {
	switch name {
	case cohort.AtomAge:
		var all []string
		for _, b := range cohort.AgeBands(h.Ages) {
			all = append(all, b.String())
		}
		return append(all, cohort.NotRecorded)
	case cohort.AtomReach:
		all := []string{"0"}
		for _, y := range h.Years {
			all = append(all, yearText(y))
		}
		return all
	}
	return slices.SortedFunc(maps.Keys(occur), func(a, b string) int { return column.Compare(name, a, b) })
}

func yearText(y float64) string { return strconv.FormatFloat(y, 'f', -1, 64) }
