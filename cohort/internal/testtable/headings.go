package testtable

import (
	"fmt"
	"math/rand/v2"
	"strings"
)

// head gives the headings that a map knows.
func head(d *Draft, names map[string][]string, r *rand.Rand) {
	for _, t := range d.Tables {
		for i, c := range t.Columns {
			if words := names[c.Name]; len(words) > 0 {
				t.Columns[i].Heading = words[r.IntN(len(words))]
			}
		}
	}
}

var otherHeadings = map[string][]string{
	"patient": {"Patient ID", "Hospital number", "MRN"}, "operation_date": {"Date of operation", "Op date", "DOS", "Surgery Date", "Primary date"},
	"joint": {"Joint replaced", "Type of joint"}, "side": {"Laterality", "L/R", "Operated side"}, "procedure": {"Operation", "Procedure performed", "Op"},
	"bearing": {"Bearing surface", "Bearing couple", "Articulation"}, "head": {"Femoral head", "Head material"}, "liner": {"Liner type", "Acetabular liner"},
	"fixation": {"Type of fixation", "Fixation method"}, "cup_fixation": {"Acetabular fixation", "Cup fixation"}, "stem_fixation": {"Fixation of stem"},
	"tibia_fixation": {"Tibial fixation"}, "femur_fixation": {"Fixation of femur"}, "age": {"Age at op", "Age at surgery", "Patient age"},
	"birth_date": {"DOB", "Date of birth", "D.O.B."}, "sex": {"Gender", "M/F"}, "diagnosis": {"Indication", "Primary diagnosis"},
	"revision_date": {"Date of revision", "Rev. date", "Date revised"}, "revised": {"Revised?", "Revision done"}, "revision_reason": {"Reason for revision", "Cause of revision"},
	"death_date": {"Date of death", "Died on"}, "last_seen_date": {"Last follow-up", "Last seen", "Date of last contact"}, "surgeon": {"Consultant", "Lead surgeon"},
	"hospital": {"Unit", "Site"}, "operation_type": {"Type of operation", "Primary or revision"},
}

var foreignHeadings = map[string][]string{
	"patient": {"Patientennummer"}, "operation_date": {"OP-Datum", "Datum der Operation"}, "joint": {"Gelenk"}, "side": {"Seite", "Côté"},
	"procedure": {"Eingriff"}, "bearing": {"Gleitpaarung", "Couple de frottement"}, "fixation": {"Verankerung"}, "age": {"Alter bei OP"},
	"birth_date": {"Geb.-Datum", "Fødselsdato"}, "sex": {"Geschlecht", "Kjønn"}, "diagnosis": {"Diagnose"}, "revision_date": {"Wechseldatum", "Date de révision"},
	"revised": {"revidiert"}, "revision_reason": {"Revisionsgrund"}, "death_date": {"Sterbedatum", "Date de décès"}, "last_seen_date": {"Letzter Kontakt"},
	"surgeon": {"Chirurg"}, "hospital": {"Klinik", "Hôpital"},
}

var hinted = map[string][]string{
	"operation_date": {"OPERATION DATE (REQUIRED)"}, "side": {"Side (L/R)"}, "age": {"AGE (YEARS)", "Age (yrs)"}, "sex": {"Sex (M/F)"},
	"revision_date": {"REVISION DATE (IF ANY)"}, "revised": {"Revised (y/n)"}, "death_date": {"Death date (if dead)"}, "revision_reason": {"Revision reason (if revised)"},
}

var headingDamages = []Damage{
	{Name: "headings in other words", Does: "Op date, DOB, Laterality and the like", Kind: EitherFile, stage: heads, groups: []string{"headings"},
		apply: func(d *Draft, r *rand.Rand) { head(d, otherHeadings, r) }},
	{Name: "headings of other languages", Does: "German, French and Norwegian headings", Kind: EitherFile, stage: heads, groups: []string{"headings", "accents"},
		apply: func(d *Draft, r *rand.Rand) { head(d, foreignHeadings, r) }},
	{Name: "headings in capitals", Does: "OPERATION DATE", Kind: EitherFile, stage: heads, groups: []string{"headings"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				for i, c := range t.Columns {
					t.Columns[i].Heading = strings.ToUpper(strings.ReplaceAll(c.Heading, "_", " "))
				}
			}
		}},
	{Name: "headings with units", Does: "Age (years), Side (L/R)", Kind: EitherFile, stage: heads, groups: []string{"headings"},
		apply: func(d *Draft, r *rand.Rand) { head(d, hinted, r) }},
	{Name: "headings of several lines", Does: "a line end inside a heading", Kind: EitherFile, stage: heads, groups: []string{"headings", "cr"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				for i, c := range t.Columns {
					t.Columns[i].Heading = strings.Replace(c.Heading, "_", "\n", 1)
				}
			}
		}},
	{Name: "headings of the user's own", Does: "headings that only the settings explain", Kind: EitherFile, stage: heads, groups: []string{"headings"},
		apply: func(d *Draft, _ *rand.Rand) {
			d.Options.Columns = make(map[string]string)
			for _, t := range d.Tables {
				for i, c := range t.Columns {
					if !c.Extra {
						t.Columns[i].Heading = "My " + c.Name[:3] + " " + fmt.Sprint(len(c.Name), c.Name[len(c.Name)/2:])
						d.Options.Columns[t.Columns[i].Heading] = c.Name
					}
				}
			}
		}},
	{Name: "columns shuffled", Does: "the columns in any order", Kind: EitherFile, stage: shape,
		apply: func(d *Draft, r *rand.Rand) {
			for _, t := range d.Tables {
				r.Shuffle(len(t.Columns), func(i, j int) {
					t.Columns[i], t.Columns[j] = t.Columns[j], t.Columns[i]
					for _, row := range t.Rows {
						row.Cells[i], row.Cells[j] = row.Cells[j], row.Cells[i]
					}
				})
			}
		}},
	{Name: "columns of no use", Does: "a name, an implant's number and a blank column", Kind: EitherFile, stage: shape, groups: []string{"extra"},
		apply: func(d *Draft, r *rand.Rand) {
			for _, t := range d.Tables {
				t.add(r.IntN(len(t.Columns)), Column{Name: "name", Heading: "Surname", Extra: true}, func(row *Row) Cell {
					if row.Joint < 0 {
						return Cell{}
					}
					return Cell{Text: d.Joints[row.Joint].name}
				})
				t.add(r.IntN(len(t.Columns)), Column{Name: "lot", Heading: "Lot no.", Extra: true}, func(*Row) Cell { return Cell{Text: fmt.Sprintf("%07d", r.IntN(1e7))} })
				t.add(1+r.IntN(len(t.Columns)-1), Column{Name: "blank", Heading: "", Extra: true}, func(*Row) Cell { return Cell{} })
			}
		}},
	{Name: "notes with line ends and marks", Does: "a column of notes with line ends, quotation marks and separators", Kind: EitherFile, stage: shape, groups: []string{"cr", "notes"},
		apply: func(d *Draft, r *rand.Rand) {
			notes := []string{"", "", "seen in clinic, well", "said \"much better\"\nno pain; walks", "line one\nline two\n\nline four", `12" scar`, "a\tb|c;d,e"}
			for _, t := range d.Tables {
				t.add(len(t.Columns), Column{Name: "notes", Heading: "Notes", Extra: true}, func(*Row) Cell { return Cell{Text: notes[r.IntN(len(notes))]} })
			}
		}},
	{Name: "two columns of notes", Does: "two columns of no use under one heading", Kind: EitherFile, stage: shape, groups: []string{"twice"},
		apply: func(d *Draft, _ *rand.Rand) {
			t := d.Tables[0]
			for range 2 {
				t.add(len(t.Columns), Column{Name: "comment", Heading: "Comment", Extra: true}, func(*Row) Cell { return Cell{Text: "ok"} })
			}
		}},
	{Name: "hidden columns", Does: "columns that are not shown", Kind: BookFile, stage: shape, Says: []string{"hidden columns were read like the others"},
		apply: func(d *Draft, r *rand.Rand) {
			for _, t := range d.Tables {
				for i := range t.Columns {
					t.Columns[i].Hidden = r.IntN(4) == 0
				}
				t.Columns[0].Hidden = true
			}
		}},
}
