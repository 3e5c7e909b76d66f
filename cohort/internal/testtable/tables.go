package testtable

import (
	"math/rand/v2"

	"example.org/holdfast/cohort"
)

// revisionsTable takes the revisions out of the first table into one of their own.
func revisionsTable(d *Draft) *Table {
	t := d.Tables[0]
	apart := &Table{Name: "revisions", Holds: "revisions", Sheet: "Revisions"}
	names := []string{"patient", "joint", "side", "revision_date", "revision_reason"}
	for _, c := range names {
		apart.Columns = append(apart.Columns, Column{Name: c, Heading: c})
	}
	for _, row := range t.Rows {
		if !revised(d.Joints[row.Joint]) {
			continue
		}
		one := &Row{Joint: row.Joint}
		for _, c := range names {
			one.Cells = append(one.Cells, row.Cells[t.at(c)])
		}
		apart.Rows = append(apart.Rows, one)
		d.lose(one, cohort.RevisionJoined)
	}
	for _, c := range []string{"revision_date", "revised", "revision_reason"} {
		t.drop(c)
	}
	d.Tables = append(d.Tables, apart)
	return apart
}

func deathsTable(d *Draft) *Table {
	t := d.Tables[0]
	apart := &Table{Name: "deaths", Holds: "deaths", Sheet: "Deaths"}
	for _, c := range []string{"patient", "death_date"} {
		apart.Columns = append(apart.Columns, Column{Name: c, Heading: c})
	}
	listed := make(map[string]bool)
	for _, row := range t.Rows {
		patient, death := row.Cells[t.at("patient")], row.Cells[t.at("death_date")]
		if death.Text != "" && !listed[patient.Text] {
			listed[patient.Text] = true
			apart.Rows = append(apart.Rows, &Row{Joint: row.Joint, Cells: []Cell{patient, death}})
		}
	}
	t.drop("death_date")
	d.Tables = append(d.Tables, apart)
	return apart
}

var tableDamages = []Damage{
	{Name: "split in two files", Does: "the rows stand in two files", Kind: EitherFile, stage: tables, groups: []string{"tables"},
		apply: func(d *Draft, r *rand.Rand) {
			t := d.Tables[0]
			second := *t
			second.Name = "later"
			second.Columns = append([]Column(nil), t.Columns...)
			at := len(t.Rows)/3 + r.IntN(len(t.Rows)/3)
			second.Rows = append([]*Row(nil), t.Rows[at:]...)
			t.Rows = t.Rows[:at]
			d.Tables = append(d.Tables, &second)
		}},
	{Name: "revisions in a table of their own", Does: "a second file with one row per revision", Kind: EitherFile, stage: tables, groups: []string{"tables"},
		apply: func(d *Draft, _ *rand.Rand) { revisionsTable(d) }},
	{Name: "revisions on a second sheet", Does: "a second sheet with one row per revision", Kind: BookFile, stage: tables, groups: []string{"tables"},
		apply: func(d *Draft, _ *rand.Rand) { revisionsTable(d).SheetOf = 1 }},
	{Name: "deaths in a list", Does: "a second file with patients and days of death", Kind: EitherFile, stage: tables, groups: []string{"deaths"},
		apply: func(d *Draft, _ *rand.Rand) { deathsTable(d) }},
	{Name: "deaths on a sheet", Does: "a further sheet with patients and days of death", Kind: BookFile, stage: tables, groups: []string{"deaths"},
		apply: func(d *Draft, _ *rand.Rand) { deathsTable(d).SheetOf = 1 }},
	{Name: "one row per operation", Does: "primaries and revisions are rows alike, told apart by a column", Kind: EitherFile, stage: tables, groups: []string{"tables"},
		apply: func(d *Draft, r *rand.Rand) {
			t := d.Tables[0]
			t.add(2, Column{Name: "operation_type", Heading: "operation_type"}, func(*Row) Cell { return Cell{Text: "primary"} })
			var more []*Row
			for _, row := range t.Rows {
				if !revised(d.Joints[row.Joint]) {
					continue
				}
				one := &Row{Joint: row.Joint, Cells: make([]Cell, len(t.Columns))}
				for _, c := range []string{"patient", "joint", "side", "revision_reason", "surgeon", "hospital"} {
					one.Cells[t.at(c)] = row.Cells[t.at(c)]
				}
				one.Cells[t.at("operation_date")] = row.Cells[t.at("revision_date")]
				one.Cells[t.at("operation_type")].Text = "revision"
				row.Cells[t.at("revision_reason")].Text = ""
				more = append(more, one)
				d.lose(one, cohort.RevisionJoined)
			}
			t.Rows = append(t.Rows, more...)
			r.Shuffle(len(t.Rows), func(i, j int) { t.Rows[i], t.Rows[j] = t.Rows[j], t.Rows[i] })
			t.drop("revision_date")
			t.drop("revised")
		}},
	{Name: "revisions of all sorts", Does: "a revision twice, one without its primary, before it and without a date", Kind: EitherFile, Alone: true, stage: tables,
		apply: func(d *Draft, r *rand.Rand) {
			apart := revisionsTable(d)
			add := func(j Joint, when string, reason cohort.Reason) {
				row := &Row{Joint: -1}
				for _, c := range []string{j.cells["patient"], j.cells["joint"], j.cells["side"], when, "infection"} {
					row.Cells = append(row.Cells, Cell{Text: c})
				}
				apart.Rows = append(apart.Rows, row)
				d.lose(row, reason)
			}
			rows := d.some(r, 1000, nil)
			given := make(map[string]int)
			for _, row := range rows {
				j := d.Joints[row.Joint]
				switch {
				case revised(j) && given["later"] < 2:
					given["later"]++
					add(j, "2024-11-30", cohort.RevisionLater)
				case alive(j) && given["before"] < 2:
					given["before"]++
					add(j, shifted("operation_date", -1, 0)(j), cohort.RevisionBeforePrimary)
				case alive(j) && given["unlinkable"] < 1:
					given["unlinkable"]++
					j.cells = map[string]string{"patient": j.cells["patient"], "joint": j.cells["joint"]}
					add(j, "2024-11-30", cohort.RevisionUnlinkable)
				case alive(j) && given["elsewhere"] < 2:
					given["elsewhere"]++
					side := map[string]string{"left": "right", "right": "left"}[j.cells["side"]]
					j.cells = map[string]string{"patient": j.cells["patient"], "joint": j.cells["joint"], "side": side}
					add(j, "2024-11-30", cohort.RevisionWithoutPrimary)
				case alive(j) && given["undated"] < 1:
					given["undated"]++
					add(j, "", cohort.RevisionUndated)
					d.lose(row, cohort.RevisedWithoutDate)
				}
			}
		}},
}
