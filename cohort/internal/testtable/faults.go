package testtable

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/sheet"
)

func alive(j Joint) bool   { return j.cells["death_date"] == "" && j.cells["revision_date"] == "" }
func revised(j Joint) bool { return j.cells["revision_date"] != "" }
func died(j Joint) bool    { return j.cells["death_date"] != "" && !revised(j) }

// fault puts a text into a column of some rows, which are then set aside.
func fault(name, does string, n int, keep func(Joint) bool, column string, text func(Joint) string, reason cohort.Reason) Damage {
	return Damage{Name: name, Does: does, Kind: EitherFile, Alone: true, stage: faults, apply: func(d *Draft, r *rand.Rand) {
		for _, row := range d.some(r, n, keep) {
			d.cell(row, column).Text = text(d.Joints[row.Joint])
			d.lose(row, reason)
		}
	}}
}

func always(s string) func(Joint) string { return func(Joint) string { return s } }

// shifted is a date of a column, so many years and days later.
func shifted(column string, years, days int) func(Joint) string {
	return func(j Joint) string { return iso(date(j.cells[column]).AddDate(years, 0, days)) }
}

func twoColumns(err error) bool {
	var e *cohort.TwoColumnsError
	return errors.As(err, &e)
}

func dateOrder(err error) bool {
	var e *cohort.DateOrderError
	return errors.As(err, &e)
}

// valueFaults are rows that one cell sets aside, in a few rows, in one, and in many.
func valueFaults(suffix string, rows func(usual int) int) []Damage {
	return []Damage{
		fault("operation date impossible"+suffix, "30 February in some rows", rows(3), alive, "operation_date", always("2019-02-30"), cohort.OperationDateImpossible),
		fault("operation date missing"+suffix, "no operation date in some rows", rows(3), alive, "operation_date", always(""), cohort.OperationDateMissing),
		fault("operation in the future"+suffix, "a year mistyped as 2031", rows(2), alive, "operation_date", always("2031-03-04"), cohort.DateInFuture),
		fault("operation after the closing date"+suffix, "operated after follow-up ends", rows(2), alive, "operation_date", always("2025-02-03"), cohort.OperationAfterClosing),
		fault("revision before primary"+suffix, "revised a year before the operation", rows(2), revised, "revision_date", shifted("operation_date", -1, 0), cohort.RevisionBeforeOperation),
		fault("revision date impossible"+suffix, "31 April", rows(2), revised, "revision_date", always("2020-04-31"), cohort.RevisionDateImpossible),
		fault("revised without a date"+suffix, "revised says yes, and when is not said", rows(2), revised, "revision_date", always(""), cohort.RevisedWithoutDate),
		fault("death before operation"+suffix, "died a year before the operation", rows(2), died, "death_date", shifted("operation_date", -1, 0), cohort.DeathBeforeOperation),
		fault("death in the future"+suffix, "a death twenty years late", rows(2), died, "death_date", shifted("death_date", 20, 0), cohort.DateInFuture),
		fault("age typo"+suffix, "ages of 7 and 680", rows(4), alive, "age", func(j Joint) string { return []string{"7", "680"}[len(j.cells["sex"])/6] }, cohort.AgeOutOfRange),
		fault("both sides in one row"+suffix, "bilateral as the side", rows(3), alive, "side", always("bilateral"), cohort.BothSides),
		fault("a revision as the procedure"+suffix, "revision of the other joint's primary typed as a row", rows(3), alive, "procedure", always("revision THR"), cohort.NotPrimary),
	}
}

var faultDamages = slices.Concat(
	valueFaults("", func(n int) int { return n }), valueFaults(", in one row", func(int) int { return 1 }), valueFaults(", in many rows", func(n int) int { return 4 * n }), []Damage{
		{Name: "joint entered twice", Does: "some rows stand twice, the second with fewer words", Kind: EitherFile, Alone: true, stage: faults,
			apply: func(d *Draft, r *rand.Rand) {
				for _, row := range d.some(r, 3, nil) {
					t := d.Tables[0]
					again := &Row{Joint: -1, Cells: append([]Cell(nil), row.Cells...)}
					again.Cells[t.at("last_seen_date")].Text = ""
					t.Rows = append(t.Rows, again)
					d.lose(again, cohort.DuplicateRow)
				}
			}},
		{Name: "second row of the same joint", Does: "a revision entered as a primary of its own", Kind: EitherFile, Alone: true, stage: faults,
			apply: func(d *Draft, r *rand.Rand) {
				for _, row := range d.some(r, 3, func(j Joint) bool { return alive(j) && j.cells["operation_date"] < "2022" }) {
					t := d.Tables[0]
					again := &Row{Joint: -1, Cells: append([]Cell(nil), row.Cells...)}
					again.Cells[t.at("operation_date")].Text = shifted("operation_date", 2, 11)(d.Joints[row.Joint])
					if age, err := strconv.Atoi(again.Cells[t.at("age")].Text); err == nil {
						again.Cells[t.at("age")].Text = strconv.Itoa(age + 2)
					}
					t.Rows = append(t.Rows, again)
					d.lose(again, cohort.PossibleRevision)
				}
			}},
		{Name: "dead without a date", Does: "dead says yes, and there is no date and no last contact", Kind: EitherFile, Alone: true, stage: faults,
			apply: func(d *Draft, r *rand.Rand) {
				t := d.Tables[0]
				t.add(t.at("death_date"), Column{Name: "dead", Heading: "dead"}, func(row *Row) Cell {
					return Cell{Text: map[bool]string{true: "yes", false: "no"}[row.Cells[t.at("death_date")-1].Text != ""]}
				})
				for _, row := range d.some(r, 2, died) {
					d.cell(row, "death_date").Text, d.cell(row, "last_seen_date").Text = "", ""
					d.lose(row, cohort.DeadWithoutDate)
				}
			}},
		{Name: "dates of open order", Does: "no day above 12, so that nothing tells day from month", Kind: EitherFile, Alone: true, stage: days, Refused: dateOrder,
			apply: func(d *Draft, r *rand.Rand) {
				eachDate(d, func(c *Cell, y, m, day int) { c.Text = numeric(min(day, 12), m, y, "/") })
			}},
		{Name: "two-digit years without a pivot", Does: "3/4/19, and nobody says which century", Kind: EitherFile, Alone: true, stage: days,
			Refused: func(err error) bool {
				return errors.Is(err, cohort.ErrNoUsableRow) && strings.Contains(err.Error(), "--pivot")
			},
			apply: func(d *Draft, r *rand.Rand) {
				eachDate(d, func(c *Cell, y, m, day int) { c.Text = fmt.Sprintf("%02d/%02d/%02d", day, m, y%100) })
			}},
		{Name: "two sheets with the headings", Does: "a sheet for each half, and none is named", Kind: BookFile, Alone: true, stage: file,
			Refused: func(err error) bool {
				return errors.Is(err, sheet.ErrSheet) && strings.Contains(err.Error(), "--sheet")
			},
			apply: func(d *Draft, _ *rand.Rand) {
				t := d.Tables[0]
				half := *t
				half.Sheet, half.Rows, t.Rows = "First half", t.Rows[:len(t.Rows)/2], t.Rows[len(t.Rows)/2:]
				s, _ := half.sheet()
				t.Before = append(t.Before, s)
			}},
		{Name: "password", Does: "a workbook that opens with a password only", Kind: BookFile, Alone: true, stage: file,
			Refused: func(err error) bool { return errors.Is(err, sheet.ErrPassword) },
			apply:   func(d *Draft, _ *rand.Rand) { d.Tables[0].Password = "winter" }},
		{Name: "dates of both orders", Does: "day first in some rows and month first in others", Kind: EitherFile, Alone: true, stage: days, Refused: dateOrder,
			apply: func(d *Draft, r *rand.Rand) {
				n := 0
				eachDate(d, func(c *Cell, y, m, day int) {
					if n++; n%2 == 0 {
						c.Text = numeric(day, m, y, "/")
					} else {
						c.Text = numeric(m, day, y, "/")
					}
				})
			}},
		{Name: "duplicated heading", Does: "two columns are headed side", Kind: EitherFile, Alone: true, stage: shape, Refused: twoColumns,
			apply: func(d *Draft, _ *rand.Rand) {
				t := d.Tables[0]
				t.add(len(t.Columns), Column{Name: "again", Heading: t.Columns[t.at("side")].Heading}, func(*Row) Cell { return Cell{Text: "left"} })
			}},
		{Name: "stray quotation mark", Does: "a cell that begins with a mark and does not end", Kind: TextFile, Alone: true, stage: file,
			apply: func(d *Draft, r *rand.Rand) {
				row := d.some(r, 1, alive)[0]
				c := d.cell(row, "diagnosis")
				c.Text, c.Raw = `"osteoarthritis`, true
				d.lose(row, cohort.RowUnreadable)
			}},
		{Name: "formula without a value in a needed cell", Does: "an operation date that no program has worked out", Kind: BookFile, Alone: true, stage: cells,
			Says: []string{"formula cells hold no saved value", "Joints!B"},
			apply: func(d *Draft, r *rand.Rand) {
				for _, row := range d.some(r, 2, alive) {
					d.cell(row, "operation_date").Book = unsaved
					d.lose(row, cohort.OperationDateMissing)
				}
			}},
		{Name: "error in a needed cell", Does: "#REF! as the operation date", Kind: EitherFile, Alone: true, stage: cells,
			apply: func(d *Draft, r *rand.Rand) {
				for _, row := range d.some(r, 2, alive) {
					*d.cell(row, "operation_date") = errorCell("#REF!")
					d.lose(row, cohort.OperationDateMissing)
				}
			}},
	})
