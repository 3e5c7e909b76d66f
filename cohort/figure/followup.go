package figure

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/text"
)

// FollowUpOptions say what [FollowUp] draws. The zero value is the default.
type FollowUpOptions struct {
	// Joint and Procedure narrow the panels; empty means all.
	Joint, Procedure string

	Width vg.Length // 0 means DefaultWidth
}

// FollowUp draws what became of the joints operated on in each year by the
// closing date: how many were followed to it unrevised, were lost on the way,
// ended in death, were revised. The audit must be grouped by
// [audit.OperationYear], and the lost are told apart only where it counted them
// (audit.Options.WorstCase). There is a panel for each joint and procedure.
func FollowUp(a *audit.Audit, o FollowUpOptions) (*Figure, error) {
	if err := checkWidth(&o.Width); err != nil {
		return nil, err
	}
	if !slices.Contains(a.By, audit.OperationYear) {
		return nil, fmt.Errorf("figure: follow-up needs an audit by %s", audit.OperationYear)
	}
	parts, err := partsOf(a, o.Joint, o.Procedure)
	if err != nil {
		return nil, err
	}
	set := &panels{columns: columnsFor(o.Width, min(len(parts), 2))}
	g := &Figure{Title: "What became of the joints, by year of operation", Subtitle: "By " + closingWords(a) + ".", Day: dayOf(a),
		Notes: []string{fateNote(a)}, data: [][]string{{"joint", "procedure", "operation_year", "joints", "followed", "lost", "died", "revised"}}}
	var said []string
	joined := false
	for _, all := range parts {
		years := yearsFollowed(a, all)
		joined = joined || slices.ContainsFunc(years, func(y yearFollowed) bool { return y.years() > 1 })
		if len(years) == 0 {
			continue
		}
		set.all = append(set.all, followPanel(all, years))
		total := fates{}
		for _, y := range years {
			for i, n := range y.fates {
				total[i] += n
			}
			g.data = append(g.data, append([]string{text.Protect(all.Word("joint")), text.Protect(all.Word("procedure")), y.String(), counted(y.joints)}, y.fates.cells()...))
		}
		said = append(said, fmt.Sprintf("%s, operated on %d to %d: %s joints; followed %s, lost %s, died %s, revised %s.", titleOf(all), years[0].from, years[len(years)-1].to,
			counted(float64(all.Joints)), counted(total[0]), counted(total[1]), counted(total[2]), counted(total[3])))
	}
	if len(set.all) == 0 {
		return nil, fmt.Errorf("%w: no year of operation can be shown", ErrNothingToDraw)
	}
	if !a.Deaths.Recorded {
		g.Notes = append(g.Notes, "Deaths are not recorded: the unknown dead count as followed.")
	}
	if joined {
		g.Notes = append(g.Notes, "A wide bar stands for several years together: as high as they are on average.")
	}
	g.Notes = append(g.Notes, sharedNotes(a)...)
	g.Alternative = strings.Join(said, " ")
	return g.stacked(o.Width, set), nil
}

// fates are the numbers followed, lost, dead and revised.
type fates [4]float64

var fateLooks = [...]struct {
	name   string
	inside color.NRGBA
}{{"followed", rgb(0xE4E4E4)}, {"lost", rgb(0xFFFFFF)}, {"died", rgb(0xA6A6A6)}, {"revised", ownInk}}

func (f fates) cells() (cells []string) {
	for _, n := range f {
		cells = append(cells, counted(n))
	}
	return cells
}

func fateNote(a *audit.Audit) string {
	s := "From below: pale grey, neither revised nor dead, followed to the closing date (or assumed to be) or last seen not long before it; white, lost; grey, died; dark, revised."
	if !a.WorstCase {
		s = "From below: pale grey, neither revised nor dead, lost or not; grey, died; dark, revised."
	}
	return s
}

// yearFollowed is one year of operation, or several that were joined for sharing.
type yearFollowed struct {
	from, to int
	joints   float64
	fates    fates
}

func (y yearFollowed) years() float64 { return float64(y.to - y.from + 1) }

func (y yearFollowed) String() string {
	if y.from == y.to {
		return strconv.Itoa(y.from)
	}
	return fmt.Sprintf("%d-%d", y.from, y.to)
}

func yearsFollowed(a *audit.Audit, all *audit.Group) []yearFollowed {
	var years []yearFollowed
	for _, g := range a.Fields(all, audit.OperationYear) {
		from, to, ok := audit.OperationYears(g.Word(audit.OperationYear))
		if !ok {
			continue
		}
		lost, died, revised := float64(g.Lost), float64(g.Died), float64(g.Revised)
		y := yearFollowed{from: from, to: to, joints: float64(g.Joints)}
		y.fates = fates{max(0, y.joints-lost-died-revised), lost, died, revised}
		years = append(years, y)
	}
	slices.SortFunc(years, func(x, y yearFollowed) int { return x.from - y.from })
	return years
}

func followPanel(all *audit.Group, years []yearFollowed) *panel {
	most := 1.0
	for _, y := range years {
		most = max(most, y.joints/y.years())
	}
	q := &panel{name: titleOf(all), after: counted(float64(all.Joints)) + " joints", style: smallText, axes: axes{x: yearsOfOperation(years[0].from, years[len(years)-1].to), y: countScale(most, 5)},
		yTitle: "joints", area: 90}
	q.xTitle, q.leads = "year", true
	q.y.ticks = slices.DeleteFunc(q.y.ticks, func(t tick) bool { return t.at != math.Trunc(t.at) })
	find := func(t tick) *yearFollowed {
		in := func(y yearFollowed) bool { return float64(y.from) <= t.at && t.at <= float64(y.to) }
		i := slices.IndexFunc(years, in)
		// Under the first of its years that has a tick.
		if i < 0 || slices.ContainsFunc(q.x.ticks, func(o tick) bool { return o.at < t.at && float64(years[i].from) <= o.at }) {
			return nil
		}
		return &years[i]
	}
	for i, look := range fateLooks {
		if i == 1 && all.Lost == 0 {
			continue
		}
		q.counts = append(q.counts, counts{look.name, func(t tick) string {
			if y := find(t); y != nil {
				return counted(y.fates[i])
			}
			return ""
		}})
	}
	q.draw = func(p *pen, a axes) {
		p.named("bars", func() {
			for _, y := range years {
				at := 0.0
				for i, n := range y.fates {
					if !(n > 0) {
						continue
					}
					x0, x1 := a.atX(float64(y.from)-.38), a.atX(float64(y.to)+.38)
					n /= y.years()
					corners := []vg.Point{a.at(0, at), a.at(0, at), a.at(0, at+n), a.at(0, at+n)}
					corners[0].X, corners[1].X, corners[2].X, corners[3].X = x0, x1, x1, x0
					p.area(fateLooks[i].inside, stroke{ink: grey, width: .5}, p.raised(corners))
					at += n
				}
			}
		})
	}
	return q
}
