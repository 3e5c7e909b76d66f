package report

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// mostParts is how many joints and procedures stand beside one another.
const mostParts = 5

// mostWordsInMix is how many values of one field are listed by themselves.
const mostWordsInMix = 12

// caseMix says who the patients were and what was done, by joint and procedure.
func (p *page) caseMix(m *gather.Material, parts []*part) {
	if len(m.Mix)+len(m.Unmixed) == 0 {
		return
	}
	p.heading(1, "Case mix")
	p.paragraph("Joints, and in brackets their percentage of the joint and procedure.")
	for _, columns := range chunks(parts, mostParts) {
		t := &table{Columns: []column{{Wraps: true, Title: "Of", Least: 16}}}
		for _, part := range columns {
			t.Columns = append(t.Columns, column{Title: part.title, Align: decimal})
		}
		cells := []string{"All"}
		for _, part := range columns {
			cells = append(cells, count(part.all.Joints))
		}
		t.Add(cells...)
		for _, a := range m.Mix {
			t.Section(capital(label(a.By[0])))
			valuesOf(t, a, columns)
		}
		p.table(t, nil)
	}
	var out []string
	for _, f := range m.Unmixed {
		out = append(out, label(f))
	}
	if len(out) > 0 {
		p.paragraph("Left out, for the many different values: " + strings.Join(out, ", ") + ".")
	}
	if m.Trend != nil {
		p.trend(m.Trend, parts)
	}
}

// valuesOf adds the values of one field, in the audit's order.
func valuesOf(t *document.Table, a *audit.Audit, columns []*part) {
	var words []string
	joints := make(map[string]map[string]int64)
	for i := range a.Groups {
		g := &a.Groups[i]
		if g.Pooling != audit.OneField {
			continue
		}
		w := g.Word(a.By[0])
		if joints[w] == nil {
			joints[w] = make(map[string]int64)
			words = append(words, w)
		}
		joints[w][titleOf(g)] = g.Joints
	}
	// Joints and procedures follow one another, each with its values in order;
	// what only a later one has comes after what all have, not recorded last.
	slices.SortStableFunc(words, func(x, y string) int { return last(x) - last(y) })
	rest := make([]int64, len(columns))
	others := 0
	for n, w := range words {
		cells := []string{w}
		any := false
		for i, part := range columns {
			k, has := joints[w][part.title]
			any = any || has
			if n >= mostWordsInMix && w != cohort.NotRecorded {
				if has && k > 0 {
					rest[i] += k
				}
				continue
			}
			cells = append(cells, ofAll(k, part.all.Joints))
		}
		switch {
		case !any:
		case n >= mostWordsInMix && w != cohort.NotRecorded:
			others++
		default:
			t.Add(cells...)
		}
	}
	if others > 0 {
		cells := []string{few(others, "other value", "other values")}
		for i, part := range columns {
			cells = append(cells, ofAll(rest[i], part.all.Joints))
		}
		t.Add(cells...)
	}
}

func last(word string) int {
	if word == cohort.NotRecorded {
		return 1
	}
	return 0
}

// titleOf is the title of the joint and procedure that a group is of.
func titleOf(g *audit.Group) string { return capital(g.Values[0].Word) + ", " + g.Values[1].Word }

// ofAll is a number of joints with its percentage.
func ofAll(n, all int64) string {
	switch {
	case all <= 0:
		return count(n)
	case n == 0:
		return "0"
	}
	return fmt.Sprintf("%s (%s)", count(n), decimals(100*float64(n)/float64(all), 0))
}

// chunks cuts a list into pieces of at most n.
func chunks[T any](all []T, n int) [][]T {
	var out [][]T
	for piece := range slices.Chunk(all, n) {
		out = append(out, piece)
	}
	return out
}

// mostPeriods is how many periods of operation stand beside one another.
const mostPeriods = 7

// trend says how many joints of each bearing and fixation were done when.
func (p *page) trend(a *audit.Audit, parts []*part) {
	fields := a.By[:len(a.By)-1]
	var names []string
	for _, f := range fields {
		names = append(names, label(f))
	}
	var years []int
	for i := range a.Groups {
		if g := &a.Groups[i]; g.Pooling == audit.Cell {
			if y, err := strconv.Atoi(g.Word(audit.OperationYear)); err == nil && !slices.Contains(years, y) {
				years = append(years, y)
			}
		}
	}
	if len(years) == 0 {
		return
	}
	first, end := slices.Min(years), slices.Max(years)
	span := (end - first + mostPeriods) / mostPeriods
	t := &table{Columns: []column{{Title: capital(list(names)), Wraps: true, Least: 16}}}
	periods := 0
	for y := first; y <= end; y += span {
		title := strconv.Itoa(y)
		if until := min(y+span-1, end); until > y {
			title += fmt.Sprintf("–%02d", until%100)
		}
		t.Columns = append(t.Columns, column{Title: title, Align: document.Right})
		periods++
	}
	for _, part := range parts {
		if part.all.Joints < fewestOnPaper {
			continue
		}
		var order []string
		joints := make(map[string][]int64)
		for i := range a.Groups {
			g := &a.Groups[i]
			if g.Pooling != audit.Cell || titleOf(g) != part.title {
				continue
			}
			y, err := strconv.Atoi(g.Word(audit.OperationYear))
			if err != nil {
				continue
			}
			called := cellName(g.Values[2 : len(g.Values)-1])
			if joints[called] == nil {
				joints[called] = make([]int64, periods)
				order = append(order, called)
			}
			joints[called][(y-first)/span] += g.Joints
		}
		t.Section(part.title)
		rest, others := make([]int64, periods), 0
		for _, called := range order {
			total := int64(0)
			for _, n := range joints[called] {
				total += n
			}
			if total < fewestJoints && len(order) > mostWordsInMix {
				for i, n := range joints[called] {
					rest[i] += n
				}
				others++
				continue
			}
			t.Add(append([]string{called}, counts(joints[called])...)...)
		}
		if others > 0 {
			t.Add(append([]string{few(others, "further combination", "further combinations")}, counts(rest)...)...)
		}
	}
	if t.Empty() {
		return
	}
	p.heading(2, capital(list(names))+" by year of operation")
	p.table(t, nil)
}

func counts(all []int64) []string {
	var out []string
	for _, n := range all {
		s := count(n)
		if n == 0 {
			s = "·"
		}
		out = append(out, s)
	}
	return out
}
