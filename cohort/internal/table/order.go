package table

import (
	"fmt"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/store"
)

// evidence is what a date column says about the order of day and month. Rows
// are the lowest that say so; 0 means none.
type evidence struct {
	dayFirst, monthFirst int
	either, either2      int // the two lowest
}

func (e *evidence) add(what dates.Evidence, row int) {
	first := func(to *int) {
		if *to == 0 || row < *to {
			*to = row
		}
	}
	switch what {
	case dates.OnlyDayFirst:
		first(&e.dayFirst)
	case dates.OnlyMonthFirst:
		first(&e.monthFirst)
	case dates.Either:
		switch {
		case e.either == 0 || row < e.either:
			e.either, e.either2 = row, e.either
		case row > e.either:
			first(&e.either2)
		}
	}
}

func (e *evidence) merge(o evidence) {
	for _, x := range []struct {
		what dates.Evidence
		row  int
	}{{dates.OnlyDayFirst, o.dayFirst}, {dates.OnlyMonthFirst, o.monthFirst}, {dates.Either, o.either}, {dates.Either, o.either2}} {
		if x.row > 0 {
			e.add(x.what, x.row)
		}
	}
}

// DateOrderError says why the order of day and month could not be settled.
type DateOrderError struct {
	File          string
	Column        string // "" if no column allows a decision
	Heading       string // as typed
	RowA, RowB    int    // two rows that show it; RowB is 0 if there is only one
	Contradiction bool   // RowA can only be day first, RowB only month first
	OtherColumn   string // set if two columns settle it differently
	OtherHeading  string

	// Another is a table read before whose own dates settle its order, Order; "" for none.
	Another string
	Order   dates.Order
}

// Elsewhere says what another table's dates are, in a clause; "" if none tells.
func (e *DateOrderError) Elsewhere() string {
	if e.Another == "" {
		return ""
	}
	return fmt.Sprintf("; those of %s are %s", e.Another, e.Order)
}

func (e *DateOrderError) Error() string {
	const say = "Say which with --date-order day-first or month-first, or write dates as 2019-04-03."
	if e.Contradiction && e.OtherColumn != "" {
		return fmt.Sprintf("%s: row %d of column %q can only be day first, row %d of column %q only month first. Write dates as 2019-04-03.",
			e.File, e.RowA, e.Heading, e.RowB, e.OtherHeading)
	}
	if e.Contradiction {
		return fmt.Sprintf("%s: column %q: row %d can only be day first, row %d only month first. Write dates as 2019-04-03.",
			e.File, e.Heading, e.RowA, e.RowB)
	}
	rows := fmt.Sprintf("row %d", e.RowA)
	if e.RowB > 0 {
		rows = fmt.Sprintf("rows %d and %d", e.RowA, e.RowB)
	}
	return fmt.Sprintf("%s: column %q: %s could be day first or month first, and nothing in the table says which%s. %s", e.File, e.Heading, rows, e.Elsewhere(), say)
}

// ColumnOrder is the order in which one column's numeric dates were read.
type ColumnOrder struct {
	Column string
	Order  dates.Order
	// From is the column whose dates settled it: its own, or another of the
	// table; "" if the order was asked for.
	From string
}

// settleOrders decides the order of each date column of one table.
func settleOrders(file string, found [store.DateCount]evidence, heading [store.DateCount]string, asked dates.Order) ([store.DateCount]dates.Order, []ColumnOrder, error) {
	var orders [store.DateCount]dates.Order
	var said []ColumnOrder
	if asked != dates.OrderUnknown {
		for i, e := range found {
			orders[i] = asked
			if e != (evidence{}) {
				said = append(said, ColumnOrder{DateColumns[i], asked, ""})
			}
		}
		return orders, said, nil
	}
	table, from := dates.OrderUnknown, -1
	for i, e := range found {
		if e.dayFirst > 0 && e.monthFirst > 0 {
			return orders, nil, &DateOrderError{File: file, Column: DateColumns[i], Heading: heading[i], RowA: e.dayFirst, RowB: e.monthFirst, Contradiction: true}
		}
		switch {
		case e.dayFirst > 0:
			orders[i] = dates.DayFirst
		case e.monthFirst > 0:
			orders[i] = dates.MonthFirst
		default:
			continue
		}
		if from < 0 {
			table, from = orders[i], i
		} else if table != orders[i] {
			a, b := from, i
			if orders[a] == dates.MonthFirst {
				a, b = b, a
			}
			return orders, nil, &DateOrderError{File: file, Column: DateColumns[a], Heading: heading[a], RowA: found[a].dayFirst, RowB: found[b].monthFirst,
				Contradiction: true, OtherColumn: DateColumns[b], OtherHeading: heading[b]}
		}
	}
	for i, e := range found {
		switch {
		case orders[i] != dates.OrderUnknown:
			said = append(said, ColumnOrder{DateColumns[i], orders[i], DateColumns[i]})
		case e.either == 0:
			orders[i] = table
		case from < 0:
			return orders, nil, &DateOrderError{File: file, Column: DateColumns[i], Heading: heading[i], RowA: e.either, RowB: e.either2}
		default:
			orders[i] = table
			said = append(said, ColumnOrder{DateColumns[i], table, DateColumns[from]})
		}
	}
	return orders, said, nil
}

// settledBefore is the first of some tables whose own dates settle their order.
func settledBefore(files []File) (title string, order dates.Order) {
	for _, f := range files {
		for _, o := range f.DateOrders {
			return f.Title(), o.Order
		}
	}
	return "", dates.OrderUnknown
}
