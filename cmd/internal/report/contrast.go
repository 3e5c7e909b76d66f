package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/contrast"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/regress"
)

// Contrast is a contrast to be read: for each joint and procedure what the groups
// had and would have had if alike, their differences, adjusted ratios, and who the
// patients were; then cautions and method.
func Contrast(k *contrast.Contrast) *document.Document {
	p := new(page)
	p.inventedJoints(k.Files)
	c := k.Account
	p.paragraph(fmt.Sprintf("Rows read: %s; used: %s; set aside: %s. Closing date %s. %s.", count(c.Read), count(c.Used), count(c.SetAside), k.Closing.Day, capital(k.Endpoint.String())))
	if !k.Deaths.Recorded {
		p.paragraph("Deaths are not recorded: the unknown dead stay at risk, so cumulative revision comes out too low, and there is no cumulative incidence.")
	}
	for i := range k.Parts {
		part := &k.Parts[i]
		p.heading(1, capital(part.Joint)+", "+part.Procedure+", by "+label(k.Between))
		if part.Refused != "" {
			p.paragraph(part.Refused)
			continue
		}
		p.contrastPart(k, part)
	}
	p.heading(1, "Cautions")
	p.bullets(k.Cautions)
	p.heading(1, "How the numbers were made")
	p.bullets(k.Method)
	return &p.Document
}

// contrastPart writes the comparison of one joint and procedure.
func (p *page) contrastPart(k *contrast.Contrast, part *contrast.Part) {
	p.paragraph(contrastCounts(k, part))
	p.contrastGroups(k, part)
	p.contrastTests(k, part)
	p.contrastYears(k, part)
	p.contrastMeans(part)
	p.contrastModel(k, part)
	p.contrastResearch(k, part)
	p.contrastStandard(part)
	p.contrastStrata(k, part)
	p.contrastMix(part)
}

func contrastCounts(k *contrast.Contrast, part *contrast.Part) string {
	s := few(part.Joints, "joint", "joints")
	if part.Patients >= 0 {
		s += " of " + few(part.Patients, "patient", "patients")
		if part.Bilateral > 0 {
			s += fmt.Sprintf(" (%s %% of the joints are of a patient with several)", decimals(100*float64(part.Bilateral)/float64(part.Joints), 0))
		}
	}
	s += "; " + count(part.Revised) + " revised."
	if part.LeftOut > 0 {
		s += fmt.Sprintf(" Left out: %s of which the %s is not recorded.", few(part.LeftOut, "joint", "joints"), label(k.Between))
	}
	return s
}

// contrastGroups lists the groups beside one another.
func (p *page) contrastGroups(k *contrast.Contrast, part *contrast.Part) {
	y := k.Years[part.Year]
	base := part.Groups[part.Against].Word
	test := part.LogRank
	if part.Within != nil {
		test = part.Within
	}
	f := newFootnotes()
	t := &table{Columns: []column{
		{Title: capital(label(k.Between)), Wraps: true, Least: 16}, {Title: "Joints", Align: right}, {Title: "Revised", Align: right}, {Title: "Expected if alike", Align: decimal, Wraps: true, Least: 8},
		{Title: "At risk", Align: right}, {Title: "Cumulative revision at " + inYears(y) + ", %", Align: decimal, Wraps: true, Least: 18},
		{Title: "Difference, points", Align: decimal, Wraps: true, Least: 16}, {Title: "Reading", Wraps: true, Least: len("compatible")},
		{Title: "Published difference", Align: decimal, Wraps: true, Least: 12},
	}}
	said := legends{}
	for g := range part.Groups {
		group := &part.Groups[g]
		cells := []string{document.Word(group.Word), count(group.Joints), count(group.Revised), decimals(test.Expected[g], 1)}
		pt := group.Points[part.Year]
		atRisk, estimated := 0.0, "—"
		if pt.Reached {
			atRisk, estimated = pt.KaplanMeier.AtRisk, contrastEstimate(k, pt.KaplanMeier, group, f)
		}
		cells = append(cells, number(atRisk), estimated)
		if g == part.Against {
			t.Add(append(cells, "—", "", "")...)
			continue
		}
		d := contrastDifference(part, g, y, survival.OneMinusKaplanMeier)
		if d == nil || !d.Reached || atRisk < fewestAtRisk || part.Groups[part.Against].Points[part.Year].KaplanMeier.AtRisk < fewestAtRisk {
			said.add(benchmark.TooFew.String())
			t.Add(append(cells, "—", benchmark.TooFew.String(), contrastPublished(d, f))...)
			continue
		}
		said.add(d.Reading.String())
		t.Add(append(cells, percentWith(d.Difference, d.Lower, d.Upper, ""), contrastReading(d, f), contrastPublished(d, f))...)
	}
	p.paragraph("Each group is read against " + document.Word(base) + ", at " + inYears(y) + ".")
	p.table(t, f)
	p.contrastLegend(said)
}

// contrastReading is the reading of a difference.
func contrastReading(d *contrast.Difference, f *footnotes) string {
	s := d.Reading.String()
	if d.NearTheLine {
		s += " " + f.mark("near the line: the limits shown would read otherwise")
	}
	return s
}

// contrastPublished writes what sources publish for the same two groups.
func contrastPublished(d *contrast.Difference, f *footnotes) string {
	if d == nil {
		return ""
	}
	var all []string
	for _, pair := range d.Published {
		source := f.mark(fmt.Sprintf("published: %s and %s %%. %s", percent(pair.Group.Revision), percent(pair.Against.Revision), pair.Citation))
		all = append(all, percentWith(pair.Difference, pair.Lower, pair.Upper, "")+" "+source)
	}
	return strings.Join(all, "; ")
}

// contrastLegend explains the readings of differences.
func (p *page) contrastLegend(said legends) {
	var s []string
	if said.compatible {
		s = append(s, caution)
	}
	if said.few {
		s = append(s, fmt.Sprintf("“Too few to say”: fewer than %d at risk in either group, or fewer than %d revised by then in both.", fewestAtRisk, contrast.FewestToRead))
	}
	p.paragraph(s...)
}

// contrastEstimate is a cumulative revision, or the counts behind it where fewer
// than ten are at risk.
func contrastEstimate(k *contrast.Contrast, pt survival.Point, g *contrast.Group, f *footnotes) string {
	floor := k.Interval.MinAtRisk
	if floor == 0 {
		floor = survival.DefaultMinAtRisk
	}
	switch {
	case pt.AtRisk < fewestAtRisk:
		f.sign("n/n", fmt.Sprintf("revised/joints: fewer than %d at risk", fewestAtRisk))
		return count(g.Revised) + "/" + count(g.Joints)
	case pt.AtRisk < floor:
		f.sign("*", fmt.Sprintf("fewer than %s at risk", years(floor)))
		return percentWith(pt.Estimate, pt.Lower, pt.Upper, "*")
	}
	return percentWith(pt.Estimate, pt.Lower, pt.Upper, "")
}

// contrastDifference finds a difference; nil if there is none.
func contrastDifference(part *contrast.Part, group int, years float64, e survival.Estimand) *contrast.Difference {
	for i := range part.Differences {
		if d := &part.Differences[i]; d.Group == group && d.Years == years && d.Estimand == e {
			return d
		}
	}
	return nil
}

// contrastTests says whether chance alone would divide the revisions so.
func (p *page) contrastTests(k *contrast.Contrast, part *contrast.Part) {
	said := []string{k.Said(part)}
	if part.Revised >= contrast.FewestForP {
		test := part.LogRank
		if part.Within != nil {
			test = part.Within
			said[0] = strings.TrimSuffix(said[0], ".") + fmt.Sprintf(" (log-rank within %s, %s).", few(part.Strata, "stratum", "strata"), chiSquare(test.ChiSquare))
			said = append(said, fmt.Sprintf("Without regard to %s: %s (log-rank, %s).", contrastFields(k.Within), contrast.OfSeries(part.LogRank.P), chiSquare(part.LogRank.ChiSquare)))
		} else {
			said[0] = strings.TrimSuffix(said[0], ".") + fmt.Sprintf(" (log-rank, %s).", chiSquare(test.ChiSquare))
		}
	}
	if part.NotWithin != "" {
		said = append(said, part.NotWithin)
	}
	if part.Bilateral > 0 {
		said = append(said, "The test takes the joints of one patient for independent; they are not quite, so that chance divides them as unevenly a little more often than said.")
	}
	p.paragraph(said...)
}

// contrastFields are fields in words.
func contrastFields(fields []string) string {
	var names []string
	for _, f := range fields {
		names = append(names, label(f))
	}
	return list(names)
}

func chiSquare(c survival.ChiSquare) string {
	return fmt.Sprintf("χ² %s on %d df", decimals(c.Value, 1), c.DF)
}

// contrastYears lists the differences at all years, of groups with enough at risk.
func (p *page) contrastYears(k *contrast.Contrast, part *contrast.Part) {
	t := &table{Columns: []column{
		{Title: "Years", Align: decimal}, {Title: capital(label(k.Between)), Wraps: true, Least: 16}, {Title: "At risk", Align: right},
		{Title: "Cumulative revision, points", Align: decimal, Wraps: true, Least: 18}, {Title: "Reading", Wraps: true, Least: len("compatible")},
		{Title: "Cumulative incidence, points", Align: decimal, Wraps: true, Least: 18}, {Title: "Reading", Wraps: true, Least: len("compatible")},
	}}
	few := func(g, n int) bool { return part.Groups[g].Points[n].KaplanMeier.AtRisk < fewestAtRisk }
	f := newFootnotes()
	for n, y := range k.Years {
		repeats := 0
		for g := range part.Groups {
			d := contrastDifference(part, g, y, survival.OneMinusKaplanMeier)
			if d == nil || !d.Reached || few(g, n) || few(part.Against, n) {
				continue
			}
			cells := []string{years(y), document.Word(part.Groups[g].Word), number(part.Groups[g].Points[n].KaplanMeier.AtRisk), percentWith(d.Difference, d.Lower, d.Upper, ""), contrastReading(d, f), "", ""}
			if i := contrastDifference(part, g, y, survival.Incidence); i != nil {
				cells[5], cells[6] = percentWith(i.Difference, i.Lower, i.Upper, ""), contrastReading(i, f)
			}
			t.Rows = append(t.Rows, row{Cells: cells, Repeats: repeats})
			repeats = 1
		}
	}
	if t.Empty() {
		return
	}
	p.heading(2, "Differences from "+document.Word(part.Groups[part.Against].Word)+", year by year")
	p.paragraph(fmt.Sprintf("Groups with %d or more at risk; the others stand in --format csv.", fewestAtRisk))
	p.table(t, f)
}

// contrastMeans writes the restricted means.
func (p *page) contrastMeans(part *contrast.Part) {
	m := part.Means
	if m == nil {
		return
	}
	p.heading(2, "Time free of revision within "+inYears(m.Years))
	t := &table{Columns: []column{{Title: "Group", Wraps: true, Least: 16}, {Title: "Mean, years", Align: decimal}, {Title: "Difference, days", Align: decimal, Wraps: true, Least: 16}}}
	f := newFootnotes()
	for i, g := range m.Groups {
		mean, d := m.Mean[i], m.Difference[i]
		difference := "—"
		if i != m.Against {
			difference = decimals(d.Difference, 0) + limits(decimals(d.Lower, 0), decimals(d.Upper, 0))
			if math.IsNaN(d.SE) {
				difference += " " + f.mark("no limits: in one of the two groups nobody is revised by then")
			}
		}
		inYear := func(x float64) string { return decimals(x/cohort.DaysPerYear, 2) }
		t.Add(document.Word(part.Groups[g].Word), inYear(mean.Mean)+limits(inYear(mean.Lower), inYear(mean.Upper)), difference)
	}
	p.table(t, f)
	var out []string
	for _, g := range m.LeftOut {
		out = append(out, document.Word(part.Groups[g].Word))
	}
	if len(out) > 0 {
		p.paragraph(fmt.Sprintf("Left out, with fewer than %d at risk at the year shown first: %s.", fewestAtRisk, list(out)))
	}
}

// contrastModel writes the ratios of rates.
func (p *page) contrastModel(k *contrast.Contrast, part *contrast.Part) {
	m := part.Model
	if m == nil {
		return
	}
	title := "How often joints are revised, not adjusted"
	if len(k.Adjust) > 0 {
		title = "How often joints are revised, adjusted for " + contrastFields(k.Adjust)
	}
	p.heading(2, title)
	if m.Refused != "" {
		p.paragraph(m.Refused)
		return
	}
	base := document.Word(part.Groups[part.Against].Word)
	p.paragraph(fmt.Sprintf("Rates of revision, in times that of %s, with limits in brackets. %s.%s", base, capital(m.Chosen), contrastLeftOut(m)))
	t := &table{Columns: []column{{Title: capital(label(k.Between)), Wraps: true, Least: 16}}}
	single := !m.Changes()
	if single {
		t.Columns = append(t.Columns, column{Title: "Times", Align: decimal, Wraps: true, Least: 14})
		if m.ByPatient != nil {
			t.Columns = append(t.Columns, column{Title: "Allowing for several joints of a patient", Align: decimal, Wraps: true, Least: 14})
		}
	}
	for _, period := range m.Periods {
		t.Columns = append(t.Columns, column{Title: capital(period.String()), Align: decimal, Wraps: true, Least: 14})
	}
	for i, r := range m.Ratios {
		cells := []string{document.Word(r.Word)}
		if single {
			cells = append(cells, ratioOf(r))
			if m.ByPatient != nil {
				cells = append(cells, ratioOf(m.ByPatient[i]))
			}
		}
		for _, period := range m.Periods {
			cells = append(cells, ratioOf(period.Ratios[i]))
		}
		t.Add(cells...)
	}
	p.table(t, nil)
	p.paragraph(contrastConstancy(m)...)
	if m.ByPatient != nil && part.RevisedPatients < 20 {
		p.paragraph(fmt.Sprintf("%s only have a joint revised: the limits that allow for several joints of a patient are too narrow.", few(part.RevisedPatients, "patient", "patients")))
	}
}

func contrastLeftOut(m *contrast.Model) string {
	if m.LeftOut == 0 {
		return ""
	}
	return fmt.Sprintf(" Left out: %s of which something adjusted for is not recorded.", few(m.LeftOut, "joint", "joints"))
}

// probability is a p value in words.
func probability(p float64) string {
	if p < 0.0005 {
		return "p < 0.001"
	}
	return "p = " + decimals(p, 3)
}

// contrastConstancy says whether ratios change over the years.
func contrastConstancy(m *contrast.Model) []string {
	var said []string
	switch {
	case m.Changes():
		said = append(said, fmt.Sprintf("The ratio changes over the years (%s): one for all years would mislead.", probability(m.Proportional[0].P)))
	case m.Proportional != nil:
		said = append(said, "No evidence that the ratio changes over the years.")
	case m.Kind != regress.Penalised:
		said = append(said, fmt.Sprintf("With fewer than %d revised nothing can be said on whether the ratio changes over the years.", contrast.FewestForProportional))
	}
	if m.NotByPeriod != "" {
		said = append(said, m.NotByPeriod)
	}
	return said
}

// ratioOf writes a ratio; — for one so large or small that it means nothing.
func ratioOf(r contrast.Ratio) string {
	if !(r.Ratio > 0.001 && r.Ratio < 1000) {
		return "—"
	}
	digits := func(x float64) string {
		switch {
		case x == 0:
			return "no lower limit"
		case math.IsInf(x, 1) || x >= 1000:
			return "no upper limit"
		case x < 1:
			return decimals(x, 2)
		}
		return decimals(x, 1)
	}
	return digits(r.Ratio) + limits(digits(r.Lower), digits(r.Upper))
}

// contrastResearch writes what is for researchers.
func (p *page) contrastResearch(k *contrast.Contrast, part *contrast.Part) {
	m := part.Model
	if m == nil {
		m = new(contrast.Model)
	}
	if part.Gray == nil && part.NotGray == "" && len(m.Subdistribution) == 0 && m.NotFineGray == "" {
		return
	}
	p.heading(2, "For researchers: death competing")
	var said []string
	for _, g := range []struct {
		test  *survival.Test
		where string
	}{{part.Gray, ""}, {part.GrayWithin, " within " + contrastFields(k.Within)}} {
		if g.test != nil {
			said = append(said, fmt.Sprintf("If all groups had one cumulative incidence%s, revisions would divide as unevenly in %s (Gray's test, %s).", g.where, contrast.OfSeries(g.test.P), chiSquare(g.test.ChiSquare)))
		}
	}
	if part.NotGray != "" {
		said = append(said, part.NotGray)
	}
	if m.NotFineGray != "" {
		said = append(said, m.NotFineGray)
	}
	var ratios []string
	for _, r := range m.Subdistribution {
		ratios = append(ratios, document.Word(r.Word)+" "+ratioOf(r))
	}
	if len(ratios) > 0 {
		said = append(said, fmt.Sprintf("Ratios of the subdistribution (Fine and Gray), in times that of %s: %s.", document.Word(part.Groups[part.Against].Word), strings.Join(ratios, "; ")))
	}
	p.paragraph(said...)
}

// contrastStandard writes large groups at one mix of patients.
func (p *page) contrastStandard(part *contrast.Part) {
	m := part.Standard
	if m == nil {
		return
	}
	p.heading(2, "At the ages and sexes of all joints")
	if m.Not != "" {
		p.paragraph("Not given: " + m.Not + ".")
		return
	}
	of := "ages"
	if m.Sex {
		of = "ages and sexes"
	}
	var bands []string
	for _, b := range m.Bands {
		bands = append(bands, strings.Join(b, " with "))
	}
	p.paragraph(fmt.Sprintf("Groups of %d joints and more, as if each had the %s of all joints compared, at %s. Age bands: %s. Recorded of %s %% of the joints.",
		contrast.StandardJoints, of, inYears(m.Years), strings.Join(bands, ", "), decimals(100*m.Covered, 0)))
	t := &table{Columns: []column{{Title: "Group", Wraps: true, Least: 16}, {Title: "Cumulative revision, %", Align: decimal, Least: 16}, {Title: "Difference, points", Align: decimal, Least: 16}}}
	for i, g := range m.Groups {
		difference := ""
		if m.Difference != nil && i != m.Against {
			difference = percentWith(m.Difference[i].Difference, m.Difference[i].Lower, m.Difference[i].Upper, "")
		}
		t.Add(document.Word(part.Groups[g].Word), percentWith(m.Points[i].Estimate, m.Points[i].Lower, m.Points[i].Upper, ""), difference)
	}
	p.table(t, nil)
}

// contrastStrata writes where the revisions beyond those expected are, by the strata of
// published series.
func (p *page) contrastStrata(k *contrast.Contrast, part *contrast.Part) {
	named := slices.Concat([]string{k.Between}, k.Within, k.Adjust)
	if slices.Contains(k.Adjust, "age") {
		named = append(named, "age_band")
	}
	for _, s := range part.ByStratum {
		if slices.ContainsFunc(s.By, func(f string) bool { return !slices.Contains(named, f) }) {
			continue // of what was not asked about
		}
		if 2*s.Joints < s.Of {
			continue // of a part that says little of all; the CSV has it
		}
		p.heading(2, "Observed and expected by "+contrastFields(s.By)+", as published: "+s.Source)
		t := &table{Columns: []column{{Title: "Of", Wraps: true, Least: 16}, {Title: "Observed", Align: right}, {Title: "Expected", Align: decimal}, {Title: "Difference", Align: decimal}, {Title: "Ratio", Align: decimal, Least: 14}}}
		for _, r := range s.Parts {
			t.Add(kind(&audit.Beside{Series: r.Series}), number(r.Observed), decimals(r.Expected, 1), decimals(r.Excess(), 1), decimals(r.Ratio, 2)+limits(decimals(r.Lower, 2), decimals(r.Upper, 2)))
		}
		t.Add("Together", number(s.Observed), decimals(s.Expected, 1), decimals(s.Excess(), 1), decimals(s.Ratio.Ratio, 2)+limits(decimals(s.Lower, 2), decimals(s.Upper, 2)))
		p.paragraph(fmt.Sprintf("%s of the %s that the closing date takes to a published year, of whatever group, over complete intervals; the largest difference first. %s No reading is taken from a ratio.",
			count(s.Joints), few(s.Of, "joint", "joints"), excessSentence(s)))
		p.table(t, nil)
	}
}

// excessSentence says where most of what is beyond expectation is, or short of it.
func excessSentence(s *audit.Sum) string {
	of := func(x float64) string { return decimals(math.Abs(x), 1) }
	first, side := s.Parts[0], "more"
	if s.Excess() < 0 {
		side = "fewer"
	}
	switch {
	case math.Abs(s.Excess()) < .05:
		return "Together as many were revised as expected."
	case s.Excess()*first.Excess() > 0:
		return fmt.Sprintf("Of the %s %s than expected, %s are of %s.", of(s.Excess()), side, of(first.Excess()), kind(&audit.Beside{Series: first.Series}))
	}
	return fmt.Sprintf("Most beyond what is expected, or short of it, is of %s.", kind(&audit.Beside{Series: first.Series}))
}

// contrastMix says who the patients of each group were.
func (p *page) contrastMix(part *contrast.Part) {
	p.heading(2, "Who the patients were")
	p.paragraph("Percentage of each group's joints.")
	var all []int
	for g := range part.Groups {
		all = append(all, g)
	}
	for _, groups := range chunks(all, mostParts) {
		t := &table{Columns: []column{{Wraps: true, Title: "Of", Least: 14}}}
		joints, ages := []string{"Joints"}, []string{"Median age"}
		for _, g := range groups {
			t.Columns = append(t.Columns, column{Title: document.Word(part.Groups[g].Word), Align: right, Wraps: true, Least: 12})
			joints, ages = append(joints, count(part.Groups[g].Joints)), append(ages, decimals(part.Groups[g].MedianAge, 0))
		}
		t.Add(joints...)
		t.Add(ages...)
		for i, m := range part.Groups[groups[0]].Mix {
			if m.Field == "side" {
				continue
			}
			t.Section(capital(label(m.Field)))
			for w, word := range m.Words {
				cells := []string{document.Word(word)}
				for _, g := range groups {
					cells = append(cells, decimals(100*float64(part.Groups[g].Mix[i].Joints[w])/float64(part.Groups[g].Joints), 0))
				}
				t.Add(cells...)
			}
		}
		p.table(t, nil)
	}
}
