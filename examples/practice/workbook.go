package main

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// The headings of the workbook, as somebody may type them, in the order of the
// columns.
var bookHeadings = [columns]string{
	"Patient no", "Date of operation", "Joint", "Side", "Operation", "Bearing surface", "Fixation", "Age at op", "Sex (M/F)", "Indication",
	"Date of revision", "Revised?", "Reason for revision", "Date of death", "Last seen", "Consultant", "Unit",
}

// groups are the titles over several columns, each up to the column named.
var groups = []struct {
	title    string
	from, to int
}{
	{"Operation", colOperation, colFixation},
	{"Patient", colAge, colDiagnosis},
	{"Outcome", colRevision, colLastSeen},
}

const (
	tableSheet = "Joints"
	groupRow   = 4
)

// writeWorkbook writes the rows as a workbook that several people have typed
// into: titles and group titles above, a blank row between years, dates as date
// cells but for some rows of text, ages that are text, a row of totals and notes
// below, and a sheet of notes.
func writeWorkbook(name string, rows []*record) error {
	f := excelize.NewFile()
	defer f.Close()
	w := &bookWriter{f: f}
	w.notes()
	w.table(rows)
	if w.err != nil {
		return w.err
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		return err
	}
	return os.WriteFile(name, b.Bytes(), 0o644)
}

// bookWriter keeps the first error.
type bookWriter struct {
	f   *excelize.File
	err error
}

func (w *bookWriter) keep(err error) {
	if w.err == nil {
		w.err = err
	}
}

func (w *bookWriter) set(sheet string, column, row int, value any) {
	cell, err := excelize.CoordinatesToCellName(column+1, row)
	w.keep(err)
	w.keep(w.f.SetCellValue(sheet, cell, value))
}

func (w *bookWriter) merge(sheet string, fromColumn, fromRow, toColumn, toRow int) {
	from, err := excelize.CoordinatesToCellName(fromColumn+1, fromRow)
	w.keep(err)
	to, err := excelize.CoordinatesToCellName(toColumn+1, toRow)
	w.keep(err)
	w.keep(w.f.MergeCell(sheet, from, to))
}

// notes writes the first sheet.
func (w *bookWriter) notes() {
	const sheet = "Notes"
	w.keep(w.f.SetSheetName("Sheet1", sheet))
	for i, line := range [][]string{
		{"Invented data. No real patient, surgeon or hospital is in this workbook, and it says nothing about any implant."},
		{"Follow-up is complete to " + closingDate + "."},
		{},
		{"MoP", "metal head, polyethylene liner"},
		{"XLPE", "cross-linked polyethylene"},
		{"OA", "osteoarthritis"},
	} {
		for j, text := range line {
			w.set(sheet, j, i+1, text)
		}
	}
}

// table writes the second sheet.
func (w *bookWriter) table(rows []*record) {
	index, err := w.f.NewSheet(tableSheet)
	w.keep(err)
	w.f.SetActiveSheet(index)
	format := "dd/mm/yyyy"
	dates, err := w.f.NewStyle(&excelize.Style{CustomNumFmt: &format})
	w.keep(err)

	w.set(tableSheet, 0, 1, "Hip and knee replacements: invented data")
	w.merge(tableSheet, 0, 1, columns-1, 1)
	w.set(tableSheet, 0, 2, "No real patient is in this table. Follow-up is complete to "+closingDate+".")

	inGroup := make(map[int]bool)
	for _, g := range groups {
		w.set(tableSheet, g.from, groupRow, g.title)
		w.merge(tableSheet, g.from, groupRow, g.to, groupRow)
		for c := g.from; c <= g.to; c++ {
			inGroup[c] = true
		}
	}
	for c, heading := range bookHeadings {
		if inGroup[c] {
			w.set(tableSheet, c, groupRow+1, heading)
			continue
		}
		w.set(tableSheet, c, groupRow, heading)
		w.merge(tableSheet, c, groupRow, c, groupRow+1)
	}

	at := groupRow + 2
	year := ""
	for i, r := range rows {
		if y := r.cells[colOperation][:4]; y > year {
			if year != "" {
				at++ // a blank row between years
			}
			year = y
		}
		for c, text := range r.cells {
			w.cell(c, at, i, text, dates)
		}
		at++
	}
	w.set(tableSheet, 0, at, "Total")
	w.set(tableSheet, colAge, at, len(rows))
	w.set(tableSheet, 0, at+2, "? means that nobody knows; dates before 2014 were copied from the old book")
	w.keep(w.f.SetPanes(tableSheet, &excelize.Panes{Freeze: true, YSplit: groupRow + 1, TopLeftCell: fmt.Sprintf("A%d", groupRow+2), ActivePane: "bottomLeft"}))
}

// cell writes one cell as people do. Of every 40 rows three have dates as text, two
// day first and one with a named month; one in 15 ages is text.
func (w *bookWriter) cell(c, at, row int, text string, dates int) {
	switch c {
	case colOperation, colRevision, colDeath, colLastSeen:
		if text == "" {
			return
		}
		d, err := time.Parse(time.DateOnly, text)
		switch {
		case err != nil: // a day that is not in the calendar, typed day first
			part := strings.Split(text, "-")
			w.set(tableSheet, c, at, part[2]+"/"+part[1]+"/"+part[0])
		case row%40 == 7 || row%40 == 8:
			w.set(tableSheet, c, at, d.Format("02/01/2006"))
		case row%40 == 23:
			w.set(tableSheet, c, at, d.Format("2 Jan 2006"))
		default:
			w.set(tableSheet, c, at, int(d.Sub(time.Date(1899, time.December, 30, 0, 0, 0, 0, time.UTC))/(24*time.Hour)))
			name, err := excelize.CoordinatesToCellName(c+1, at)
			w.keep(err)
			w.keep(w.f.SetCellStyle(tableSheet, name, name, dates))
		}
	case colAge:
		age, err := strconv.Atoi(text)
		if err != nil || row%15 == 4 {
			w.set(tableSheet, c, at, text)
			return
		}
		w.set(tableSheet, c, at, age)
	default:
		if text != "" {
			w.set(tableSheet, c, at, text)
		}
	}
}
