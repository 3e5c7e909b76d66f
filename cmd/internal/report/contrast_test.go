package report

import (
	"fmt"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/contrast"
)

// A difference whose printed limits leave out 0, while those it is read by do not, is marked in
// whichever table it stands. Of 100 hips of women 3 are revised, of 40 of men 5: 9.5 points (0.1986 to
// 24.5954), calculated with R 4.2.2 from survfit's log-log limits l and u of p = 5/40 and q = 3/100 as
// p − q − √((p − l_p)² + (u_q − q)²) and + √((u_p − p)² + (q − l_q)²).
func TestContrastMarksWhatIsNearTheLine(t *testing.T) {
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,procedure,sex,revision_date\n")
	for i := range 140 {
		sex, revised := "F", ""
		if i >= 100 {
			sex = "M"
		}
		if i < 3 || i >= 135 {
			revised = "2012-06-01"
		}
		fmt.Fprintf(&b, "P%d,2010-01-01,hip,THR,%s,%s\n", i, sex, revised)
	}
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: "h.csv", Reader: strings.NewReader(b.String())}}, cohort.Options{ClosingDate: day(t, "2024-12-31")})
	if err != nil {
		t.Fatal(err)
	}
	k, err := contrast.Run(c, contrast.Options{Between: "sex"})
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(laidOut(t, Contrast(k), Options{Width: 400})), " ")
	_, years, _ := strings.Cut(text, "year by year")
	for _, part := range []string{text, years} {
		if !strings.Contains(part, "9.5 (0.2 to 24.6) compatible with †") || !strings.Contains(part, "† near the line: the limits shown would read otherwise") {
			t.Errorf("not marked:\n%s", part)
		}
	}
}

func TestProbability(t *testing.T) {
	for p, want := range map[float64]string{0.0123: "p = 0.012", 0.0005: "p = 0.001", 0.000499: "p < 0.001", 0: "p < 0.001", 1: "p = 1.000"} {
		if got := probability(p); got != want {
			t.Errorf("%v: %s, want %s", p, got, want)
		}
	}
}
