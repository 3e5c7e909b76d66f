package gather

import (
	"strings"
	"testing"

	"example.org/holdfast/cohort"
)

// Every reason has an instruction of its own, and one only.
func TestEveryReasonHasAnInstruction(t *testing.T) {
	reasons := 0
	for n := range 256 {
		r := cohort.Reason(n)
		if strings.HasPrefix(r.String(), "Reason(") {
			continue
		}
		reasons++
		found := 0
		for _, in := range instructions {
			for _, other := range in.reasons {
				if other == r {
					found++
				}
			}
		}
		if found != 1 {
			t.Errorf("%q has %d instructions", r, found)
		}
	}
	if reasons < 40 {
		t.Errorf("only %d reasons", reasons)
	}
	if i, _ := instructionFor(cohort.Reason(255)); instructions[i].Do != lookAtRow {
		t.Errorf("a new reason gets %q", instructions[i].Do)
	}
}
