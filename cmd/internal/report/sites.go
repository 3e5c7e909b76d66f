package report

import (
	"fmt"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// withoutRows says what pages made from tallies have not; "" of tables.
func withoutRows(a *audit.Audit) string {
	if len(a.Sites) == 0 {
		return ""
	}
	return fmt.Sprintf("From %s, without rows: patients are the sum over %s, and what needs rows or calendar days (which rows to look at, reasons for revision, completeness, charts over calendar time) stays with the tables.",
		few(len(a.Sites), "tally", "tallies"), one(a.Sites, "its tables", "them"))
}

// sites sets the accounts of pooled tallies side by side.
func (p *page) sites(a *audit.Audit) {
	if len(a.Sites) == 0 {
		return
	}
	t := &table{Columns: []column{{Title: "Tally", Wraps: true, Least: 12}, {Title: "Rows read", Align: right}, {Title: "Used", Align: right}, {Title: "Set aside", Align: right},
		{Title: "Revised, no date", Align: right, Wraps: true}, {Title: "Follow-up known", Align: right, Wraps: true}, {Title: "Assumed", Align: right}, {Title: "Lost", Align: right}, {Title: "Deaths"}}}
	var why []string
	for _, s := range a.Sites {
		of, deaths := s.Account, "recorded"
		if !s.Deaths.Recorded {
			deaths = "not recorded"
		}
		t.Add(s.Name, count(of.Read), count(of.Used), count(of.SetAside), count(of.RevisedUndated), count(of.Known), count(of.Assumed), count(of.Lost), deaths)
		if len(of.Reasons) > 0 {
			why = append(why, fmt.Sprintf("%s, set aside: %s.", s.Name, reasonsInLine(of.Reasons)))
		}
	}
	p.table(t, nil)
	p.bullets(why)
}

func reasonsInLine(counts []cohort.ReasonCount) string {
	var said []string
	for _, r := range counts {
		said = append(said, count(r.Rows)+" "+r.Reason.String())
	}
	return strings.Join(said, "; ")
}
