package benchmark

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// What is published for such joints: those that state it, apart from those that
// pool it.
func TestNarrow(t *testing.T) {
	series := []*Series{
		{Source: "all", Joint: "hip", Procedure: "total"},
		{Source: "young", Joint: "hip", Procedure: "total", Age: AgeInterval{Below: 55}},
		{Source: "overlap", Joint: "hip", Procedure: "total", Age: AgeInterval{From: 50, Below: 66}},
		{Source: "old", Joint: "hip", Procedure: "total", Age: AgeInterval{From: 80}},
		{Source: "linked", Joint: "hip", Procedure: "total", Bearing: "*-on-crosslinked-polyethylene", Age: AgeInterval{Below: 60}},
		{Source: "both", Joint: "hip", Procedure: "total|resurfacing", Age: AgeInterval{Below: 60}},
		{Source: "no procedure", Joint: "hip", Age: AgeInterval{Below: 60}},
		{Source: "knee", Joint: "knee", Procedure: "total", Age: AgeInterval{Below: 55}},
	}
	names := func(series []*Series) string {
		var all []string
		for _, s := range series {
			all = append(all, s.Source)
		}
		return strings.Join(all, ", ")
	}
	for _, x := range []struct{ where, stated, pooled string }{
		{"joint=hip operation=THR age=<55", "young, overlap, linked, both", "all"},
		{"joint=hip procedure=total age_band=56-60", "overlap, linked, both", "all"},
		{"bearing=CoXLPE", "linked", "all, young, overlap, old, both, no procedure, knee"},
		{"bearing=CoC", "", "all, young, overlap, old, both, no procedure, knee"},
		{"bearing=CoXLPE bearing=MoM age=80+", "", "all, old"}, // either bearing
		{"joint=knee", "knee", ""},
	} {
		var conditions []Condition
		for w := range strings.FieldsSeq(x.where) {
			heading, value, _ := strings.Cut(w, "=")
			c, err := ParseCondition(heading, value)
			if err != nil {
				t.Fatal(err)
			}
			conditions = append(conditions, c)
		}
		stated, pooled := Narrow(series, conditions)
		if d := cmp.Diff([2]string{x.stated, x.pooled}, [2]string{names(stated), names(pooled)}); d != "" {
			t.Errorf("%s: %s", x.where, d)
		}
	}
	for _, w := range [][2]string{{"surgeon", "A"}, {"bearing", "wood"}, {"age", "young"}} {
		if _, err := ParseCondition(w[0], w[1]); err == nil {
			t.Errorf("%v is taken", w)
		}
	}
}
