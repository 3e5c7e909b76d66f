package report

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
)

// since parts what moved since an earlier audit because data were mended from what
// moved because patients were followed.
func (p *page) since(b *gather.Before) {
	if b == nil {
		return
	}
	p.heading(1, "Since the last audit")
	p.paragraph(fmt.Sprintf("Cumulative revision as the last audit had it (followed to %s); as this table would have given it then; and as it is now.", longDay(b.Closing)),
		"From the first to the second, data were mended or added for that time; from the second to the third, patients were followed and new joints came.",
		"Mending can lower a figure though it adds revisions, since joints that were seen later count as followed to then. Revised are all of the follow-up, whatever the year.")
	p.changed(b)
	t := &table{Columns: []column{{Title: "Joint and procedure", Wraps: true}, {Title: "Years", Align: decimal}, {Title: "Last audit: revised/joints", Wraps: true, Least: 10}, {Title: "%", Align: decimal},
		{Title: "This table then: revised/joints", Wraps: true, Least: 10}, {Title: "%", Align: decimal}, {Title: "Now: revised/joints", Wraps: true, Least: 10}, {Title: "%", Align: decimal}, {Title: "Mended, points", Align: decimal}, {Title: "Followed, points", Align: decimal}}}
	for i, m := range b.Moved {
		if m.Unit.Field != "" && (i == 0 || b.Moved[i-1].Unit.Field != m.Unit.Field) {
			t.Section(kindTitle(m.Joint, m.Procedure) + ", by " + label(m.Unit.Field))
		}
		name := kindTitle(m.Joint, m.Procedure)
		if m.Unit.Field != "" {
			name = document.Word(m.Unit.Word)
		}
		counts := func(s gather.State) string { return count(s.Revised) + "/" + count(s.Joints) }
		if m.Years == 0 {
			t.Add(name, "—", counts(m.Last), "", counts(m.Then), "", counts(m.Now), "", "", "")
			continue
		}
		t.Add(name, years(m.Years), counts(m.Last), percent(m.Last.Estimate), counts(m.Then), percent(m.Then.Estimate),
			counts(m.Now), percent(m.Now.Estimate), points(m.Mended()), points(m.Followed()))
	}
	switch {
	case t.Empty() && len(b.Unknown) == 0:
		p.paragraph(noneBefore)
	case !t.Empty():
		p.table(t, nil)
	}
}

// sinceInShort is the same in sentences, of the joints of one unit.
func (p *page) sinceInShort(b *gather.Before) {
	if b == nil {
		return
	}
	p.heading(2, "Since the last audit")
	p.changed(b)
	var said []string
	for _, m := range b.Moved {
		at := ""
		if m.Years > 0 {
			at = " at " + inYears(m.Years)
		}
		said = append(said, fmt.Sprintf("%s%s: %s as the last audit had it, followed to %s; %s with what was mended or added since for that time; %s now.", kindTitle(m.Joint, m.Procedure), at,
			stateOf(m.Last, m.Years), longDay(b.Closing), stateOf(m.Then, m.Years), stateOf(m.Now, m.Years)))
	}
	if said == nil && len(b.Unknown) == 0 {
		p.paragraph(noneBefore)
	}
	p.bullets(said)
}

// stateOf is a state in words, with the estimate where there is a year of it.
func stateOf(x gather.State, years float64) string {
	revised := fmt.Sprintf("%s of %s revised", count(x.Revised), count(x.Joints))
	if years == 0 {
		return revised
	}
	return percent(x.Estimate) + " % (" + revised + ")"
}

// noneBefore says that there is nothing to set beside.
const noneBefore = "The last audit has none of these joints and procedures."

// changed says which units stand in one of the two audits alone.
func (p *page) changed(b *gather.Before) {
	if len(b.Unknown) > 0 {
		var fields []string
		for _, f := range b.Unknown {
			fields = append(fields, label(f))
		}
		p.paragraph(fmt.Sprintf("The last audit was not made by %s: one that is (audit --by %s --format json) can be set beside the next.", either(fields), strings.Join(b.Unknown, ",")))
	}
	var said []string
	for rest := b.New; len(rest) > 0; {
		field := rest[0].Field
		var words []string
		for len(rest) > 0 && rest[0].Field == field {
			words, rest = append(words, document.Word(rest[0].Word)), rest[1:]
		}
		said = append(said, fmt.Sprintf("Not in the last audit under the same name: %s %s.", label(field), list(words)))
	}
	for _, field := range slices.Sorted(maps.Keys(b.Gone)) {
		said = append(said, fmt.Sprintf("In the last audit alone: %s.", few(b.Gone[field], label(field), label(field)+"s")))
	}
	if said != nil {
		p.paragraph(append(said, "Who is new or has left, and whose name is written otherwise now, is not told apart.")...)
	}
}

// points is a difference of proportions in percentage points.
func points(x float64) string {
	if math.Abs(100*x) < 0.05 {
		return "0.0"
	}
	if x > 0 {
		return "+" + decimals(100*x, 1)
	}
	return decimals(100*x, 1)
}
