package benchmark

import (
	"math"
	"testing"

	"example.org/holdfast/survival"
)

// Published 3.9, 6 and 9 %, exact, beside 9 of 200 all followed (Clopper–Pearson
// 2.08 to 8.37 %): below one of three.
func TestReadTogether(t *testing.T) {
	km, _ := curves(t, followed(200, 9, 0))
	var all []*Comparison
	for _, p := range []float64{.039, .06, .09} {
		c, err := Compare(km, nil, &Series{Estimand: OneMinusKaplanMeier}, at1(p), survival.Interval{}, 100)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, &c)
	}
	r := ReadTogether(all)
	if r.String() != "below 1 of 3" || r.Code() != "below some" || r.Sides != 2 || math.Abs(r.ByChance-.05) > 1e-15 {
		t.Errorf("%v, %s: %+v", r, r.Code(), r)
	}
	for _, c := range []struct {
		r           []Reading
		words, code string
	}{
		{[]Reading{Above}, "above", "above"},
		{[]Reading{Above, Above, Above}, "above all 3", "above"},
		{[]Reading{Above, TooFew, Compatible}, "above 1 of 3", "above some"},
		{[]Reading{Below, Below}, "below all 2", "below"},
		{[]Reading{Below, Below, TooFew}, "below 2 of 3", "below some"},
		{[]Reading{Compatible, Compatible}, "compatible with all 2", "compatible with"},
		{[]Reading{Compatible, TooFew}, "compatible with 1 of 2", "compatible with"},
		{[]Reading{Above, Below, Compatible}, "between them", "between"},
		{[]Reading{TooFew, TooFew}, "too few to say", "too few to say"},
	} {
		var several []*Comparison
		for _, r := range c.r {
			several = append(several, &Comparison{Reading: r})
		}
		if got := ReadTogether(several); got.String() != c.words || got.Code() != c.code || got.Sides != 0 {
			t.Errorf("%v: %v, %s, %d sides", c.r, got, got.Code(), got.Sides)
		}
	}
}

// Too few takes the published limits in.
func TestNeededTakesLimitsIn(t *testing.T) {
	// ln(α/2)/ln(1 − √(L(2P − L))): 78.64 for 5 (3 to …), 62.19 for 6.9 (3.1 to …).
	for _, c := range []struct {
		f    Figure
		want float64
	}{
		{Figure{Revision: .05, Lower: .03, Upper: .08}, 79}, {Figure{Revision: .069, Lower: .031, Upper: .145}, 63},
		{at1(.01), 368}, {at1(.044), 82}, {at1(.05), 72},
	} {
		if got := Needed(c.f); got != c.want {
			t.Errorf("%+v: %v, want %v", c.f, got, c.want)
		}
	}
}

func TestRegisters(t *testing.T) {
	norway := func(from int) *Series {
		return &Series{Setting: NationalRegister, Country: "Norway", PeriodFrom: from}
	}
	nordic := &Series{Register: "Denmark|Finland|Norway|Sweden"}
	for _, c := range []struct {
		series []*Series
		want   int
	}{
		{[]*Series{{Source: "uk"}, norway(1994), norway(2005)}, 2},
		{[]*Series{{Register: "Finland"}, {Register: "Sweden"}}, 2},
		{[]*Series{{Register: "Finland"}, {Register: "Sweden"}, nordic}, 1},
	} {
		if got := Registers(c.series); got != c.want {
			t.Errorf("%d registers, want %d", got, c.want)
		}
	}
}

func TestKindFit(t *testing.T) {
	young, band := &AgeInterval{0, 55}, &AgeInterval{55, 65}
	tests := []struct {
		name string
		s    Series
		j    Joints
		want Fit
	}{
		{"all", Series{Joint: "hip"}, Joints{Joint: "hip"}, Meets},
		{"another joint", Series{Joint: "hip"}, Joints{Joint: "knee"}, Outside},
		{"procedure not recorded", Series{Joint: "hip", Procedure: "total"}, Joints{Joint: "hip"}, NotRecorded},
		{"pattern", Series{Bearing: "*-on-crosslinked-polyethylene"}, Joints{Bearing: "ceramic-on-crosslinked-polyethylene"}, Meets},
		{"polyethylene not said, cross-linked stated", Series{Bearing: "*-on-crosslinked-polyethylene"}, Joints{Bearing: "ceramic-on-polyethylene"}, NotRecorded},
		{"said in its own column", Series{Bearing: "*-on-crosslinked-polyethylene"}, Joints{Bearing: "ceramic-on-polyethylene", Polyethylene: "crosslinked"}, Meets},
		{"conventional, cross-linked stated", Series{Bearing: "*-on-crosslinked-polyethylene"}, Joints{Bearing: "ceramic-on-polyethylene", Polyethylene: "conventional"}, Outside},
		{"not stated takes both", Series{Bearing: "metal-on-polyethylene"}, Joints{Bearing: "metal-on-crosslinked-polyethylene"}, Meets},
		{"conventional stated, not said", Series{Bearing: "metal-on-polyethylene", Polyethylene: "conventional"}, Joints{Bearing: "metal-on-polyethylene"}, NotRecorded},
		{"conventional stated, cross-linked", Series{Bearing: "metal-on-polyethylene", Polyethylene: "conventional"}, Joints{Bearing: "metal-on-crosslinked-polyethylene"}, Outside},
		{"conventional stated, ceramic-on-ceramic", Series{Polyethylene: "conventional"}, Joints{Bearing: "ceramic-on-ceramic"}, Outside},
		{"a knee's insert", Series{Polyethylene: "crosslinked"}, Joints{Joint: "knee", Bearing: "fixed", Polyethylene: "crosslinked"}, Meets},
		{"a knee's insert not said", Series{Polyethylene: "crosslinked"}, Joints{Joint: "knee", Bearing: "fixed"}, NotRecorded},
		{"all but metal-on-metal", Series{Bearing: "!metal-on-metal"}, Joints{Bearing: "ceramic-on-ceramic"}, Meets},
		{"metal-on-metal itself", Series{Bearing: "!metal-on-metal"}, Joints{Bearing: "metal-on-metal"}, Outside},
		{"age within", Series{Age: AgeInterval{50, 66}}, Joints{Age: band}, Meets},
		{"age beyond", Series{Age: AgeInterval{50, 66}}, Joints{Age: young}, Outside},
		{"age not recorded", Series{Age: AgeInterval{50, 66}}, Joints{}, NotRecorded},
		{"diagnosis another", Series{Diagnosis: "osteoarthritis"}, Joints{Diagnosis: "AVN"}, Outside},
		{"missing and outside", Series{Diagnosis: "osteoarthritis", Sex: "female"}, Joints{Sex: "male"}, Outside},
	}
	for _, c := range tests {
		if got, _ := newKind(&c.s).Fit(c.j); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	if kind, err := NewKind(nil); kind != nil || err == nil {
		t.Errorf("the kind of no series: %v, %v", kind, err)
	}
}

func TestPasses(t *testing.T) {
	s := &Series{Joint: "hip", Bearing: "*-on-crosslinked-polyethylene", Age: AgeInterval{0, 55}, Sex: "female"}
	for _, c := range []struct {
		column string
		values []string
		want   bool
	}{
		{"joint", []string{"hip"}, true}, {"joint", []string{"knee"}, false}, {"sex", []string{"female"}, true},
		{"fixation", []string{"cemented"}, false}, {"asa", []string{"1"}, false},
		{"age_band", []string{"<55"}, true}, {"age_band", []string{"<45"}, false}, {"age_band", []string{"<65"}, true},
		{"bearing", []string{"metal-on-crosslinked-polyethylene"}, false},
	} {
		if got := s.Passes(c.column, c.values); got != c.want {
			t.Errorf("%s in %v: %v", c.column, c.values, got)
		}
	}
}
