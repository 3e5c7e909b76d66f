package cohort_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// named is a table of so many joints by each surgeon.
func named(surgeons ...string) string {
	lines := []string{"operation_date,revision_date,joint,procedure,side,surgeon"}
	for i, s := range surgeons {
		name, times, _ := strings.Cut(s, "*")
		n := 1
		fmt.Sscan(times, &n)
		for range n {
			lines = append(lines, fmt.Sprintf("20%02d-01-01,,hip,total,left,%q", 10+i%10, name))
		}
	}
	return table(lines...)
}

// bySurgeon counts the joints in use by surgeon.
func bySurgeon(t *testing.T, c *cohort.Cohort) map[string]int {
	t.Helper()
	found, err := c.Joints(cohort.Endpoint{}, "surgeon")
	if err != nil {
		t.Fatal(err)
	}
	n := make(map[string]int)
	for j := range found {
		n[j.Values[0]]++
	}
	return n
}

// Names alike but for case, punctuation and titles are one, under the commonest
// spelling; titles of different sexes are two people, and then a name with
// neither is a third.
func TestNamesAreFolded(t *testing.T) {
	for _, test := range []struct {
		name     string
		surgeons []string
		words    map[string]string
		want     map[string]int
	}{
		{"one surgeon, four ways", []string{"Mr Linden*5", "Linden*2", "MR LINDEN", "Dr Linden"}, nil, map[string]int{"Mr Linden": 9}},
		{"of two equally common the first in the alphabet", []string{"Linden*2", "LINDEN*2"}, nil, map[string]int{"LINDEN": 4}},
		{"two sexes", []string{"Mr Linden*2", "Mrs Linden", "Ms Linden*2"}, nil, map[string]int{"Mr Linden": 2, "Ms Linden": 3}},
		{"two sexes and neither", []string{"Mr Linden*2", "Miss Linden", "Linden", "Prof Linden"}, nil,
			map[string]int{"Mr Linden": 2, "Miss Linden": 1, "Linden": 2}},
		{"initials", []string{"J. R. Linden*2", "JR Linden", "J R Linden", "J Linden"}, nil, map[string]int{"J. R. Linden": 4, "J Linden": 1}},
		{"codes stay apart", []string{"1", "01", "S1", "s1*2", "S2", "?"}, nil, map[string]int{"1": 1, "01": 1, "s1": 3, "S2": 1, "not recorded": 1}},
		{"the settings explain every spelling", []string{"Mr Linden*5", "LINDEN", "J Linden*2"}, map[string]string{"Linden": "J Linden"}, map[string]int{"J Linden": 8}},
		{"their spelling is shown", []string{"Mr Linden*5", "LINDEN"}, map[string]string{"Linden": "J. Linden"}, map[string]int{"J. Linden": 6}},
		{"they settle who a third is", []string{"Mr Linden*2", "Mrs Linden", "Linden", "Dr Linden"}, map[string]string{"Linden": "Mr Linden"},
			map[string]int{"Mr Linden": 4, "Mrs Linden": 1}},
		{"one is explained as another that is explained too", []string{"Dr Linden*2", "Linden, J*3", "J Linden"}, map[string]string{"Dr Linden": "Linden, J", "Linden, J": "J Linden"},
			map[string]int{"J Linden": 6}},
		{"two are each explained as the other", []string{"Elm*2", "ELM", "Ash", "Oak"}, map[string]string{"Elm": "Ash", "Ash": "Elm", "Oak": "Fir"}, map[string]int{"Ash": 3, "Elm": 1, "Fir": 1}},
		{"they tell two apart that would be one", []string{"Mr Linden*2", "Dr Linden*3"}, map[string]string{"Mr Linden": "A Linden", "Dr Linden": "B Linden"},
			map[string]int{"A Linden": 2, "B Linden": 3}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{Keep: []string{"surgeon"}, Words: map[string]map[string]string{"surgeon": test.words}}, named(test.surgeons...))
			if d := cmp.Diff(test.want, bySurgeon(t, c)); d != "" {
				t.Errorf("joints by surgeon (-want +got):\n%s", d)
			}
			for _, w := range c.Words() {
				for _, word := range w.Words {
					if w.Column == "surgeon" && test.want[word.Value] == 0 {
						t.Errorf("%q is listed as %q, which nobody is called", word.Typed, word.Value)
					}
				}
			}
			g := mustTally(t, c, []string{"surgeon"}, cohort.Endpoint{})
			want := make(map[string]int64)
			for name, n := range test.want {
				want["hip|total|"+name] = int64(n)
			}
			if d := cmp.Diff(want, joints(g.Set)); d != "" {
				t.Errorf("groups (-want +got):\n%s", d)
			}
		})
	}
}

// Every spelling selects the surgeon; one that may be two is refused.
func TestWhereByName(t *testing.T) {
	text := named("Mr Linden*5", "LINDEN", "Mrs Ross", "Mr Ross*2", "Ash")
	for asked, want := range map[string]int{"Linden": 6, "dr linden": 6, "MR. LINDEN": 6, "Mrs Ross": 1, "ROSS, Mr": 2, "Mr Ash": 1} {
		c := mustRead(t, cohort.Options{Where: []cohort.Condition{{Column: "surgeon", Value: asked}}}, text)
		if got := c.Account().Used; got != want {
			t.Errorf("%q: %d joints, want %d", asked, got, want)
		}
	}
	for asked, want := range map[string]string{
		"Dr Ross": `surgeon "Dr Ross" may be "Mr Ross", "Mrs Ross": write one of these`,
		"Birch":   `no row has surgeon "Birch"; values found: "Ash", "Mr Linden", "Mr Ross", "Mrs Ross"`,
	} {
		_, err := tryRead(t, cohort.Options{Where: []cohort.Condition{{Column: "surgeon", Value: asked}}}, text)
		if err == nil || err.Error() != want {
			t.Errorf("%q: %v, want %s", asked, err, want)
		}
	}
	c := mustRead(t, cohort.Options{Where: []cohort.Condition{{Column: "surgeon", Value: "Linden"}}, Words: map[string]map[string]string{"surgeon": {"Linden": "J Linden"}}}, text)
	if got := c.Account().Used; got != 6 || c.Scope[0].Value != "J Linden" {
		t.Errorf("by a spelling that the settings explain: %d joints of %v", got, c.Scope)
	}
}

// Names that may be one are asked about, until the settings say.
func TestNameQuestions(t *testing.T) {
	ask := func(words map[string]string, surgeons ...string) []string {
		c := mustRead(t, cohort.Options{Keep: []string{"surgeon"}, Words: map[string]map[string]string{"surgeon": words}}, named(surgeons...))
		var asked []string
		for _, q := range c.NameQuestions() {
			s := fmt.Sprintf("%s (%d)", q.Name, q.Rows)
			for _, w := range q.MayBe {
				s += fmt.Sprintf(" %s (%d)", w.Value, w.Rows)
			}
			if q.Contested {
				s += " contested"
			}
			asked = append(asked, s)
		}
		return asked
	}
	for _, test := range []struct {
		words    map[string]string
		surgeons []string
		want     []string
	}{
		{nil, []string{"J Linden*4", "Mr Linden*2", "LINDEN", "Ross", "S Ash", "T Ash"}, []string{"Mr Linden (3) J Linden (4)"}},
		{nil, []string{"Linden", "J Linden", "R Linden*2"}, []string{"Linden (1) R Linden (2) J Linden (1)"}},
		{nil, []string{"Mr Linden", "Mrs Linden", "Linden"}, []string{"Linden (1) Mr Linden (1) Mrs Linden (1)"}},
		{nil, []string{"Linden, J", "J Linden*2"}, []string{"Linden, J (1) J Linden (2)"}},
		{nil, []string{"Mr Linden*2", "Miss Linden", "J Linden"}, []string{"Miss Linden (1) J Linden (1) contested", "Mr Linden (2) J Linden (1) contested"}},
		{map[string]string{"Linden": "Linden"}, []string{"J Linden*4", "Mr Linden*2"}, nil},
		{map[string]string{"Linden": "J Linden"}, []string{"J Linden*4", "Mr Linden*2", "John Linden"}, []string{"J Linden (6) John Linden (1)"}},
	} {
		if d := cmp.Diff(test.want, ask(test.words, test.surgeons...)); d != "" {
			t.Errorf("%v, %v (-want +got):\n%s", test.surgeons, test.words, d)
		}
	}
	var many []string
	for i := range 600 {
		many = append(many, fmt.Sprintf("Surgeon %d", i))
	}
	if asked := ask(nil, append(many, "Surgeon")...); asked != nil {
		t.Errorf("a word of hundreds of names is taken for a name: %.300v", asked)
	}
}
