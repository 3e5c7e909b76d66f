package cohort_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
)

// word finds how one word of a column was understood.
func word(t *testing.T, c *cohort.Cohort, column, typed string) cohort.Word {
	t.Helper()
	for _, w := range c.Words() {
		if w.Column != column {
			continue
		}
		for _, word := range w.Words {
			if word.Typed == typed {
				return word
			}
		}
	}
	t.Fatalf("no word %q in %s: %+v", typed, column, c.Words())
	return cohort.Word{}
}

func TestWordsAreMadeCanonical(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,joint,procedure,side,bearing,fixation,sex",
		"2020-01-01,,Hip,THR,Lt,MoP,uncemented,F",
		"2020-01-01,,HIP,tha,L,metal/poly,press-fit,female",
		"2020-01-01,,hip,Total hip replacement,Left,M on PE,HA coated,woman"))
	g := mustTally(t, c, []string{"side", "bearing", "fixation", "sex"}, cohort.Endpoint{})
	want := map[string]int64{"hip|total|left|metal-on-polyethylene|porous|female": 3}
	if d := cmp.Diff(want, joints(g.Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if d := cmp.Diff(cohort.Word{Typed: "Lt", Value: "left", Known: true, Rows: 1}, word(t, c, "side", "Lt")); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// A word nobody knows is kept as typed, as its own group, and listed.
func TestUnknownWords(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,side,joint,procedure,bearing",
		"2020-01-01,,left,hip,total,glass on  glass",
		"2020-01-01,,left,hip,total,MoP",
		"2020-01-01,,left,hip,total,glass on  glass",
		"2020-01-01,,left,hip,total,"))
	g := mustTally(t, c, []string{"bearing"}, cohort.Endpoint{})
	want := map[string]int64{"hip|total|glass on glass": 2, "hip|total|metal-on-polyethylene": 1, "hip|total|not recorded": 1}
	if d := cmp.Diff(want, joints(g.Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if d := cmp.Diff(cohort.Word{Typed: "glass on  glass", Value: "glass on glass", Rows: 2}, word(t, c, "bearing", "glass on  glass")); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

// Known words in canonical order, then the others alphabetically, and not
// recorded last; the same for groups and for the levels of a dimension.
func TestLevelOrder(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,joint,procedure,fixation,side",
		"2020-01-01,,hip,total,,left",
		"2020-01-01,,hip,total,zinc,left",
		"2020-01-01,,hip,total,reverse hybrid,left",
		"2020-01-01,,hip,total,glue,left",
		"2020-01-01,,hip,total,hybrid,left",
		"2020-01-01,,hip,total,porous,left",
		"2020-01-01,,hip,total,cemented,left",
		"2020-01-01,,knee,UKR,cemented,left",
		"2020-01-01,,knee,TKR,cemented,left",
		"2020-01-01,,shoulder,total,cemented,left"))
	want := []string{
		"hip|total|cemented", "hip|total|porous", "hip|total|hybrid", "hip|total|reverse hybrid", "hip|total|glue", "hip|total|zinc", "hip|total|not recorded",
		"knee|total|cemented", "knee|unicompartmental|cemented", "shoulder|total|cemented",
	}
	if d := cmp.Diff(want, ordered(mustTally(t, c, []string{"fixation"}, cohort.Endpoint{}).Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestBearingDerived(t *testing.T) {
	for _, test := range []struct {
		name                string
		bearing, head, line string
		want                string
		warned              bool
	}{
		{"from head and liner", "", "CoCr 28 mm", "XLPE", "metal-on-crosslinked-polyethylene", false},
		{"ceramic on ceramic", "", "ceramic", "ceramic", "ceramic-on-ceramic", false},
		{"ceramicised metal", "", "OxZr", "HXLPE", "ceramicised-metal-on-crosslinked-polyethylene", false},
		{"never guessed to be cross-linked", "", "metal", "PE", "metal-on-polyethylene", false},
		{"dual mobility", "", "metal", "dual mobility", "dual-mobility", false},
		{"dual mobility, whatever the head", "", "", "dual mobility", "dual-mobility", false},
		{"dual mobility, with a head nobody knows", "", "28", "DM", "dual-mobility", false},
		{"agrees", "CoC", "ceramic", "ceramic", "ceramic-on-ceramic", false},
		{"parts say more", "CoP", "ceramic", "XLPE", "ceramic-on-crosslinked-polyethylene", false},
		{"contradiction: parts used, warned", "MoM", "ceramic", "XLPE", "ceramic-on-crosslinked-polyethylene", true},
		{"a word nobody knows is no contradiction", "usual", "ceramic", "ceramic", "ceramic-on-ceramic", false},
		{"only a head: the word", "CoC", "ceramic", "", "ceramic-on-ceramic", false},
		{"only a head: not recorded", "", "ceramic", "", cohort.NotRecorded, false},
		{"a liner nobody knows: the word", "CoC", "ceramic", "blue", "ceramic-on-ceramic", false},
		{"no such bearing: the word", "MoP", "metal", "ceramic", "metal-on-polyethylene", false},
		{"not a bearing", "unipolar", "", "", cohort.NotRecorded, true},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,joint,procedure,side,bearing,head,liner",
				"2020-01-01,,hip,total,left,"+test.bearing+","+test.head+","+test.line))
			g := mustTally(t, c, []string{"bearing"}, cohort.Endpoint{})
			if d := cmp.Diff(map[string]int64{"hip|total|" + test.want: 1}, joints(g.Set)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			if got := len(c.Warnings()) == 1; got != test.warned {
				t.Errorf("warnings %v", c.Warnings())
			}
		})
	}
}

// The polyethylene of a hip without a liner stands for the liner, if it says a
// polyethylene.
func TestPolyethyleneOfAHip(t *testing.T) {
	for _, test := range []struct {
		name, row string // bearing, head, liner, polyethylene
		want      string
		known     bool
	}{
		{"cross-linked", ",ceramic,,XLPE", "ceramic-on-crosslinked-polyethylene", true},
		{"XL", ",metal,,XL", "metal-on-crosslinked-polyethylene", true},
		{"conventional", ",metal,,std", "metal-on-polyethylene", true},
		{"which is not said", ",metal,,PE", "metal-on-polyethylene", true},
		{"UHMWPE", ",metal,,UHMWPE", "metal-on-polyethylene", true},
		{"no polyethylene", ",metal,,ceramic", cohort.NotRecorded, false},
		{"the liner goes first", ",metal,ceramic,XLPE", "metal-on-ceramic", true},
		{"a word, and no head", "CoP,,,XLPE", "ceramic-on-polyethylene", true},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,joint,procedure,side,bearing,head,liner,Poly", "2020-01-01,,hip,total,left,"+test.row))
			want := map[string]int64{"hip|total|" + test.want: 1}
			if d := cmp.Diff(want, joints(mustTally(t, c, []string{"bearing"}, cohort.Endpoint{}).Set)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			if w := word(t, c, "polyethylene", strings.Split(test.row, ",")[3]); w.Known != test.known {
				t.Errorf("%+v", w)
			}
		})
	}
	// A knee's is no liner, and no bearing.
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,joint,procedure,side,head,Poly", "2020-01-01,,knee,total,left,metal,XLPE"))
	if d := cmp.Diff(map[string]int64{"knee|total|" + cohort.NotRecorded: 1}, joints(mustTally(t, c, []string{"bearing"}, cohort.Endpoint{}).Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestBearingOfAKnee(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,joint,procedure,side,bearing,head,liner",
		"2020-01-01,,knee,TKR,left,rotating platform,metal,XLPE",
		"2020-01-01,,knee,TKR,left,FB,,"))
	g := mustTally(t, c, []string{"bearing"}, cohort.Endpoint{})
	if d := cmp.Diff(map[string]int64{"knee|total|fixed": 1, "knee|total|mobile": 1}, joints(g.Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	// The words of parts a knee does not have were understood all the same.
	if d := cmp.Diff(cohort.Word{Typed: "XLPE", Value: "crosslinked-polyethylene", Known: true, Rows: 1}, word(t, c, "liner", "XLPE")); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestFixationDerived(t *testing.T) {
	for _, test := range []struct {
		name, joint, row string // fixation, cup, stem, tibia, femur
		want             string
		warned           bool
	}{
		{"hip hybrid", "hip", ",porous,cemented,,", "hybrid", false},
		{"hip reverse hybrid", "hip", ",cemented,uncemented,,", "reverse hybrid", false},
		{"hip cemented", "hip", ",cemented,cemented,,", "cemented", false},
		{"hip porous", "hip", ",HA,press fit,,", "porous", false},
		{"knee hybrid", "knee", ",,,cemented,porous", "hybrid", false},
		{"knee reverse hybrid", "knee", ",,,porous,cemented", "reverse hybrid", false},
		{"the other joint's parts do not count", "knee", "cemented,porous,porous,,", "cemented", false},
		{"parts agree with the word", "hip", "hybrid,porous,cemented,,", "hybrid", false},
		{"contradiction: parts used, warned", "knee", "hybrid,,,porous,cemented", "reverse hybrid", true},
		{"a word nobody knows is no contradiction", "hip", "usual,porous,porous,,", "porous", false},
		{"one part only: the word", "hip", "hybrid,porous,,,", "hybrid", false},
		{"one part only: not recorded", "hip", ",porous,,,", cohort.NotRecorded, false},
		{"a part nobody knows: the word", "hip", "hybrid,porous,glued,,", "hybrid", false},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,procedure,side,joint,fixation,cup_fixation,stem_fixation,tibia_fixation,femur_fixation",
				"2020-01-01,,total,left,"+test.joint+","+test.row))
			g := mustTally(t, c, []string{"fixation"}, cohort.Endpoint{})
			if d := cmp.Diff(map[string]int64{test.joint + "|total|" + test.want: 1}, joints(g.Set)); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
			if got := len(c.Warnings()) == 1; got != test.warned {
				t.Errorf("warnings %v", c.Warnings())
			}
		})
	}
}

// A procedure in free text may name the joint, the side and the fixation.
func TestProcedureNamesMore(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,procedure,joint,side,fixation",
		"2020-01-01,,Left cemented THR,,,",
		"2020-01-01,,Right uncemented TKR,,,",
		"2020-01-01,,Left THR,hip,right,porous"))
	g := mustTally(t, c, []string{"side", "fixation"}, cohort.Endpoint{})
	want := map[string]int64{"hip|total|left|cemented": 1, "knee|total|right|porous": 1, "hip|total|right|porous": 1}
	if d := cmp.Diff(want, joints(g.Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestJointFromTheProcedureAlone(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,procedure", "2020-01-01,,THR", "2020-01-01,,UKR medial", "2020-01-01,,replacement"))
	want := map[string]int64{"hip|total": 1, "knee|unicompartmental": 1, "not recorded|replacement": 1}
	if d := cmp.Diff(want, joints(mustTally(t, c, nil, cohort.Endpoint{}).Set)); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
	if !c.HasColumn("joint") || !c.HasColumn("procedure") || c.HasColumn("bearing") {
		t.Errorf("fields %v", c.Fields())
	}
}

// A word may be known for one joint only. What is listed does not hang on
// which joint came first.
func TestWordOfTwoJoints(t *testing.T) {
	hip, knee := "2020-01-01,,hip,total,left,MoP", "2020-01-01,,knee,total,left,MoP"
	for _, rows := range [][]string{{hip, knee}, {knee, hip}} {
		c := mustRead(t, cohort.Options{}, table(append([]string{"operation_date,revision_date,joint,procedure,side,bearing"}, rows...)...))
		if d := cmp.Diff(cohort.Word{Typed: "MoP", Value: "metal-on-polyethylene", Known: true, Rows: 2}, word(t, c, "bearing", "MoP")); d != "" {
			t.Errorf("(-want +got):\n%s", d)
		}
		want := map[string]int64{"hip|total|metal-on-polyethylene": 1, "knee|total|MoP": 1}
		if d := cmp.Diff(want, joints(mustTally(t, c, []string{"bearing"}, cohort.Endpoint{}).Set)); d != "" {
			t.Errorf("(-want +got):\n%s", d)
		}
	}
}

// The words of a column come with their numbers of rows, the commonest first,
// those for a missing value left out.
func TestWordsListed(t *testing.T) {
	c := mustRead(t, cohort.Options{}, table("operation_date,revision_date,side,revised,dead",
		"2020-01-01,,L,no,alive", "2020-01-01,,right,no,", "2020-01-01,,Lt,n/a,maybe", "2020-01-01,,right,N,alive", "2020-01-01,,?,no,alive"))
	want := []cohort.ColumnWords{
		{"side", []cohort.Word{{Typed: "right", Value: "right", Known: true, Rows: 2}, {Typed: "L", Value: "left", Known: true, Rows: 1}, {Typed: "Lt", Value: "left", Known: true, Rows: 1}}},
		{"revised", []cohort.Word{{Typed: "no", Value: "no", Known: true, Rows: 3}, {Typed: "N", Value: "no", Known: true, Rows: 1}}},
		{"dead", []cohort.Word{{Typed: "alive", Value: "no", Known: true, Rows: 3}, {Typed: "(free text)", Value: "(free text)", Known: false, Rows: 1, Row: 4}}},
	}
	if d := cmp.Diff(want, c.Words()); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}

func TestCompleteness(t *testing.T) {
	c := mustRead(t, cohort.Options{EveryColumn: true}, table("operation_date,revision_date,patient,age,birth_year,side,ASA,surgeon",
		"2020-01-01,,p1,60,1960,L,2,Ann",
		"2020-01-01,n/a,,60,,,?,",
		"2020-01-01,2021-01-01,0,n/a,n/a,-,,n/a",
		"2020-01-01"))
	missing := make(map[string]int)
	for _, m := range c.Completeness() {
		if !m.Counted || m.Rows != 4 || m.File != 0 {
			t.Errorf("%+v", m)
		}
		missing[m.Heading.Typed] = m.Missing
	}
	want := map[string]int{"operation_date": 0, "revision_date": 3, "patient": 3, "age": 2, "birth_year": 3, "side": 3, "ASA": 3, "surgeon": 3}
	if d := cmp.Diff(want, missing); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}

	c = mustRead(t, cohort.Options{Keep: []string{"age", "sex"}}, table("operation_date,revision_date,age,sex,ASA", "2020-01-01,,,F,2", "2020-01-01,,60,,2"))
	got := c.Completeness()
	for i, want := range []cohort.Completeness{{Missing: 0, Counted: true}, {Missing: 2, Counted: true}, {Missing: 1, Counted: true}, {Missing: 1, Counted: true}, {Counted: false}} {
		if got[i].Missing != want.Missing || got[i].Counted != want.Counted {
			t.Errorf("%s: %+v", got[i].Heading.Typed, got[i])
		}
	}
}

// What the settings explain comes before everything else, whatever the case.
func TestExplainedWords(t *testing.T) {
	c := mustRead(t, cohort.Options{
		Words:   map[string]map[string]string{"bearing": {"std": "MoP", "485 777 3456": "CoC"}, "procedure": {"op 7": "TKR"}, "side": {"1": "left"}, "revised": {"redo": "yes"}},
		Missing: []string{"zzz", "9"},
	}, table("operation_date,revision_date,procedure,bearing,side,revised,last_seen_date",
		"2020-01-01,,THR,STD,1,,2021-01-01", "2020-01-01,,THR,485-777-3456,1,,zzz", "2020-01-01,zzz,op 7,zzz,1,redo,", "2020-01-01,9,op 7,ZZZ,1,9,"))
	if c.Account().Used != 3 || len(c.Account().Reasons) != 1 || c.Account().Reasons[0].Reason != cohort.RevisedWithoutDate {
		t.Errorf("%+v", c.Account())
	}
	g := mustTally(t, c, []string{"bearing"}, cohort.Endpoint{})
	want := []string{"metal-on-polyethylene", "ceramic-on-ceramic", cohort.NotRecorded}
	if got := g.Set.Dimensions[2].Levels; !slices.Equal(got, want) {
		t.Errorf("bearings %q, want %q", got, want)
	}
	for _, w := range c.Words() {
		if w.Column == "bearing" && !(w.Words[0].BySettings && w.Words[0].Known) {
			t.Errorf("%+v", w.Words)
		}
	}
}

func TestExplanationsRefused(t *testing.T) {
	for _, test := range []struct {
		words map[string]map[string]string
		want  string
	}{
		{map[string]map[string]string{"bearing": {"std": "metal-on-polyethilene"}}, `did you mean "metal-on-polyethylene"`},
		{map[string]map[string]string{"bearing": {"std": "ceramic"}}, `"std" is explained as "ceramic", which is no known word; write one of: metal-on-polyethylene, metal-on-crosslinked-polyethylene,`},
		{map[string]map[string]string{"side": {"1": "lefft"}}, `write one of: left, right, bilateral`},
		{map[string]map[string]string{"baering": {"std": "MoP"}}, `did you mean "bearing"`},
		{map[string]map[string]string{"revised": {"redo": "perhaps"}}, "no known word"},
		{map[string]map[string]string{"operation_date": {"x": "2020-01-01"}}, "can't be explained"},
	} {
		_, err := tryRead(t, cohort.Options{Words: test.words}, table("operation_date,revision_date", "2020-01-01,"))
		wantError(t, err, test.want)
	}
}

// So many combinations of words that the table of them begins anew: each row keeps
// its own words, and each word is counted in as many rows as have it.
func TestManyCombinationsOfWords(t *testing.T) {
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,side,procedure,surgeon,bearing,hospital,revision_date\n")
	const surgeons, hospitals, rows = 250, 1000, 150_000
	r := rand.New(rand.NewPCG(9, 1))
	surgeon, hospital := make(map[string]int), make(map[string]int)
	for i := range rows {
		s, h := fmt.Sprintf("S%d", 10+r.IntN(surgeons)), fmt.Sprintf("H%d", 10+r.IntN(hospitals))
		surgeon[s]++
		hospital[h]++
		fmt.Fprintf(&b, "P%06d,2010-03-04,hip,left,total,%s,CoC,%s,\n", i, s, h)
	}
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: "many.csv", Reader: strings.NewReader(b.String())}}, cohort.Options{Keep: []string{"surgeon", "hospital"}})
	if err != nil {
		t.Fatal(err)
	}
	for field, want := range map[string]map[string]int{"surgeon": surgeon, "hospital": hospital} {
		typed := make(map[string]int)
		for _, column := range c.Words() {
			for _, w := range column.Words {
				if column.Column == field {
					typed[w.Typed] = w.Rows
				}
			}
		}
		if d := cmp.Diff(want, typed); d != "" {
			t.Errorf("words of %s (-want +got):\n%s", field, d)
		}
		g, err := c.Tally([]string{field}, cohort.Endpoint{})
		if err != nil {
			t.Fatal(err)
		}
		joints := make(map[string]int)
		for key, counts := range g.Set.All() {
			joints[g.Set.Words(key, "")[2]] = int(counts.Subjects())
		}
		if d := cmp.Diff(want, joints); d != "" {
			t.Errorf("joints by %s (-want +got):\n%s", field, d)
		}
	}
}
