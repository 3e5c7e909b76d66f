package figure

import (
	"fmt"
	"strings"
	"testing"

	"example.org/holdfast/cohort/audit"
)

// pictured are figures of curves of every kind, by name.
var pictured = []struct {
	name string
	make func(testing.TB) (*audit.Audit, CurvesOptions)
}{
	{"practice", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return practiceAudit(t, audit.Options{}), CurvesOptions{Field: "fixation", Joint: "hip", Procedure: "total"}
	}},
	{"practice-all", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return practiceAudit(t, audit.Options{}), CurvesOptions{}
	}},
	{"practice-bearing", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return practiceAudit(t, audit.Options{}), CurvesOptions{Field: "bearing", Joint: "hip"}
	}},
	{"two", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return bySurgeon(t, kind{"Surgeon 1", 400, 12, .006, .02}, kind{"Surgeon 2", 250, 12, .012, .02}), CurvesOptions{Names: Names{All: true}, Field: "surgeon"}
	}},
	{"two-both", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return bySurgeon(t, kind{"Surgeon 1", 400, 12, .006, .02}, kind{"Surgeon 2", 250, 12, .012, .02}), CurvesOptions{Names: Names{All: true}, Field: "surgeon", Estimand: Both}
	}},
	{"six", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		var kinds []kind
		for i := range 6 {
			kinds = append(kinds, kind{fmt.Sprintf("Surgeon %d", i+1), 120 + 40*i, 10, .002 * float64(i+1), .02})
		}
		return bySurgeon(t, kinds...), CurvesOptions{Names: Names{All: true}, Field: "surgeon"}
	}},
	{"twelve", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return twelve(t), CurvesOptions{Names: Names{All: true}, Field: "surgeon"}
	}},
	{"no-events", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return bySurgeon(t, kind{"Surgeon 1", 90, 8, 0, .03}, kind{"not recorded", 60, 8, 0, .02}), CurvesOptions{Names: Names{All: true}, Field: "surgeon"}
	}},
	{"one-joint", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return bySurgeon(t, kind{"Surgeon 1", 1, 3, 0, 0}), CurvesOptions{Names: Names{All: true}, Field: "surgeon"}
	}},
	{"eleven-joints", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return bySurgeon(t, kind{"Surgeon 1", 11, 3, .1, 0}, kind{"Surgeon 2", 3, 3, .1, 0}), CurvesOptions{Names: Names{All: true}, Field: "surgeon"}
	}},
	{"long-labels", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		a := bySurgeon(t, kind{"A", 200, 10, .01, .02}, kind{"B", 200, 10, .004, .02}, kind{"short", 200, 10, .007, .02})
		rename(a, "A", "A"+strings.Repeat(" very long name of a surgeon", 11))
		rename(a, "B", "B"+strings.Repeat("unbroken", 40))
		return a, CurvesOptions{Names: Names{All: true}, Field: "surgeon"}
	}},
	{"scripts", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return bySurgeon(t, kind{"Χειρουργός", 200, 10, .01, .02}, kind{"Хирург", 200, 10, .004, .02}, kind{"מנתח 12 (א)", 200, 10, .007, .02},
			kind{"外科医生王", 200, 10, .02, .02}, kind{`<script>alert(1)</script>`, 100, 10, .002, .02}), CurvesOptions{Names: Names{All: true}, Field: "surgeon"}
	}},
	{"25-years", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return bySurgeon(t, kind{"Surgeon 1", 1500, 25, .008, .03}, kind{"Surgeon 2", 900, 25, .014, .03}, kind{"Surgeon 3", 300, 14, .03, .03}), CurvesOptions{Names: Names{All: true}, Field: "surgeon"}
	}},
	{"no-deaths", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return bySurgeon(t, kind{"Surgeon 1", 300, 15, .01, 0}), CurvesOptions{Names: Names{All: true}, Field: "surgeon", Estimand: Both}
	}},
	{"narrow", func(t testing.TB) (*audit.Audit, CurvesOptions) {
		return bySurgeon(t, kind{"Surgeon 1", 400, 12, .006, .02}, kind{"Surgeon 2", 250, 12, .012, .02}), CurvesOptions{Names: Names{All: true}, Field: "surgeon", Width: narrowest}
	}},
}

// twelve is an audit of twelve surgeons, one of whom has too few joints.
func twelve(t testing.TB) *audit.Audit {
	var kinds []kind
	for i := range 12 {
		kinds = append(kinds, kind{fmt.Sprintf("Surgeon %02d", i+1), 5 + 35*i, 12, .002 * float64(i%5+1), .02})
	}
	a := bySurgeon(t, kinds...)
	rename(a, "Surgeon 08", "Surgeon 08, whose name is long enough for two lines, and for a good deal more than two lines")
	return a
}

// rename gives groups another word, also one that reading a table would not
// have let through.
func rename(a *audit.Audit, from, to string) {
	for i := range a.Groups {
		for j := range a.Groups[i].Values {
			if v := &a.Groups[i].Values[j]; v.Word == from {
				v.Word = to
			}
		}
	}
}

func TestPictures(t *testing.T) {
	for _, c := range pictured {
		t.Run(c.name, func(t *testing.T) {
			a, o := c.make(t)
			f, err := Curves(a, o)
			if err != nil {
				t.Fatal(err)
			}
			look(t, f, "curves-"+c.name)
		})
	}
}
