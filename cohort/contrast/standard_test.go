package contrast_test

import (
	"math"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/contrast"
	"example.org/holdfast/cohort/internal/testaudit"
	"example.org/holdfast/cohort/internal/testvalues"
)

// Groups of 500 and more at one mix of ages and sexes: five copies of each joint have the estimates of
// one, and errors less by √5. Of the bearings at 5 years, calculated with R 4.2.2, survfit in each cell of
// age (below 65, to 74, 75 and over) and sex: 10.2418 % with SE 2.0000.
func TestStandardisedOfLargeGroups(t *testing.T) {
	lines := strings.SplitAfter(testaudit.Joints(t, false), "\n")
	table := lines[0] + strings.Repeat(strings.Join(lines[1:], ""), 5)
	o := contrast.Options{Between: "bearing", Years: []float64{5}}
	k := run(t, testaudit.ReadClosed(t, table, cohort.Options{AgeBands: []int{65, 75}}), o)
	m := k.Parts[0].Standard
	if m == nil || m.Not != "" || !m.Sex || len(m.Bands) != 3 || m.Covered != 1 || len(m.Groups) != 3 {
		t.Fatalf("%+v", m)
	}
	a := row(t, k, "standardised", groups[0], 5, "")
	testvalues.Near(t, "estimate", a.Value, .10241796151595489)
	testvalues.Near(t, "SE", a.SE, .020000480502800233/math.Sqrt(5))
	// The limits of one copy are 6.70 to 15.99 %; Fay and Feuer's of five lie within.
	if !(a.Lower > .067036944 && a.Lower < a.Value-1.8*a.SE && a.Upper < .159871 && a.Upper > a.Value+1.9*a.SE) {
		t.Errorf("limits %v to %v", a.Lower, a.Upper)
	}
	if k := run(t, testaudit.ReadClosed(t, strings.Join(lines, ""), cohort.Options{}), o); k.Parts[0].Standard != nil {
		t.Error("standardised with fewer than 500")
	}
}
