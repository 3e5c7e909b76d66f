package audit

import (
	"bytes"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/column"
)

// Suppressed is a count that is hidden. A hidden number that is no count is
// NaN.
const Suppressed = math.MinInt64

// Hidden is how a hidden number is written.
const Hidden = "*"

// NoteHidden is the note code of a row of which numbers are hidden.
const NoteHidden = "hidden for sharing"

// Sharing says what was done to an audit to make it safe to leave the building,
// and what that cost. Numbers are counted as often as they stand in the audit.
type Sharing struct {
	Small     int // counts hidden because they are 1 to 7
	Further   int // counts hidden so that those cannot be worked out
	Rounded   int // counts rounded to the nearest 5
	Estimates int // estimates hidden because a count behind them is
	Kept      int // estimates kept, to a step worth five joints
	Rows      int // rows left out: of fractional years, or of years that not every group has
	Groups    int // groups left out: those of all fields at once

	ClosingYear int  // calendar year of the closing date
	WorstCase   bool // worst-case estimates were asked for, and are left out
}

// Share makes an audit safe to leave the building, by the rules in the package
// documentation. The audit given is not changed. Its rows should be of every
// whole year, since curves have no other points afterwards. Sharing an audit
// that was shared already is an error.
func Share(a *Audit) (*Audit, error) { return share(a, true) }

// share is Share; without further, only counts of 1 to 7 are hidden, which the
// others then give away.
func share(a *Audit, further bool) (*Audit, error) {
	if a.Shared != nil {
		return nil, fmt.Errorf("audit: shared already")
	}
	if len(a.Department) > 0 {
		return nil, errors.New("units beside their own department give small counts away: they can't be made safe to share")
	}
	r := &sharer{from: a, further: further, sharing: &Sharing{ClosingYear: a.Closing.Day.Year(), WorstCase: a.WorstCase},
		words: make(map[string][]string), series: make(map[*benchmark.Series]*benchmark.Series)}
	r.number()
	to := &Audit{
		Shared: r.sharing,
		// The first of January stands for the year.
		Closing: cohort.Closing{Day: firstOf(a.Closing.Day), Asked: true, DeathsEnd: a.Closing.DeathsEnd},
		Deaths:  cohort.Deaths{Recorded: a.Deaths.Recorded, Column: a.Deaths.Column},

		LostAfter: a.LostAfter, By: slices.Clone(a.By), DroppedBy: slices.Clone(a.DroppedBy), Interval: a.Interval,
		Years: slices.DeleteFunc(slices.Clone(a.Years), func(y float64) bool { return y != math.Trunc(y) }),
		Scope: r.conditions(a.Scope), Assumed: r.conditions(a.Assumed), Cautions: shareCautions(a),
	}
	for _, reason := range a.Endpoint.Reasons {
		to.Endpoint.Reasons = append(to.Endpoint.Reasons, r.word("revision_reason", reason))
	}
	for i, f := range a.Files {
		to.Files = append(to.Files, cohort.File{Name: "table " + strconv.Itoa(i+1), Holds: f.Holds, Rows: hiddenInt})
	}
	used := &sheet{} // joints of each joint and procedure
	var total int64
	for start := 0; start < len(a.Groups); {
		end := start + 1
		for end < len(a.Groups) && sameProcedure(&a.Groups[start], &a.Groups[end]) {
			end++
		}
		p := r.part(a.Groups[start:end])
		to.Groups = append(to.Groups, p.groups...)
		if s := p.atRisk; s != nil {
			t := len(s.value[0]) - 1
			total += s.value[0][t]
			used.value = append(used.value, s.value[0][t:])
			used.hidden = append(used.hidden, s.hidden[0][t:])
			used.small = append(used.small, s.small[0][t:])
			used.settled, used.most = append(used.settled, 0), append(used.most, math.MaxInt64)
		}
		start = end
	}
	to.Account = r.account(used, total)
	// Totals over joints and procedures of what is hidden in some of them: the
	// revisions recorded apart are left out altogether.
	if a.Deaths.Used > 0 {
		to.Deaths.Used = hiddenInt
	}
	counted := make(map[int]bool)
	for _, g := range to.Groups {
		for _, row := range g.Rows {
			for _, b := range row.Beside {
				// Groups of the same joints have the same figures.
				if !slices.ContainsFunc(to.Beside, func(o *Beside) bool {
					return o.ReadWith == b.ReadWith && o.Series == b.Series
				}) {
					to.Beside = append(to.Beside, b)
				}
				if c := b.Comparison; !counted[b.ReadWith] && b.Together.Sides > 0 && c.Own.Estimate == c.Own.Estimate {
					counted[b.ReadWith] = true
					to.Readings++
					to.ByChance += b.Together.ByChance
				}
			}
		}
	}
	to.Notes, to.Method = shareNotes(to), shareMethod(to)
	return to, nil
}

// sharer is the state of one Share.
type sharer struct {
	from    *Audit
	further bool
	sharing *Sharing
	words   map[string][]string // by field, the words that stand as pseudonyms
	series  map[*benchmark.Series]*benchmark.Series
}

// hiddenInt is Suppressed as an int.
var hiddenInt = func() int { n := int64(Suppressed); return int(n) }()

func firstOf(d cohort.Day) cohort.Day {
	first, err := cohort.ParseDay(fmt.Sprintf("%04d-01-01", d.Year()))
	if err != nil {
		return 0
	}
	return first
}

func sameProcedure(a, b *Group) bool {
	return a.Values[0] == b.Values[0] && a.Values[1] == b.Values[1]
}

// number numbers the words as typed of each field. Their order is neither that of
// the alphabet nor of the table, from which somebody with a list of the names
// could tell whose number is which: it is made with a key from all exact
// numbers of the audit, and so the same for the same audit, and not to be made
// again by whoever has not the table.
func (r *sharer) number() {
	h := sha256.New()
	put := func(numbers ...float64) {
		for _, x := range numbers {
			binary.Write(h, binary.LittleEndian, x)
		}
	}
	for i := range r.from.Groups {
		g := &r.from.Groups[i]
		for _, v := range g.Values {
			fmt.Fprintf(h, "%q %v\n", v.Word, v.All)
		}
		put(float64(g.Joints), float64(g.Revised), float64(g.Died), g.ImplantYears)
		if t := g.Table; t != nil {
			put(t.Time...)
			put(t.AtRisk...)
			for _, e := range t.Event {
				put(e...)
			}
		}
	}
	key := h.Sum(nil)
	place := func(field, word string) []byte {
		m := hmac.New(sha256.New, key)
		fmt.Fprintf(m, "%q %q", field, word)
		return m.Sum(nil)
	}
	for i := range r.from.Groups {
		for _, v := range r.from.Groups[i].Values {
			if !v.All && !kept(v.Field, v.Word) && !slices.Contains(r.words[v.Field], v.Word) {
				r.words[v.Field] = append(r.words[v.Field], v.Word)
			}
		}
	}
	for field, all := range r.words {
		slices.SortFunc(all, func(a, b string) int { return bytes.Compare(place(field, a), place(field, b)) })
	}
}

// kept says whether a field's value is shared as it is: canonical words, years
// and bands of age.
func kept(field, value string) bool {
	return value == cohort.NotRecorded || field == OperationYear || field == "age_band" || column.Canonical(field, value)
}

// word is how a field's value is shared. Words as typed, names among them, are
// numbered.
func (r *sharer) word(field, value string) string {
	known := column.Order(field)
	if kept(field, value) {
		return value
	}
	i := slices.Index(r.words[field], value)
	if i < 0 {
		i = len(r.words[field])
		r.words[field] = append(r.words[field], value)
	}
	name := column.Title(field)
	if known != nil {
		name = "other " + name
	}
	return name + " " + strconv.Itoa(i+1)
}

func (r *sharer) conditions(from []cohort.Condition) []cohort.Condition {
	var to []cohort.Condition
	for _, c := range from {
		to = append(to, cohort.Condition{Column: c.Column, Value: r.word(c.Column, c.Value)})
	}
	return to
}

// published is a copy of a series without where and when its values were seen.
func (r *sharer) published(s *benchmark.Series) *benchmark.Series {
	if s == nil {
		return nil
	}
	c, ok := r.series[s]
	if !ok {
		c = &benchmark.Series{Source: s.Source, Joint: s.Joint, Procedure: s.Procedure, Bearing: s.Bearing, Polyethylene: s.Polyethylene,
			Fixation: s.Fixation, Sex: s.Sex, Diagnosis: s.Diagnosis, Age: s.Age, Estimand: s.Estimand,
			Setting: s.Setting, Country: s.Country, Register: s.Register, Subset: s.Subset,
			PeriodFrom: s.PeriodFrom, PeriodTo: s.PeriodTo, Citation: s.Citation, User: s.User}
		for _, f := range s.Figures {
			c.Figures = append(c.Figures, figureShared(f))
		}
		r.series[s] = c
	}
	return c
}

func figureShared(f benchmark.Figure) benchmark.Figure {
	f.SeenAt, f.SeenOn = "", ""
	return f
}

// count is a sheet's count as it is shared, and counted in Sharing.
func (r *sharer) count(s *sheet, g, t int) int64 {
	switch {
	case s.small[g][t]:
		r.sharing.Small++
	case s.hidden[g][t]:
		r.sharing.Further++
	case s.value[g][t] > 0:
		r.sharing.Rounded++
	}
	return s.shown(g, t)
}

// alone is a count of rows that adds up with no other.
func (r *sharer) alone(n int) int {
	s := newSheet([][]int64{{int64(n)}}, nil)
	s.hide(false)
	return int(r.count(s, 0, 0))
}

// ShareCounts makes one column of a table safe to share: counts that add up to
// a total which is shown too. Counts of 1 to 7 are [Suppressed], and of the
// others the smallest, until none can be worked out from the total; what remains
// is rounded to the nearest 5. A total of 1 to 7 is hidden with its counts.
// Columns or rows of one table that have both kinds of total are more than this
// protects: leave one of them out.
func ShareCounts(counts []int64) (shared []int64, total int64) {
	s := lineOf(counts)
	s.hide(true)
	for g := range counts {
		shared = append(shared, s.shown(g+1, 0))
	}
	return shared, s.shown(0, 0)
}

// lineOf is the sheet of counts and their total.
func lineOf(counts []int64) *sheet {
	value, groups := [][]int64{{0}}, []int(nil)
	for i, n := range counts {
		value[0][0] += n
		value = append(value, []int64{n})
		groups = append(groups, i+1)
	}
	return newSheet(value, [][]int{groups})
}

// Count writes a count: Suppressed as [Hidden].
func Count(n int64) string {
	if n == Suppressed {
		return Hidden
	}
	return strconv.FormatInt(n, 10)
}

// account is the account of the rows. used are the joints of each joint and
// procedure, as they were shared; rows used are their total.
func (r *sharer) account(used *sheet, total int64) cohort.Account {
	a := r.from.Account
	out := cohort.Account{Used: hiddenInt, Read: hiddenInt, InFiles: hiddenInt, Lost: r.alone(a.Lost)}

	// The parts are hidden or not already: if the total gives one away it is the
	// total that is hidden.
	line := &sheet{value: append([][]int64{{total}}, used.value...), settled: append([]int{0}, used.settled...),
		most:   append([]int64{math.MaxInt64}, used.most...),
		hidden: append([][]bool{{small(total)}}, used.hidden...), small: append([][]bool{{small(total)}}, used.small...)}
	var groups []int
	for i := range used.value {
		groups = append(groups, i+1)
	}
	line.fields = [][]int{groups}
	if _, _, _, fault := line.fault(); fault && r.further {
		line.hidden[0][0] = true
	}
	out.Used = int(r.count(line, 0, 0))

	var reasons []int64
	for _, c := range a.Reasons {
		reasons = append(reasons, int64(c.Rows))
	}
	aside := lineOf(reasons)
	aside.hide(r.further)
	out.SetAside = int(r.count(aside, 0, 0))
	anyHidden := aside.hidden[0][0]
	for i, c := range a.Reasons {
		// A hidden reason is not named: how many are hidden would give them away
		// where each is at least 1.
		if n := int(r.count(aside, i+1, 0)); n != hiddenInt {
			out.Reasons = append(out.Reasons, cohort.ReasonCount{Reason: c.Reason, Rows: n})
		}
		anyHidden = anyHidden || aside.hidden[i+1][0]
	}
	// Read = used + set aside; in files = read + out of scope.
	if !line.hidden[0][0] && !aside.hidden[0][0] {
		out.Read = r.alone(a.Read)
		if !small(int64(a.InFiles - a.Read)) {
			out.InFiles = r.alone(a.InFiles)
		}
	}
	// These are parts of the rows set aside, or lie across them.
	part := func(n int) int {
		if n > 0 && anyHidden {
			return hiddenInt
		}
		return r.alone(n)
	}
	out.RevisedUndated, out.RepeatsElsewhere, out.PossibleRevisions = part(a.RevisedUndated), part(a.RepeatsElsewhere), part(a.PossibleRevisions)
	for _, c := range a.Warnings {
		if n := r.alone(c.Rows); c.Reason != cohort.LostToFollowUp && n != hiddenInt { // said by Lost
			out.Warnings = append(out.Warnings, cohort.ReasonCount{Reason: c.Reason, Rows: n})
		}
	}
	return out
}
