package benchmark

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

func sources(m Matches) string {
	var names []string
	for _, s := range m {
		names = append(names, s.Source)
	}
	return strings.Join(names, " ")
}

func TestMatch(t *testing.T) {
	const coc = "ceramic-on-ceramic"
	one := func(s Series) []*Series {
		if s.Joint == "" {
			s.Joint = "hip"
		}
		return []*Series{&s}
	}
	tests := []struct {
		name   string
		series []*Series
		group  Group
		want   bool
	}{
		{"all hips, all hips", one(Series{}), Group{Joint: "hip"}, true},
		{"all hips, a bearing", one(Series{}), Group{Joint: "hip", Bearing: coc}, true},
		{"a bearing, all hips", one(Series{Bearing: coc}), Group{Joint: "hip"}, false},
		{"a bearing, the same", one(Series{Bearing: coc}), Group{Joint: "hip", Bearing: coc}, true},
		{"case and hyphens", one(Series{Bearing: "Ceramic–on–CERAMIC"}), Group{Joint: "Hip", Bearing: " ceramic-on-Ceramic"}, true},
		{"a bearing, another", one(Series{Bearing: coc}), Group{Joint: "hip", Bearing: "metal-on-metal"}, false},
		{"pattern, in it", one(Series{Bearing: "*-on-crosslinked-polyethylene"}), Group{Joint: "hip", Bearing: "ceramicised-metal-on-crosslinked-polyethylene"}, true},
		{"pattern, not in it", one(Series{Bearing: "*-on-polyethylene"}), Group{Joint: "hip", Bearing: "metal-on-crosslinked-polyethylene"}, false},
		{"pattern, all values", one(Series{Bearing: "*-on-*"}), Group{Joint: "hip"}, false},
		{"star is nothing stated", one(Series{Bearing: "*"}), Group{Joint: "hip"}, true},
		{"alternatives", one(Series{Bearing: "metal-on-metal| " + coc}), Group{Joint: "hip", Bearing: coc}, true},
		{"not recorded", one(Series{Bearing: "*-on-*"}), Group{Joint: "hip", Bearing: "not recorded"}, false},
		{"fixation stated, pooled", one(Series{Fixation: "porous"}), Group{Joint: "hip", Bearing: coc}, false},
		{"sex stated, pooled", one(Series{Sex: "female"}), Group{Joint: "hip"}, false},
		{"sex stated, the same", one(Series{Sex: "female"}), Group{Joint: "hip", Sex: "female"}, true},
		{"procedure", one(Series{Procedure: "resurfacing"}), Group{Joint: "hip", Procedure: "total"}, false},
		{"joint", one(Series{}), Group{Joint: "knee"}, false},
		{"joint pattern", one(Series{Joint: "hip|knee"}), Group{Joint: "knee"}, true},
		{"age within", one(Series{Age: AgeInterval{50, 66}}), Group{Joint: "hip", Age: AgeInterval{55, 65}}, true},
		{"age beyond", one(Series{Age: AgeInterval{56, 66}}), Group{Joint: "hip", Age: AgeInterval{55, 65}}, false},
		{"age stated, all ages", one(Series{Age: AgeInterval{55, 0}}), Group{Joint: "hip"}, false},
		{"pooled estimate", one(Series{Estimand: Pooled}), Group{Joint: "hip"}, false},
		{"threshold", one(Series{Estimand: Threshold}), Group{Joint: "hip"}, true},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := NewBook(test.series, nil).Match(test.group)
			if (len(got) == 1) != test.want {
				t.Errorf("matched %v", got)
			}
		})
	}
}

func TestGlob(t *testing.T) {
	tests := []struct {
		pattern, word string
		want          bool
	}{
		{"*", "", true}, {"a*", "a", true}, {"*a", "ba", true}, {"*a", "ab", false},
		{"a*a", "a", false}, {"a*a", "aa", true}, {"a*b*a", "acbda", true}, {"a*b*b", "ab", false},
		{"*ab*", "xaby", true}, {"**", "x", true}, {"*aab", "aaab", true}, {"a*b", "acbc", false},
	}
	for _, test := range tests {
		if got := glob(test.pattern, test.word); got != test.want {
			t.Errorf("glob(%q, %q) = %v", test.pattern, test.word, got)
		}
	}
}

// The order in which series are compared, each rule beaten only by those above
// it. Every series here covers the group.
func TestMatchOrder(t *testing.T) {
	group := Group{Joint: "hip", Procedure: "total", Bearing: "ceramic-on-ceramic", Fixation: "porous", Sex: "female", Age: AgeInterval{55, 65}}
	limits := []Figure{{Years: 10, Revision: .05, Lower: .04, Upper: .06}}
	exact := []Figure{{Years: 10, Revision: .05, Joints: 100}}
	more := []Figure{{Years: 10, Revision: .05, Joints: 200}}
	builtin := []*Series{
		{Source: "14", Figures: exact, Joint: "hip|knee", Procedure: "total"},
		{Source: "15", Figures: exact, Joint: "hip"},
		{Source: "13", Figures: exact, Joint: "hip", Procedure: "total"},
		{Source: "12", Figures: exact, Joint: "hip", Sex: "female"},
		{Source: "11", Figures: exact, Joint: "hip", Fixation: "porous"},
		{Source: "10", Figures: exact, Joint: "hip", Age: AgeInterval{0, 65}},
		{Source: "9", Figures: exact, Joint: "hip", Age: AgeInterval{55, 65}},
		{Source: "8", Figures: exact, Joint: "hip", Bearing: "ceramic-on-*"},
		{Source: "7", Figures: exact, Joint: "hip", Bearing: "ceramic-on-ceramic|ceramic-on-metal"},
		{Source: "5", Figures: exact, Joint: "hip", Bearing: "ceramic-on-ceramic"},
		{Source: "6", Figures: exact, Joint: "hip", Bearing: "ceramic-on-ceramic"},
		{Source: "4", Figures: more, Joint: "hip", Bearing: "ceramic-on-ceramic"},
		{Source: "3", Figures: exact, Joint: "hip", Bearing: "ceramic-on-ceramic", PeriodTo: 2010},
		{Source: "2", Figures: exact, Joint: "hip", Bearing: "ceramic-on-ceramic", PeriodTo: 2020},
		{Source: "1", Figures: limits, Joint: "hip", Bearing: "ceramic-on-ceramic"},
	}
	user := []*Series{{Source: "0", Figures: exact, Joint: "hip", Bearing: "ceramic-on-ceramic"}}
	got := NewBook(user, builtin).Match(group)
	if got, want := sources(got), "0 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if user[0].User || !got[0].User || got[1].User {
		t.Error("NewBook says whose series is whose on copies of its own")
	}
}

func TestMatchesByYear(t *testing.T) {
	figures := func(years ...float64) (list []Figure) {
		for _, y := range years {
			list = append(list, Figure{Years: y, Revision: .05})
		}
		return list
	}
	narrow := &Series{Source: "narrow", Estimand: OneMinusKaplanMeier, Joint: "hip", Bearing: "metal-on-metal", Figures: figures(5)}
	wide := &Series{Source: "wide", Estimand: OneMinusKaplanMeier, Joint: "hip", Figures: figures(3, 5, 10)}
	limited := &Series{Source: "limited", Estimand: OneMinusKaplanMeier, Joint: "hip", Figures: []Figure{{Years: 10, Revision: .05, Lower: .04, Upper: .06}}}
	partly := &Series{Source: "partly", Estimand: OneMinusKaplanMeier, Joint: "hip", PeriodTo: 2020, Figures: []Figure{
		{Years: 5, Revision: .04, Lower: .03, Upper: .05}, {Years: 10, Revision: .05}}}
	crude := &Series{Source: "crude", Joint: "hip", Bearing: "metal-on-metal", Estimand: Incidence, Figures: figures(5, 7)}
	limit := &Series{Source: "limit", Joint: "hip", Estimand: Threshold, Figures: figures(10, 12)}
	m := NewBook(nil, []*Series{crude, limit, wide, narrow, partly, limited}).Match(Group{Joint: "hip", Bearing: "metal-on-metal"})

	if diff := cmp.Diff([]float64{3, 5, 7, 10, 12}, m.Years()); diff != "" {
		t.Error(diff)
	}
	tests := []struct {
		years    float64
		at       string
		threhold string
	}{
		{3, "wide", ""},
		{5, "narrow", ""},         // 1-KM before the incidence
		{7, "crude", ""},          // nothing else
		{10, "limited", "limit"},  // partly has limits, but none at ten years
		{12, "", "limit"},         // a threshold is no estimate
		{1, "", ""}, {11, "", ""}, // nothing between years
	}
	for _, test := range tests {
		name := func(c Choice, ok bool) string {
			if !ok {
				return ""
			}
			if c.Figure.Years != test.years {
				t.Errorf("at %v: figure of %v years", test.years, c.Figure.Years)
			}
			return c.Series.Source
		}
		if got := name(m.At(test.years)); got != test.at {
			t.Errorf("at %v years %q, want %q", test.years, got, test.at)
		}
		if got := name(m.ThresholdAt(test.years)); got != test.threhold {
			t.Errorf("threshold at %v years %q, want %q", test.years, got, test.threhold)
		}
	}
	if s, ok := m.Early(); !ok || s.Source != "wide" {
		t.Errorf("early: %v", s)
	}
	if s, ok := m[:1].Early(); ok {
		t.Errorf("early: %v", s)
	}
}

// A built-in figure can be found from the group it is of, wherever it states
// something: the file and the matching use the same words.
func TestBuiltinMatchesItself(t *testing.T) {
	book := NewBook(nil, Builtin())
	for _, s := range Builtin() {
		if s.Estimand == Pooled || strings.ContainsAny(s.Joint+s.Procedure+s.Bearing+s.Fixation+s.Sex, "*|") {
			continue
		}
		found := false
		for _, m := range book.Match(Group{s.Joint, s.Procedure, s.Bearing, s.Fixation, s.Sex, s.Age}) {
			found = found || m.Source == s.Source
		}
		if !found {
			t.Errorf("%s is not found", s.Source)
		}
	}
}

func BenchmarkMatch(b *testing.B) {
	for _, editions := range []int{1, 10} {
		series := mustRead(b, bigFile(editions))
		var groups []Group
		for _, bearing := range append([]string{""}, known("bearing")[:9]...) {
			for _, fixation := range append([]string{""}, known("fixation")...) {
				for _, age := range []AgeInterval{{}, {0, 55}, {55, 65}, {65, 75}, {75, 0}} {
					groups = append(groups, Group{Joint: "hip", Procedure: "total", Bearing: bearing, Fixation: fixation, Age: age})
				}
			}
		}
		b.Run(fmt.Sprintf("series=%d/groups=%d", len(series), len(groups)), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				book := NewBook(series, Builtin())
				for _, g := range groups {
					m := book.Match(g)
					for _, years := range m.Years() {
						m.At(years)
					}
				}
			}
		})
	}
}
