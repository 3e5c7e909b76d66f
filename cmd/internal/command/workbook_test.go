package command

import (
	"bytes"
	"time"

	"github.com/xuri/excelize/v2"
)

func init() {
	awkward["three-sheets"] = threeSheets
	awkward["sheet-per-year"] = sheetPerYear
	awkward["apart"] = apartSheets
}

func date(y int, m time.Month, d int) time.Time { return time.Date(y, m, d, 0, 0, 0, 0, time.UTC) }

type sheet struct {
	name string
	rows [][]any
}

// threeSheets is a workbook as a practice keeps it: titles above the headings,
// day cells, a total below; revisions and deaths in sheets of their own.
func threeSheets() []byte {
	return workbookOf(
		sheet{"Hips and knees", [][]any{
			{"Joint replacements"}, {},
			{"Patient ID", "Joint", "Side", "Procedure", "Date of operation"},
			{"SECRET1", "hip", "L", "THR", date(2020, 1, 1)},
			{"SECRET2", "hip", "R", "THR", date(2020, 1, 1)},
			{"SECRET3", "hip", "L", "THR", "someday"},
			{"Total", 3},
		}},
		sheet{"Redone", [][]any{{"Patient ID", "Joint", "Side", "Date of revision"}, {"SECRET1", "hip", "left", date(2020, 7, 1)}}},
		sheet{"Died", [][]any{{"Patient ID", "Date of death"}, {"SECRET2", date(2021, 1, 1)}}},
	)
}

// sheetPerYear is a workbook with one sheet for each year of operation.
func sheetPerYear() []byte {
	headings := []any{"Patient ID", "Joint", "Side", "Procedure", "Date of operation", "Date of revision", "Dead"}
	return workbookOf(
		sheet{"2019", [][]any{headings, {"SECRET1", "hip", "L", "THR", date(2019, 1, 1), nil, "no"}, {"SECRET2", "hip", "R", "THR", date(2019, 1, 1), date(2020, 1, 1), "no"}}},
		sheet{"2020", [][]any{headings, {"SECRET3", "hip", "L", "THR", date(2020, 1, 1), nil, "no"}, {"SECRET4", "hip", "R", "THR", "someday", nil, "no"}}},
		sheet{"Notes", [][]any{{"Fill in L or R"}}},
	)
}

// apartSheets is a workbook whose sheets say by their names what they hold.
func apartSheets() []byte {
	return workbookOf(
		sheet{"Primaries", [][]any{{"Patient ID", "Joint", "Side", "Procedure", "Date of operation"}, {"SECRET1", "hip", "L", "THR", date(2020, 1, 1)}}},
		sheet{"Revisions", [][]any{{"Patient ID", "Joint", "Side", "Date of revision"}, {"SECRET1", "hip", "L", date(2021, 1, 1)}}},
		sheet{"Deaths", [][]any{{"Patient ID", "Date of death"}, {"SECRET1", date(2022, 1, 1)}}},
	)
}

func workbookOf(sheets ...sheet) []byte {
	f := excelize.NewFile()
	defer f.Close()
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
