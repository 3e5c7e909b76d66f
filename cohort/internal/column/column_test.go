package column

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort/internal/words"
)

func TestMissing(t *testing.T) {
	everywhere := []string{"", " ", "\u00a0", "n/a", "N/A", "na", "NA", "n.a.", "-", "--", "–", "—", ".", "..", "?", "??", "null", "NULL", "nil", "None", "unknown", "Not known", "not recorded",
		"(blank)", "#N/A", "#VALUE!", "#REF!", "NaN", "NaT", "missing", "not applicable", "unbekannt", "inconnu", "tbc", "*"}
	for _, name := range append(Every(), "", "cup maker") {
		for _, cell := range everywhere {
			if name == Revised && cell == "None" {
				continue
			}
			if !Missing(name, cell) {
				t.Errorf("Missing(%q, %q) is false", name, cell)
			}
		}
		for _, cell := range []string{"1", "2019-04-03", "x", "+", "left", "unknowns", "yes", "value", "ref", "NAB", "3", "†"} {
			if Missing(name, cell) {
				t.Errorf("Missing(%q, %q) is true", name, cell)
			}
		}
	}
	for _, test := range []struct {
		cell   string
		absent []string // the columns in which the cell is missing
		value  []string // some in which it is not
	}{
		{"0", []string{OperationDate, RevisionDate, DeathDate, LastSeenDate, BirthDate, BirthYear, Age, Patient, RevisionReason},
			[]string{"", Revised, Dead, Fixation, Sex, Surgeon, JointID, Side}},
		{"none", []string{"", RevisionDate, RevisionReason, Dead, DeathDate}, []string{Revised}},
		{"not revised", []string{RevisionDate}, []string{Revised, DeathDate, ""}},
		{"in situ", []string{RevisionDate}, []string{Revised, DeathDate, ""}},
		{"alive", []string{DeathDate}, []string{Dead, RevisionDate, ""}},
		{"no", []string{DeathDate, RevisionDate}, []string{Dead, Revised, OperationDate, ""}},
		{"NK", []string{"", Side, RevisionDate, Revised}, []string{Surgeon, Hospital}},
	} {
		for _, name := range test.absent {
			if !Missing(name, test.cell) {
				t.Errorf("Missing(%q, %q) is false", name, test.cell)
			}
		}
		for _, name := range test.value {
			if Missing(name, test.cell) {
				t.Errorf("Missing(%q, %q) is true", name, test.cell)
			}
		}
	}
}

// No word that stands for a missing value everywhere is a word of a column,
// but the one that the documentation names.
func TestMissingWordsThatAreKnown(t *testing.T) {
	var found []string
	for _, c := range All() {
		for _, cell := range []string{"na", "n a", "nan", "nil", "null", "none", "unknown", "not known", "not recorded", "not stated", "not given", "not specified", "unspecified",
			"not available", "not applicable", "blank", "empty", "missing", "no data", "tbc", "unk", "u k", "nk", "n k", "nr", "n r", "k a"} {
			if c.Read != nil && c.Read(cell).Known {
				found = append(found, c.Name+": "+cell)
			}
		}
	}
	if diff := cmp.Diff([]string{"revised: none"}, found); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// What every descriptor must say. A new column is right when this test and the
// next pass, and the words typed into it are tested in package words.
func TestColumns(t *testing.T) {
	seen := make(map[string]bool)
	for _, c := range All() {
		if c.Name == "" || strings.ToLower(c.Name) != c.Name || strings.ContainsAny(c.Name, " -") {
			t.Errorf("name %q", c.Name)
		}
		if seen[c.Name] {
			t.Errorf("%s occurs twice", c.Name)
		}
		seen[c.Name] = true
		if c.Help == "" || strings.Contains(c.Help, "\n") || strings.HasSuffix(c.Help, ".") {
			t.Errorf("%s: help %q", c.Name, c.Help)
		}
		if (c.Read == nil) != (c.Order == nil) {
			t.Errorf("%s: a vocabulary and the order of its words go together", c.Name)
		}
		if c.Read != nil && c.Kind != Words && c.Kind != YesNo {
			t.Errorf("%s: a vocabulary, and kind %d", c.Name, c.Kind)
		}
		if c.Closed && c.Read == nil {
			t.Errorf("%s: closed, without a vocabulary", c.Name)
		}
		if c.Identifying && c.Uses != 0 {
			t.Errorf("%s identifies patients: it is no field", c.Name)
		}
		if (c.Until != "" || c.Makers) && !c.Closed {
			t.Errorf("%s: says what becomes of words that are not understood, and is not closed", c.Name)
		}
	}
	for _, c := range All() {
		for _, name := range c.MadeFrom {
			if !seen[name] {
				t.Errorf("%s: made from %q, which is no column", c.Name, name)
			}
		}
	}
}

// The canonical words of a column mean themselves.
func TestOrderHoldsCanonicalValues(t *testing.T) {
	for _, c := range All() {
		for _, value := range c.Order {
			if got := Understand(c.Name, value); got != (words.Meaning{Value: value, Known: true}) {
				t.Errorf("%s: %q means %+v", c.Name, value, got)
			}
			if Missing(c.Name, value) {
				t.Errorf("%s: %q is missing", c.Name, value)
			}
		}
	}
	if got := Order(Surgeon); got != nil {
		t.Errorf("Order(surgeon) = %v, want nil", got)
	}
	Order(Side)[0] = "changed"
	if got := Order(Side)[0]; got != words.Left {
		t.Errorf("changing the result of Order changes the next: %q", got)
	}
}

// The lists that are made from the descriptors. The expected ones are written
// out, so that a change of a list is seen.
func TestLists(t *testing.T) {
	var identifying []string
	for _, name := range append(Every(), "cup maker", "") {
		if Identifying(name) {
			identifying = append(identifying, name)
		}
	}
	for _, test := range []struct {
		name      string
		got, want []string
	}{
		{"needed", Needed(), []string{OperationDate, RevisionDate}},
		{"identifying", identifying, []string{JointID, Patient, BirthDate, BirthYear, Initials}},
		{"yes and no", Of(YesNo), []string{Revised, Dead}},
		{"dates", Of(Date), []string{OperationDate, BirthDate, RevisionDate, DeathDate, LastSeenDate}},
		{"names", Of(Names), []string{Surgeon, Hospital}},
		{"case mix", CaseMix(), []string{AgeBand, Sex, Diagnosis, Activity, ASA, BMI, Smoking, Side, Bearing, HeadSize, Polyethylene, Fixation, Approach, Technique, Grade}},
		{"grouping", With(Grouping), []string{Joint, Side, Procedure, Bearing, HeadSize, Polyethylene, Fixation, Approach, Technique, Sex, Diagnosis, Activity, ASA, BMI, Smoking, Surgeon, Grade, Hospital}},
		{"chosen", With(Chosen), []string{Bearing, HeadSize, Polyethylene, Fixation, Approach, Technique}},
		{"published", With(Published), []string{Joint, Procedure, Bearing, Polyethylene, Fixation, Sex, Diagnosis}},
		{"sources", Sources(Fixation), []string{Fixation, CupFixation, TibiaFixation}},
		{"sources of a column of the user's own", Sources("cup maker"), []string{"cup maker"}},
	} {
		if diff := cmp.Diff(test.want, test.got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
	}
}

// What a file of published figures may call a value, beside the canonical word.
func TestUnderstand(t *testing.T) {
	for _, test := range []struct {
		column, typed, want string
		known               bool
	}{
		{Procedure, "THR", words.Total, true},
		{Procedure, "UKR", words.Unicompartmental, true},
		{Bearing, "MoP", "metal-on-polyethylene", true},
		{Bearing, "rotating platform", words.MobileBearing, true},
		{Bearing, "wood on  wood", "wood on wood", false},
		{Fixation, "cementless", words.Porous, true},
		{Sex, "F", words.Female, true},
		{Diagnosis, "DDH", words.ChildhoodDisease, true},
		{BMI, "27,4", "25-29.9", true},
		{BMI, "25 – 29.9", "25-29.9", true},
		{BMI, "9.9", "9.9", false},
		{HeadSize, "32 mm", "32", true},
		{Activity, "7.0", "7", true},
		{Activity, "101", "101", false},
		{"cup maker", " a  maker ", "a maker", true},
	} {
		if diff := cmp.Diff(words.Meaning{Value: test.want, Known: test.known}, Understand(test.column, test.typed)); diff != "" {
			t.Errorf("%s %q (-want +got):\n%s", test.column, test.typed, diff)
		}
	}
}

func TestExplains(t *testing.T) {
	for _, test := range []struct {
		column, typed string
		want          bool
	}{
		{Bearing, "MoP", true}, {Bearing, "wood", false}, {Procedure, "washout", true}, {Procedure, "revision THR", true},
		{Procedure, "something", false}, {Revised, "in situ", true}, {Revised, "perhaps", false}, {Surgeon, "anybody", true}, {"cup maker", "any", true},
		{Diagnosis, "AVN", true}, {Diagnosis, "my own group", true}, {ASA, "IV", true}, {ASA, "fit", false},
	} {
		if got := Explains(test.column, test.typed); got != test.want {
			t.Errorf("%s %q: %v", test.column, test.typed, got)
		}
	}
}

func TestMayIdentify(t *testing.T) {
	for _, test := range []struct {
		column, word string
		want         bool
	}{
		{"bearing", "metal on highly cross-linked polyethylene, 36 mm", false},
		{"diagnosis", "osteoarthritis following fracture of the acetabulum in 2009", false},
		{"surgeon", "Mr A", false}, {"diagnosis", "Mr A fell", true},
		{"hospital", "St Elsewhere's, wing 2", false},
		{"bearing", "MRI-safe", false}, {"diagnosis", "Missed fracture", false},
		{"bmi", "18.5-24.9", false}, {"bmi", "30-34.9", false}, {"bmi", "1941-04-03", true}, {"activity", "1234567", true}, {"diagnosis", "18.5-24.9", true},
		{"diagnosis", "1941-04-03", true}, {"procedure", "NHS 4857773456", true},
		{"diagnosis", "ask j.fern@post.example", true}, {"surgeon", "fern@post.example", true}, {"diagnosis", "lives at ZQ1 4XY", true}, {"diagnosis", "zq14xy", true},
		{"hospital", "1234 AB", true}, {"bearing", "CoC @ 36 mm", false}, {"bearing", "M32mm", false}, {"head", "C2 8mm", false}, {"procedure", "Exeter V40", false}, {"surgeon", "S1", false}, {"diagnosis", "C1 2 level", false},
	} {
		if got := MayIdentify(test.column, test.word); got != test.want {
			t.Errorf("%s %q: %v", test.column, test.word, got)
		}
	}
}

func TestEmptyCells(t *testing.T) {
	for _, c := range All() {
		for _, cell := range []string{"", " ", "\u00a0"} {
			if c.Read != nil && c.Read(cell) != (words.Meaning{}) {
				t.Errorf("%s: %q means %+v, want nothing", c.Name, cell, c.Read(cell))
			}
		}
	}
}

// A value means itself; an unknown word is the cell itself; known values are
// canonical.
func FuzzUnderstand(f *testing.F) {
	for _, cell := range []string{"MoP (XL)", "Left cemented THR", "L+R", "aseptic loosening - cup", "reverse hybrid", "n/a", "#N/A", "DAIR + exchange", "céramique", "\u212aK", "ﬁxed", "\xf0Ǉ", "İ", "27,4", "25–29.9", "ASA II", "32 mm +4", "OA L hip"} {
		f.Add(cell)
	}
	f.Fuzz(func(t *testing.T, cell string) {
		if again := words.Clean(words.Clean(cell)); again != words.Clean(cell) {
			t.Errorf("Clean(%q) = %q, cleaned again %q", cell, words.Clean(cell), again)
		}
		if again := words.Fold(words.Fold(cell)); again != words.Fold(cell) {
			t.Errorf("Fold(%q) = %q, folded again %q", cell, words.Fold(cell), again)
		}
		for _, c := range All() {
			m := Understand(c.Name, cell)
			if again := Understand(c.Name, m.Value); again != m {
				t.Errorf("%s: %q means %+v, which means %+v", c.Name, cell, m, again)
			}
			if c.Order != nil && (m.Known && !Canonical(c.Name, m.Value) || !m.Known && slices.Contains(c.Order, m.Value)) {
				t.Errorf("%s: %q means %+v, which the canonical values do not agree with", c.Name, cell, m)
			}
			Missing(c.Name, cell)
		}
		Heading(cell)
		words.Nearest(cell, Every())
	})
}
