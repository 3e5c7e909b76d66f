package report

import (
	"fmt"
	"math"

	"example.org/holdfast/cohort/audit"
)

// Before is an earlier audit of the same table, and this table as it would have
// been audited then: what differs between the two are mended data.
type Before struct {
	Earlier *audit.Earlier
	Then    *audit.Audit // of this table, at the earlier closing date
}

// since parts what moved since an earlier audit because data were mended from what
// moved because patients were followed.
func (w *answering) since(b *Before) {
	if b == nil {
		return
	}
	w.heading(1, "Since the last audit")
	day := longDay(b.Earlier.Closing)
	w.paragraph(fmt.Sprintf("Cumulative revision as the last audit had it (followed to %s); as this table would have given it then; and as it is now.", day),
		"From the first to the second, data were mended or added for that time; from the second to the third, patients were followed and new joints came.")
	t := &table{Columns: []column{{Title: "Joint and procedure", Wraps: true}, {Title: "Years", Align: decimal}, {Title: "Last audit: revised/joints", Wraps: true, Least: 10}, {Title: "%", Align: decimal},
		{Title: "This table then: revised/joints", Wraps: true, Least: 10}, {Title: "%", Align: decimal}, {Title: "Now: revised/joints", Wraps: true, Least: 10}, {Title: "%", Align: decimal}, {Title: "Mended, points", Align: decimal}, {Title: "Followed, points", Align: decimal}}}
	for _, p := range w.parts {
		old := b.Earlier.Group(p.all.Word("joint"), p.all.Word("procedure"))
		then := same(b.Then, p.all)
		if old == nil || then == nil {
			continue
		}
		r := w.commonRow(p, old, then)
		if r == nil {
			t.Add(p.title, "—", revisedOf(old.Revised, old.Joints), "", revisedOf(then.Revised, then.Joints), "", revisedOf(p.all.Revised, p.all.Joints), "", "", "")
			continue
		}
		last, _ := old.At(r.Years)
		at := then.At(r.Years).KaplanMeier.Estimate
		t.Add(p.title, years(r.Years), revisedOf(old.Revised, old.Joints), percent(last.Estimate), revisedOf(then.Revised, then.Joints), percent(at),
			revisedOf(p.all.Revised, p.all.Joints), percent(r.KaplanMeier.Estimate), points(at-last.Estimate), points(r.KaplanMeier.Estimate-at))
	}
	if t.Empty() {
		w.paragraph("The last audit has none of these joints and procedures.")
		return
	}
	w.table(t, nil)
}

// commonRow is the row of the latest year at which all three have an estimate on
// ten or more at risk; nil if there is none.
func (w *answering) commonRow(p *part, old *audit.EarlierGroup, then *audit.Group) *audit.Row {
	for i := len(w.a.Years) - 1; i >= 0; i-- {
		now, before := p.all.At(w.a.Years[i]), then.At(w.a.Years[i])
		last, ok := old.At(w.a.Years[i])
		if ok && last.AtRisk >= fewestAtRisk && now != nil && now.Shown.Estimated() && before != nil && before.Shown.Estimated() {
			return now
		}
	}
	return nil
}

// revisedOf writes revised/joints.
func revisedOf(revised, joints int64) string { return count(revised) + "/" + count(joints) }

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
