package report

import (
	"fmt"
	"maps"
	"math"
	"slices"

	"example.org/holdfast/cohort"
)

// revisions lists the joints in use that are revised, the rows behind every estimate; among
// other lists not all of very many.
func (k *checking) revisions() error {
	c, most := k.Cohort, mostRows
	if k.o.List != "" {
		most = math.MaxInt
	}
	k.heading(1, "Revisions counted")
	t := &table{Columns: []column{{Title: "Row", Align: right}, {Title: "Years after", Align: decimal}}}
	fields := []string{"joint", "procedure"}
	for _, field := range []string{"bearing", "fixation"} {
		if slices.Contains(c.Fields(), field) {
			fields = append(fields, field)
			t.Columns = append(t.Columns, column{Title: capital(label(field)), Wraps: true})
		}
	}
	t.Columns = append(t.Columns, column{Title: "Reason", Wraps: true})
	joints, err := c.Joints(cohort.Endpoint{}, fields...)
	if err != nil {
		return err
	}
	rows := make(map[string][]row)
	for j := range joints {
		if j.Cause != cohort.CauseRevision {
			continue
		}
		where := fmt.Sprint(j.Row)
		if len(c.Files) > 1 {
			where = fmt.Sprintf("%s, row %d", c.Files[j.File].Title(), j.Row)
		}
		cells := append([]string{where, decimals(float64(j.Days)/cohort.DaysPerYear, 1)}, j.Values[2:]...)
		kind := kindTitle(j.Values[0], j.Values[1])
		rows[kind] = append(rows[kind], row{Cells: append(cells, j.Reason)})
	}
	if len(rows) == 0 {
		k.paragraph("No joint in use is revised.")
		return nil
	}
	for _, kind := range slices.Sorted(maps.Keys(rows)) {
		all := rows[kind]
		t.Section(fmt.Sprintf("%s: %s", kind, few(int64(len(all)), "revision", "revisions")))
		t.Rows = append(t.Rows, all[:min(most, len(all))]...)
		if more := len(all) - most; more > 0 {
			t.Remark(fmt.Sprintf("and %s more: --list revisions", count(more)))
		}
	}
	k.paragraph("Each joint in use that is revised, by the row of its primary. Is each of these joints’, and is each revision of theirs here?")
	k.table(t, nil)
	return nil
}
