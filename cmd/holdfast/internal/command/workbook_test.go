package command

import (
	"bytes"
	"time"

	"github.com/xuri/excelize/v2"
)

func init() {
	awkward["three-sheets"] = threeSheets
}

// threeSheets is a workbook as a practice keeps it: titles above the headings,
// day cells, a total below; revisions and deaths in sheets of their own.
func threeSheets() []byte {
	f := excelize.NewFile()
	defer f.Close()
	day := func(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }
	sheets := []struct {
		name string
		rows [][]any
	}{
		{"Hips and knees", [][]any{
			{"Joint replacements"}, {},
			{"Patient ID", "Joint", "Side", "Procedure", "Date of operation"},
			{"SECRET1", "hip", "L", "THR", day(2020, 1, 1)},
			{"SECRET2", "hip", "R", "THR", day(2020, 1, 1)},
			{"SECRET3", "hip", "L", "THR", "someday"},
			{"Total", 3},
		}},
		{"Redone", [][]any{{"Patient ID", "Joint", "Side", "Date of revision"}, {"SECRET1", "hip", "left", day(2020, 7, 1)}}},
		{"Died", [][]any{{"Patient ID", "Date of death"}, {"SECRET2", day(2021, 1, 1)}}},
	}
	for i, s := range sheets {
		if i == 0 {
			f.SetSheetName("Sheet1", s.name)
		} else if _, err := f.NewSheet(s.name); err != nil {
			panic(err)
		}
		for j, row := range s.rows {
			cell, _ := excelize.CoordinatesToCellName(1, j+1)
			if err := f.SetSheetRow(s.name, cell, &row); err != nil {
				panic(err)
			}
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		panic(err)
	}
	return b.Bytes()
}
