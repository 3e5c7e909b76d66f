package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// The surgeons as the clean tables have them, and as people type them.
var (
	clean = []string{"Mr Linden", "Miss Rowan", "Prof Alder", "Dr Hazel", "Mr Birch", "Ms Aspen"}
	typed = [][]string{{"Mr Linden", "Mr Linden", "LINDEN", "Linden", "mr. linden"}, {"Miss Rowan", "Miss Rowan", "Rowan"}, {"Prof Alder", "Prof Alder", "Prof. Alder", "alder"},
		{"Dr Hazel", "Dr Hazel", "HAZEL"}, {"Mr Birch", "Mr Birch", "Birch, "}, {"Ms Aspen", "Ms Aspen", "Ms. Aspen"}}
)

// sheets writes a workbook of sheets with rows of cells.
func sheets(name string, all ...sheet) error {
	f := excelize.NewFile()
	defer f.Close()
	style, err := f.NewStyle(&excelize.Style{NumFmt: 14})
	if err != nil {
		return err
	}
	for i, s := range all {
		if i == 0 {
			err = f.SetSheetName("Sheet1", s.name)
		} else {
			_, err = f.NewSheet(s.name)
		}
		if err != nil {
			return err
		}
		for k, row := range s.rows {
			for at, value := range row {
				cell, _ := excelize.CoordinatesToCellName(at+1, k+1)
				if t, ok := value.(time.Time); ok {
					if t.IsZero() {
						continue
					}
					err = f.SetCellStyle(s.name, cell, cell, style)
				}
				if err == nil {
					err = f.SetCellValue(s.name, cell, value)
				}
				if err != nil {
					return err
				}
			}
		}
	}
	if err := f.SetDocProps(&excelize.DocProperties{Created: "2025-01-01T00:00:00Z", Modified: "2025-01-01T00:00:00Z"}); err != nil {
		return err
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		return err
	}
	return os.WriteFile(name, b.Bytes(), 0o644)
}

type sheet struct {
	name string
	rows [][]any
}

func one(r *rand.Rand, of ...string) string { return of[r.IntN(len(of))] }

// oneSurgeon is a surgeon's own: hips only, with a title, a blank row between years
// and a total; revisions and deaths on sheets of their own, the former without a
// column for the joint.
func oneSurgeon(name string, all []*joint, r *rand.Rand) error {
	main := [][]any{{"My hips"}, {}, {"Hosp No", "Surname", "DOB", "Date of op", "Side", "Op", "Bearing", "Cement(ed?)", "M/F", "Comments"}}
	revisions := [][]any{{"Hosp No", "Side", "Date of rev", "Reason for revision"}}
	deaths := [][]any{{"Hosp No", "RIP date"}}
	dead := make(map[*patient]bool)
	year := 0
	for _, j := range all {
		if y := j.operation.Year(); year != 0 && y != year {
			main = append(main, []any{})
		}
		year = j.operation.Year()
		bearing := map[string][]string{"metal-on-polyethylene": {"MoP", "M-o-P", "metal on poly"}, "ceramic-on-polyethylene": {"CoP", "ceramic on poly"}, "ceramic-on-ceramic": {"CoC", "C/C"}}[j.bearing]
		fixation := map[string][]string{"cemented": {"Cemented", "cem", "cement"}, "porous": {"Uncem", "uncemented", "cementless"}}[j.fixation]
		main = append(main, []any{j.patient.number, j.patient.name, j.patient.birth, j.operation, one(r, strings.ToUpper(j.side[:1]), j.side, strings.ToUpper(j.side[:1])), one(r, "THR", "THR", "Total hip"), one(r, bearing...), one(r, fixation...), j.patient.sex, one(r, "", "", "uneventful")})
		if !j.revision.IsZero() {
			revisions = append(revisions, []any{j.patient.number, strings.ToUpper(j.side[:1]), j.revision, j.reason})
		}
		if !j.patient.death.IsZero() && !dead[j.patient] {
			dead[j.patient] = true
			deaths = append(deaths, []any{j.patient.number, j.patient.death})
		}
	}
	main = append(main, []any{"Total", "", "", len(all)})
	return sheets(name, sheet{"Notes", [][]any{{"One row a hip."}, {"Ask before you change anything."}}}, sheet{"Hips", main}, sheet{"Revisions", revisions}, sheet{"RIP", deaths})
}

// department is a sheet a year, under headings that change every few years, with
// the names of six surgeons typed in several ways.
func department(name string, all []*joint, r *rand.Rand) error {
	headings := [][]any{
		{"Pat ID", "Operation date", "Joint", "Side", "Procedure", "Bearing", "Fixation", "Age", "Sex", "Surgeon", "Revised on", "Reason for revision", "Date of death"},
		{"Hosp No", "Op date", "Hip/Knee", "L/R", "Operation", "Bearing surface", "Cement(ed?)", "DOB", "M/F", "Cons", "Rev date", "Rev indication", "RIP date"},
		{"NHS No", "Date of surgery", "H/K", "Laterality", "Operation", "Articulation", "Fixation", "Date of birth", "Gender", "Lead surgeon", "Date of revision", "Revision reason", "Date died"},
	}
	var books []sheet
	for _, j := range all {
		year := j.operation.Year()
		kind := min((year-2016)/3, 2)
		if title := fmt.Sprint(year); len(books) == 0 || books[len(books)-1].name != title {
			books = append(books, sheet{title, [][]any{{"Arthroplasty " + title}, headings[kind]}})
		}
		var age any = j.age()
		if kind > 0 {
			age = j.patient.birth
		}
		procedure := map[string]string{"hip": "THR", "knee": "TKR"}[j.joint]
		which := j.joint
		if kind == 2 {
			which = strings.ToUpper(j.joint[:1])
		}
		b := &books[len(books)-1]
		b.rows = append(b.rows, []any{j.patient.number, j.operation, which, one(r, j.side, strings.ToUpper(j.side[:1])), procedure, j.bearing, j.fixation, age, j.patient.sex,
			one(r, typed[j.surgeon]...), j.revision, j.reason, j.patient.death})
	}
	return sheets(name, append(books, sheet{"Codes", [][]any{{"H", "hip"}, {"K", "knee"}}})...)
}

// fortyKnees is a short list of one who has never revised a knee, and has no
// columns but the most common.
func fortyKnees(name string, all []*joint, r *rand.Rand) error {
	rows := [][]any{{"Pat", "Date of operation", "H/K", "Side", "Op", "Poly", "Age", "Sex", "Fixation", "Date of revision", "RIP date"}}
	for _, j := range all {
		rows = append(rows, []any{j.patient.number, j.operation, "K", strings.ToUpper(j.side[:1]), one(r, "TKR", "TKR", "TKA"), "", j.age(), j.patient.sex, j.fixation, "", j.patient.death})
	}
	return sheets(name, sheet{"Sheet1", rows})
}
