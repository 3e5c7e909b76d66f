package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort/benchmark"
)

// published writes figures by joint and procedure, then their sources.
func (p *page) published(series []*benchmark.Series) {
	refs := newReferences()
	figures := 0
	keys := [][2]string{}
	tables := make(map[[2]string]*table)
	sorted := slices.Clone(series)
	slices.SortStableFunc(sorted, func(a, b *benchmark.Series) int {
		return cmp.Or(cmp.Compare(a.Joint, b.Joint))
	})
	notes := make(map[[2]string]*footnotes)
	for _, s := range sorted {
		key := [2]string{s.Joint, s.Procedure}
		t := tables[key]
		if t == nil {
			keys = append(keys, key)
			t = &table{Columns: []column{
				{Title: "Of", Wraps: true}, {Title: "Years", Align: decimal}, {Title: "Revised, %", Align: decimal},
				{Title: "Joints", Align: right}, {Title: "Estimates"}, {Title: "Source"}, {},
			}}
			tables[key], notes[key] = t, newFootnotes()
		}
		for i, f := range s.Figures {
			figures++
			repeats := min(i, 1)
			joints, note := "", ""
			if f.Joints > 0 {
				joints = count(f.Joints)
			}
			if f.Notes&benchmark.LimitsRounded != 0 {
				note = notes[key].letter("limits printed rounded to the figure itself, and left out")
			}
			if l := f.Level; l != 0 && l != 0.95 && f.HasLimits() {
				note = join(note, notes[key].letter(fmt.Sprintf("limits of %s %%", percent(l))))
			}
			t.Rows = append(t.Rows, row{Cells: []string{among(s), years(f.Years), percentWith(f.Revision, f.Lower, f.Upper, ""), joints, s.Estimand.String(), refs.mark(s, f), note}, Repeats: repeats})
		}
	}
	p.heading(1, "Published figures")
	p.paragraph(fmt.Sprintf("%s from %s: cumulative revision by years since operation, with 95 %% limits in brackets where they were published.",
		few(figures, "figure", "figures"), few(len(refs.sources), "source", "sources")),
		"1-KM meets an own Kaplan–Meier estimate and a cumulative incidence an own cumulative incidence; a threshold is compared apart; a pooled estimate is listed and compared with nothing. A bearing, fixation, age or sex that is not named is pooled.")
	for _, key := range keys {
		joint, procedure := key[0], key[1]
		if joint == "" {
			joint = "all joints"
		}
		if procedure == "" {
			procedure = "all procedures"
		}
		p.heading(2, capital(strings.ReplaceAll(joint, "|", " or "))+", "+strings.ReplaceAll(procedure, "|", " or "))
		p.table(tables[key], notes[key])
	}
	p.heading(2, "Sources")
	p.references(refs)
}

// among is what a series states within its joint and procedure.
func among(s *benchmark.Series) string {
	var words []string
	add := func(word string) {
		if word != "" {
			words = append(words, strings.ReplaceAll(word, "|", " or "))
		}
	}
	add(s.Bearing)
	if s.Polyethylene != "" {
		add(s.Polyethylene + " polyethylene")
	}
	add(s.Fixation)
	if age := s.Age.String(); age != "" {
		add("age " + age)
	}
	add(s.Sex)
	add(s.Diagnosis)
	add(s.Subset)
	if len(words) == 0 {
		return "all"
	}
	return strings.Join(words, ", ")
}
