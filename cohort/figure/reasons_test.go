package figure

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/course"
)

// becomeOf is the course of hips operated on in 2010: with each of so many reasons, reason n has n + 1
// joints revised after n + 1 years; 20 die after three; the rest are followed.
func becomeOf(t testing.TB, reasons, rest int) *course.Course {
	t.Helper()
	var b strings.Builder
	b.WriteString("operation_date,procedure,revision_date,revision_reason,death_date\n")
	words := []string{"infection", "dislocation", "aseptic loosening", "wear", "pain", "stiffness", "lysis", "own <word>"}
	for n := range reasons {
		b.WriteString(strings.Repeat(fmt.Sprintf("2010-01-01,THR,%d-01-02,%s,\n", 2011+n, words[n]), n+1))
	}
	b.WriteString(strings.Repeat("2010-01-01,THR,,,2013-01-01\n", 20) + strings.Repeat("2010-01-01,THR,,,\n", rest))
	day, err := cohort.ParseDay("2024-12-31")
	if err != nil {
		t.Fatal(err)
	}
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "own.csv", Reader: strings.NewReader(b.String())}}, cohort.Options{ClosingDate: &day, Today: day})
	if err != nil {
		t.Fatal(err)
	}
	k, err := course.Run(c, course.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// Layers stand on one another without a gap, the course's own numbers thick, and leave as much above
// them as the course says is free; with more than six reasons the last are one.
func TestReasonsAddUp(t *testing.T) {
	for _, reasons := range []int{1, 3, 8} {
		k := becomeOf(t, reasons, 100)
		f, err := Reasons(k, ReasonsOptions{})
		if err != nil {
			t.Fatal(err)
		}
		inside(t, f, parsed(t, f))
		plainWords(t, f)
		number := func(s string) float64 {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			return x
		}
		top := make(map[float64]float64) // by years
		layers := make(map[string]bool)
		p := k.Parts[0]
		for _, r := range csvOf(t, f) {
			y := number(r["years"])
			if from := number(r["from"]); math.Abs(from-top[y]) > 1e-12 || math.Abs(number(r["to"])-from-number(r["proportion"])) > 1e-12 {
				t.Fatalf("%v: a gap, the last ended at %v", r, top[y])
			}
			top[y], layers[r["layer"]] = number(r["to"]), true
		}
		if want := min(reasons, mostReasons+1) + 1; len(layers) != want || layers["other reasons"] != (reasons > mostReasons) {
			t.Errorf("%d reasons: layers %v", reasons, layers)
		}
		for y, sum := range top {
			free, ok := p.Gone.At(math.Round(y*cohort.DaysPerYear), k.Interval)
			if !ok || math.Abs(1-sum-free.Survival().Estimate) > 1e-12 {
				t.Errorf("%d reasons: %v in layers by %v years, %v free", reasons, sum, y, 1-free.Estimate)
			}
		}
		if len(top) < reasons+2 {
			t.Errorf("%d reasons: %d times", reasons, len(top))
		}
	}
}

// Where nobody is revised while ten are at risk there is nothing to draw.
func TestReasonsOfNobody(t *testing.T) {
	k := becomeOf(t, 1, 100)
	k.Parts[0].Reasons = nil
	if _, err := Reasons(k, ReasonsOptions{}); !errors.Is(err, ErrNothingToDraw) {
		t.Errorf("no revision: %v", err)
	}
	if _, err := Reasons(becomeOf(t, 1, 100), ReasonsOptions{Width: 3}); err == nil {
		t.Error("too narrow")
	}
}
