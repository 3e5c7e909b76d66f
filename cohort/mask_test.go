package cohort

import (
	"fmt"
	"strings"
	"testing"
)

// A word that may name or number a patient is never shown: it becomes free
// text, one group for all of them.
func TestFreeTextIsNotShown(t *testing.T) {
	secrets := []string{"Mrs Edith Plackett", "DOB 03/04/1941", "485 777 3456", "fell at home and was brought in by her daughter who had called the ambulance"}
	lines := []string{"operation_date,revision_date,diagnosis,bearing,revision_reason"}
	for _, s := range secrets {
		lines = append(lines, fmt.Sprintf("2020-01-01,,%s,%s,%s", s, s, s))
	}
	lines = append(lines, "2020-01-01,,OA,MoP,")
	c := mustRead(t, Options{Keep: []string{"diagnosis"}, EveryColumn: true}, table(lines...))
	shown := fmt.Sprint(c.Words(), c.SetAside(), c.Warnings())
	g, err := c.Tally([]string{"diagnosis", "bearing"}, Endpoint{})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range g.Set.Dimensions {
		shown += fmt.Sprint(d.Levels)
	}
	_, err = tryRead(t, Options{Where: []Condition{{"diagnosis", "zzz"}}}, table(lines...))
	shown += fmt.Sprint(err)
	for _, s := range secrets {
		if strings.Contains(shown, s) {
			t.Errorf("%q is shown", s)
		}
	}
	if !strings.Contains(shown, freeText) || !strings.Contains(shown, "OA") {
		t.Errorf("%s", shown)
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
		{"diagnosis", "1941-04-03", true}, {"procedure", "NHS 4857773456", true},
	} {
		if got := mayIdentify(test.column, test.word); got != test.want {
			t.Errorf("%s %q: %v", test.column, test.word, got)
		}
	}
}

// A column with a value of its own in most rows numbers patients, whatever it
// is called.
func TestColumnsThatNumber(t *testing.T) {
	lines := []string{"operation_date,revision_date,Krankenhausnummer"}
	for i := range 40 {
		lines = append(lines, fmt.Sprintf("2020-01-01,,K%02d", i))
	}
	_, err := tryRead(t, Options{Where: []Condition{{"Krankenhausnummer", "zz"}}}, table(lines...))
	wantError(t, err, "a value of its own in most rows")
	if strings.Contains(err.Error(), "K01") {
		t.Errorf("%v", err)
	}
	c := mustRead(t, Options{Keep: []string{"Krankenhausnummer"}}, table(lines...))
	_, err = c.Tally([]string{"Krankenhausnummer"}, Endpoint{})
	wantError(t, err, "a value of its own in most rows")
}
