package column

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort/internal/words"
)

func TestHeading(t *testing.T) {
	for column, headings := range map[string][]string{
		"joint_id":        {"Case no", "Case No.", "Record ID", "case number", "Joint ID"},
		"patient":         {"Hospital number", "MRN", "Patient ID", "PatientID", "patient no.", "Pseudonym", "hosp. no", "NHS No", "Hosp No", "Pat.-Nr."},
		"operation_date":  {"Date of operation", "Op date", "Operation date", "OperationDate", "operation-date", "Date of surgery", "Surgery date", "Date of op.", "Date of operation (dd/mm/yyyy)", "OP-Datum", "Date of primary", "Operasjonsdato", "Fecha de cirugía"},
		"operation_type":  {"Type of operation", "Operation type", "Primary/Revision"},
		"joint":           {"Joint replaced", "JOINT ", "Hip/Knee"},
		"side":            {"Laterality", "Side (L/R)", "Left/Right", "Seite", "Côté"},
		"procedure":       {"Operation", "Procedure performed", "Procedure type", "Op"},
		"bearing":         {"Bearing surface", "Bearing combination", "Articulation", "Bearing type"},
		"head":            {"Head material", "Femoral head"},
		"liner":           {"Liner material", "Liner type"},
		"polyethylene":    {"Poly type", "Polyethylene type"},
		"fixation":        {"Cemented?", "Type of fixation", "Fixation method", "Fixation type"},
		"cup_fixation":    {"Cup fixation", "Acetabular fixation"},
		"stem_fixation":   {"Stem fixation"},
		"tibia_fixation":  {"Tibial fixation"},
		"femur_fixation":  {"Femur fixation"},
		"age":             {"Age at op", "Age at operation", "Age (years)", "Age at surgery", "Age yrs"},
		"birth_date":      {"DOB", "D.O.B.", "Date of birth", "DateOfBirth", "Birth date", "Geburtsdatum", "Date de naissance", "fødselsdato"},
		"birth_year":      {"Year of birth", "YOB"},
		"sex":             {"Gender", "Sex (M/F)", "M/F", "Geschlecht"},
		"diagnosis":       {"Indication", "Indication for surgery", "Primary diagnosis"},
		"activity":        {"Activity level", "Activity score"},
		"asa":             {"ASA", "ASA grade", "ASA score", "A.S.A."},
		"bmi":             {"BMI", "Body mass index", "BMI (kg/m2)", "BMI kg/m²"},
		"smoking":         {"Smoker", "Smoking status", "Smoker (y/n)"},
		"approach":        {"Surgical approach", "Approach used"},
		"technique":       {"Surgical technique", "Technology"},
		"grade":           {"Surgeon grade", "Operating grade", "Grade of surgeon"},
		"head_size":       {"Head size", "Head size (mm)", "Femoral head diameter", "Head diameter"},
		"surgeon":         {"Cons", "Lead surgeon", "Consultant", "Operating surgeon", "Surgeon name"},
		"hospital":        {"Site", "Unit", "Hospital name"},
		"revision_date":   {"Date revised", "Date of revision", "Rev date", "Revision date (if any)", "Date of 1st revision", "Revision 1 date"},
		"revised":         {"Revised?", "Revised (y/n)", "Revision status"},
		"revision_reason": {"Rev indication", "Reason for revision", "Indication for revision", "Revision reason", "Cause of revision"},
		"death_date":      {"RIP date", "Date of death", "Death date", "Date died", "Verstorben am", "Décédé le"},
		"dead":            {"Deceased", "Dead?", "Alive/dead", "Vital status"},
		"last_seen_date":  {"Last contact", "Last follow-up", "Last seen", "Date last seen", "Date of last follow up", "Last FU", "zuletzt gesehen", "Última visita", "Senaste kontroll"},
	} {
		if got := Heading(column); got.Column != column || !got.Exact {
			t.Errorf("Heading(%q) = %+v, want exact", column, got)
		}
		if got := Heading(" " + strings.ToUpper(column)); got.Column != column || !got.Exact {
			t.Errorf("Heading in capitals (%q) = %+v, want exact", column, got)
		}
		for _, typed := range headings {
			exact := strings.EqualFold(strings.TrimSpace(typed), column)
			if diff := cmp.Diff(Match{Column: column, Exact: exact}, Heading(typed)); diff != "" {
				t.Errorf("Heading(%q) (-want +got):\n%s", typed, diff)
			}
		}
	}
}

// Words in short are written out, where the heading as it stands means nothing.
func TestHeadingInShort(t *testing.T) {
	for typed, want := range map[string]string{
		"Jt": "joint", "JT.": "joint", "Jt (H/K)": "joint", "Jnt": "joint", "Brg": "bearing", "Brg couple": "bearing", "Brng surf.": "bearing", "Bearing combo": "bearing",
		"Fix": "fixation", "Cup fix": "cup_fixation", "Fix type": "fixation", "Head diam (mm)": "head_size", "Op dt": "operation_date", "Dt of op": "operation_date", "OpDt": "operation_date",
		"Proc": "procedure", "Opn": "procedure", "Rev dt": "revision_date", "1st rev date": "revision_date", "Rev indic": "revision_reason", "Dx": "diagnosis", "Appr": "approach", "Pt no": "patient", "Dt of death": "death_date",
	} {
		if got := Heading(typed); got.Column != want {
			t.Errorf("Heading(%q) = %+v, want %s", typed, got, want)
		}
	}
	for _, typed := range []string{"Hosp", "Fixed", "Proc code 2", "Jts", "Surf", "Rev surgeon", "Dt of discharge"} {
		if got := Heading(typed); got.Column != "" || got.Between != nil {
			t.Errorf("Heading(%q) = %+v, want none", typed, got)
		}
	}
}

func TestHeadingUnknown(t *testing.T) {
	for _, typed := range []string{"", " ", "-", "Cup", "Stem", "Notes", "Dates", "operation_dates", "Date of discharge", "Date of admission",
		"Age now", "Current age", "Assistant grade", "Supervision", "Assistant surgeon", "Next of kin date of birth", "(dd/mm/yyyy)", "Revision surgeon", "Revision hospital", "Liner size", "Time to revision", "Headroom"} {
		if got := Heading(typed); got.Column != "" || got.Between != nil {
			t.Errorf("Heading(%q) = %+v, want none", typed, got)
		}
	}
	for _, typed := range []string{"Date", "DOD", "ID", "No.", "Nr.", "Revision", "Revision (y/n)", "Died", "Death", "Status", "Reason", "Femoral fixation", "Type", "Follow-up"} {
		if got := Heading(typed); got.Column != "" || len(got.Between) == 0 {
			t.Errorf("Heading(%q) = %+v, want unclear", typed, got)
		}
	}
}

func TestUnclearHeadings(t *testing.T) {
	for phrase, between := range unclear {
		if words.Fold(phrase) != phrase {
			t.Errorf("unclear heading %q folds to %q", phrase, words.Fold(phrase))
		}
		if name, ok := headings()[strings.ReplaceAll(phrase, " ", "")]; ok {
			t.Errorf("%q is both unclear and %s", phrase, name)
		}
		for _, name := range between {
			if !slices.Contains(Every(), name) {
				t.Errorf("%q: %q is no column", phrase, name)
			}
		}
	}
	for _, c := range columns {
		for phrase := range strings.SplitSeq(c.Headings, ",") {
			phrase = strings.Join(strings.Fields(phrase), " ")
			if phrase == "" || words.Fold(phrase) != phrase {
				t.Errorf("%s: heading %q folds to %q", c.Name, phrase, words.Fold(phrase))
			}
		}
	}
}
