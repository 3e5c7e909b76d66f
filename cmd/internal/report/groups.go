package report

import (
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// part is the groups of one joint and procedure.
type part struct {
	title  string
	all    *audit.Group
	fields []margin
	cells  []*audit.Group
	fewest int64 // joints below which a cell is not shown by itself
}

// margin is the groups of one field, the others pooled.
type margin struct {
	field  string
	groups []*audit.Group
}

// fewestJoints is the number of joints below which nothing is read of a group:
// it is that of fewestAtRisk.
const fewestJoints = fewestAtRisk

// fewestAtRisk is the number at risk below which revised/joints stands in an
// estimate's place.
const fewestAtRisk = 10

// divide sorts an audit's groups by joint and procedure.
func divide(a *audit.Audit) []*part {
	var parts []*part
	for i := range a.Groups {
		g := &a.Groups[i]
		if g.Pooling == audit.AllJoints || len(parts) == 0 {
			parts = append(parts, &part{title: capital(g.Values[0].Word) + ", " + g.Values[1].Word, fewest: a.FewestInCell()})
		}
		p := parts[len(parts)-1]
		switch g.Pooling {
		case audit.AllJoints:
			p.all = g
		case audit.OneField:
			f := g.Field()
			if n := len(p.fields); n == 0 || p.fields[n-1].field != f {
				p.fields = append(p.fields, margin{field: f})
			}
			m := &p.fields[len(p.fields)-1]
			m.groups = append(m.groups, g)
		default:
			p.cells = append(p.cells, g)
		}
	}
	return parts
}

// groups are those of a part that comparisons are listed of: all joints, those
// of each field, and the cells; one that has the same joints as a group before
// it, beside the same figures, is left out.
func (p *part) groups() []*audit.Group {
	groups := []*audit.Group{p.all}
	add := func(g *audit.Group) {
		if !slices.ContainsFunc(groups, func(other *audit.Group) bool { return repeats(g, other) }) {
			groups = append(groups, g)
		}
	}
	for _, m := range p.fields {
		for _, g := range m.groups {
			add(g)
		}
	}
	for _, g := range p.cells {
		add(g)
	}
	return groups
}

// repeats says whether a group lies within another that has no more joints, and
// is set beside the same figures.
func repeats(g, other *audit.Group) bool {
	if g.Joints != other.Joints {
		return false
	}
	for i, v := range other.Values {
		if !v.All && v.Word != g.Values[i].Word {
			return false
		}
	}
	return slices.EqualFunc(g.Rows(), other.Rows(), func(r, o audit.Row) bool {
		return r.Years == o.Years && slices.Equal(r.Beside, o.Beside) && len(r.Thresholds) == len(o.Thresholds)
	})
}

// shown are the cells shown by themselves.
func (p *part) shown() (cells []*audit.Group, joints, revised int64) {
	for _, g := range p.cells {
		if g.Joints >= p.fewest {
			cells = append(cells, g)
		} else {
			joints += g.Joints
			revised += g.Revised
		}
	}
	return cells, joints, revised
}

// label is a field's name in words.
func label(field string) string { return cohort.Title(field) }

// name is a group's name under its joint and procedure.
func name(g *audit.Group) string {
	switch g.Pooling {
	case audit.AllJoints:
		return "All joints"
	case audit.OneField:
		f := g.Field()
		if startsWithField(f, g.Word(f)) {
			return capital(g.Word(f))
		}
		return capital(label(f)) + ": " + document.Word(g.Word(f))
	}
	return cellName(g.Values[2:])
}

// startsWithField says that a word names its field, as "surgeon 2" of an audit made for sharing.
func startsWithField(field, word string) bool { return strings.HasPrefix(word, label(field)+" ") }

// cellName names values one after another; one that is not recorded with its
// field.
func cellName(values []audit.Value) string {
	var words []string
	for _, v := range values {
		word := document.Word(v.Word)
		if word == cohort.NotRecorded || v.Field != "age_band" && v.Field != audit.OperationYear && strings.ContainsAny(word[:min(1, len(word))], "<0123456789") {
			word = label(v.Field) + " " + word
		}
		words = append(words, word)
	}
	return strings.Join(words, ", ")
}

// summary says what a group's whole follow-up was.
func summary(a *audit.Audit, g *audit.Group) string {
	s := few(g.Joints, "joint", "joints")
	if g.Patients >= 0 {
		s += " in " + few(g.Patients, "patient", "patients")
	}
	s += "; " + count(g.Revised) + " revised"
	if g.Other > 0 {
		s += ", " + count(g.Other) + " revised for another reason or one not recorded"
	}
	if a.Deaths.Recorded {
		s += ", " + count(g.Died) + " died"
	}
	s += "; " + implantYears(g) + " implant-years"
	if r := rate(g); r != "" {
		s += "; " + r + " revisions per 100 implant-years"
	}
	return s
}

func implantYears(g *audit.Group) string {
	if g.ImplantYears < 100 {
		return decimals(g.ImplantYears, 1)
	}
	return decimals(g.ImplantYears, 0)
}

func rate(g *audit.Group) string {
	r := decimals(g.Rate.Rate, 2)
	if r == "" {
		return ""
	}
	return r + limits(decimals(g.Rate.Lower, 2), decimals(g.Rate.Upper, 2))
}
