package audit

import (
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// Row is a group at one time.
type Row struct {
	Years     float64
	Requested bool // asked for; otherwise there because a published figure is
	Reached   bool // somebody was followed that long
	Shown     Shown

	KaplanMeier survival.Point
	Incidence   survival.Point
	WorstCase   *survival.Point // Kaplan–Meier, every joint lost revised when last seen; nil unless asked for
	Known       *survival.Point // the same, the assumed censored on the day of the operation; nil if there are none, or not reached
	// IncidenceEmpty says that there is no incidence: not reached, or deaths
	// are not recorded.
	IncidenceEmpty bool

	// Beside are the published figures at this time whose own joints are exactly
	// the group's.
	Beside     []*Beside
	Thresholds []*benchmark.Comparison // with thresholds

	Notes []string // codes, see the package documentation
}

// mostRows is how many rows an audit keeps. Where there are more, those of a group with nothing
// published beside it are made when they are asked for, of its counts, which take up less.
const mostRows = 1 << 16

// Rows are the group at each time, in order. They are not to be changed.
func (g *Group) Rows() []Row {
	if g.Kept != nil || g.of == nil {
		return g.Kept
	}
	if last := g.of.last.Load(); last != nil && last.counts == g.Counts {
		return last.rows
	}
	rows := g.rowsIn(nil)
	g.of.last.Store(&rowsOf{g.Counts, rows})
	return rows
}

// rowsIn are the same, in some room if they are made.
func (g *Group) rowsIn(room []Row) []Row {
	if g.Kept != nil || g.of == nil {
		return g.Kept
	}
	rows, err := g.of.rows(g, room, nil, nil)
	if err != nil {
		panic(err) // those of all joints were made the same way
	}
	return rows
}

// rowsOf are the rows of the group with some counts.
type rowsOf struct {
	counts *tally.Counts
	rows   []Row
}

// rows makes those of a group, in some room if it is enough.
func (r *run) rows(g *Group, room []Row, beside []*Beside, thresholds []*benchmark.Series) ([]Row, error) {
	in, _ := r.rooms.Get().(*survival.Room)
	if in == nil {
		in = new(survival.Room)
	}
	defer r.rooms.Put(in)
	in.Clear()
	of, err := g.curves(in, r.options.Interval)
	if err != nil {
		return nil, err
	}
	years := r.years(beside, thresholds)
	rows := slices.Grow(room[:0], len(years))[:len(years)]
	clear(rows)
	for i, y := range years {
		if err := r.row(&rows[i], of, beside, thresholds, y); err != nil {
			return nil, err
		}
	}
	return rows, nil
}

// years are those asked for and those of the figures beside a group.
func (r *run) years(beside []*Beside, thresholds []*benchmark.Series) []float64 {
	years := slices.Clone(r.audit.Years)
	for _, b := range beside {
		if b.Match == Like {
			years = append(years, b.Figure.Years)
		}
	}
	for _, s := range thresholds {
		for _, f := range s.Figures {
			years = append(years, f.Years)
		}
	}
	slices.Sort(years)
	return slices.Compact(years)
}

// curves are what a group's rows are read from.
type curves struct {
	km                     *survival.Curve
	read, incidence, worst *survival.Reader // km, and others; nil where there are none
}

// curves are those of a group, in a room.
func (g *Group) curves(room *survival.Room, iv survival.Interval) (of curves, err error) {
	var incidence *survival.Curve
	if of.km, incidence, err = survival.Both(room, g.Counts.TableIn(room), cohort.CauseRevision); err != nil {
		return of, err
	}
	of.read = of.km.Reader(iv)
	if g.deaths {
		of.incidence = incidence.Reader(iv)
	}
	if g.worst != nil {
		worst, err := survival.KaplanMeier(g.worst.Table(), cohort.CauseRevision)
		if err != nil {
			return of, err
		}
		of.worst = worst.Reader(iv)
	}
	return of, nil
}

// row fills in the row of a time.
func (r *run) row(row *Row, of curves, beside []*Beside, thresholds []*benchmark.Series, years float64) error {
	row.Years, row.Requested, row.IncidenceEmpty = years, slices.Contains(r.audit.Years, years), true
	x := cohort.DayOfYear(years)
	row.KaplanMeier, row.Reached = of.read.At(x)
	if row.Reached {
		row.Notes = (row.KaplanMeier.Notes &^ survival.OtherMethod).Codes()
	} else {
		row.note(NoteBeyond)
	}
	if of.worst != nil {
		p, _ := of.worst.At(x)
		row.WorstCase = &p
	}
	if of.incidence != nil {
		row.Incidence, row.Reached = of.incidence.At(x)
		row.IncidenceEmpty = !row.Reached
	} else {
		row.note(NoteNoDeaths)
	}
	row.Show(r.audit.Floor())
	for _, b := range beside {
		if b.Figure.Years != years || b.Comparison == nil {
			continue
		}
		row.Beside = append(row.Beside, b)
		if b.Read() {
			row.note(b.Comparison.Notes.Codes()...)
		}
	}
	for _, s := range thresholds {
		f, ok := s.At(years)
		if !ok {
			continue
		}
		c, err := benchmark.CompareThreshold(of.km, s, f, r.options.Interval, x)
		if err != nil {
			return err
		}
		row.Thresholds = append(row.Thresholds, &c)
	}
	return nil
}

// Read are the figures of an estimand that are read at a row, with their
// reading; nil if there is none.
func (row *Row) Read(e benchmark.Measure) (figures []*Beside, together *benchmark.Together) {
	for _, b := range row.Beside {
		if b.Read() && b.Series.Estimand == e {
			figures, together = append(figures, b), b.Together
		}
	}
	return figures, together
}

// note adds codes that are not there yet. A missing own value is said once.
func (row *Row) note(codes ...string) {
	for _, code := range codes {
		if code == noteNoOwn && slices.Contains(row.Notes, NoteBeyond) || slices.Contains(row.Notes, code) {
			continue
		}
		row.Notes = append(row.Notes, code)
	}
}

// assumed sets beside all joints of a joint and procedure what is left if those
// whose follow-up is assumed were not followed at all.
func (r *run) assumed(g *Group, known *tally.Counts) error {
	g.Assumed = known.On(0, 0) - g.Counts.On(0, 0)
	if g.Assumed == 0 {
		return nil
	}
	curve, err := survival.KaplanMeier(known.Table(), cohort.CauseRevision)
	if err != nil {
		return err
	}
	for i := range g.Kept {
		if row := &g.Kept[i]; row.Reached {
			p, _ := curve.At(cohort.DayOfYear(row.Years), r.options.Interval)
			row.Known = &p
		}
	}
	return nil
}
