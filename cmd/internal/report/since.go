package report

import (
	"fmt"
	"math"
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
		"From the first to the second, data were mended or added for that time; from the second to the third, patients were followed and new joints came.")
	if len(b.Unknown) > 0 {
		var fields []string
		for _, f := range b.Unknown {
			fields = append(fields, label(f))
		}
		p.paragraph(fmt.Sprintf("The last audit was not made by %s: one that is (audit --by %s --format json) can be set beside the next.", either(fields), strings.Join(b.Unknown, ",")))
	}
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
		p.paragraph("The last audit has none of these joints and procedures.")
	case !t.Empty():
		p.table(t, nil)
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
