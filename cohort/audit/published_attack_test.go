package audit_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/internal/testaudit"
)

// attackedHips are 300 hips operated on in 2010: of 200 in women of 60, 18 were revised in the first
// year and 12 patients died in the fourth; of 100 in men of 75, none was revised. Own at 5 years: all 6 %,
// women 9 %, men 0 %; the incidence the same, since the revised were revised before anybody died.
var attackedHips = "operation_date,procedure,bearing,age,sex,revision_date,death_date\n" +
	testaudit.Repeat(18, "2010-01-01,THR,CoC,60,F,2010-07-01,") + testaudit.Repeat(12, "2010-01-01,THR,CoC,60,F,,2014-01-01") +
	testaudit.Repeat(170, "2010-01-01,THR,CoC,60,F,,") + testaudit.Repeat(100, "2010-01-01,THR,CoC,75,M,,")

const attackHeadings = "source,joint,procedure,bearing,age_band,sex,setting,register,subset,years,revision_pct,lower_pct,upper_pct,level,estimand,period_from,period_to,citation\n"

// Files of published figures built to trick one rule each into a reading that nothing supports. A file is
// refused with a sentence, or its rows say what became of them: source, own per cent, match, reading, the
// reading together; and so many readings are counted, of which so many chance alone would make.
func TestAttackOnTheRules(t *testing.T) {
	women := []cohort.Condition{{Column: "sex", Value: "female"}}
	tests := []struct {
		name, figures string
		where         []cohort.Condition
		refused       string
		want          []string
		readings      int
		byChance      float64
	}{
		{name: "an honest figure, to begin with", figures: "a,hip,total,,,,,,,5,1,0.9,1.1,,1-KM,,,c\n",
			want: []string{"a 6 like above above"}, readings: 1, byChance: .025},
		{name: "another estimand: the incidence meets the incidence alone", figures: "a,hip,total,,,,,,,5,1,0.9,1.1,,cumulative incidence,,,c\na,hip,total,,,,,,,5,6,5,7,,1-KM,,,c\n",
			want: []string{"a 6 like above above", "a 6 like compatible with compatible with"}, readings: 2, byChance: .075},
		{name: "another estimand: pooled studies", figures: "a,hip,total,,,,,,,5,1,0.9,1.1,,pooled estimate,,,c\n", want: []string{"a . other . ."}},
		{name: "another estimand: a limit that somebody set, beside everybody", figures: "a,hip,total,,,,,,,5,1,,,,threshold,,,c\n"},
		{name: "another estimand: survival in the column of revision", figures: "a,hip,total,,,,,,,5,98,97.9,98.1,,1-KM,,,c\n", refused: "is it survival"},
		{name: "a subset said in words", figures: "a,hip,total,,,,,,the best designs,5,1,0.9,1.1,,1-KM,,,c\n", want: []string{"a 6 other . ."}},
		{name: "a subset by its setting", figures: "a,hip,total,,,,one surgeon,,,5,1,0.9,1.1,,1-KM,,,c\nb,hip,total,,,,one centre,,,5,1,0.9,1.1,,1-KM,,,c\n",
			want: []string{"a 6 other . .", "b 6 other . ."}},
		{name: "a subset of another era", figures: "a,hip,total,,,,,,,5,1,0.9,1.1,,1-KM,1985,1995,c\n", want: []string{"a 6 other . ."}},
		{name: "a narrower group meets its own", figures: "a,hip,total,,,M,,,,5,5,4.9,5.1,,1-KM,,,c\n", want: []string{"a 0 like below below"}, readings: 1, byChance: .05},
		{name: "a narrower group that nobody is of", figures: "a,hip,total,MoM,,,,,,5,1,0.9,1.1,,1-KM,,,c\n"},
		{name: "narrower groups that overlap are each beside their own", figures: "a,hip,total,,50-69,,,,,5,5,4.9,5.1,,1-KM,,,c\na,hip,total,,60+,,,,,5,1,0.9,1.1,,1-KM,,,c\n",
			want: []string{"a 9 like above above", "a 6 like above above"}, readings: 2, byChance: .075},
		{name: "a superset: no procedure stated", figures: "a,hip,,,,,,,,5,1,0.9,1.1,,1-KM,,,c\n", want: []string{"a 6 other . ."}},
		{name: "a superset of those selected", figures: "a,hip,total,,,,,,,5,1,0.9,1.1,,1-KM,,,c\n", where: women, want: []string{"a 9 other . ."}},
		{name: "those selected are what it states", figures: "a,hip,total,,,F,,,,5,1,0.9,1.1,,1-KM,,,c\n", where: women, want: []string{"a 9 like above above"}, readings: 1, byChance: .025},
		{name: "a superset as a pattern of all bearings", figures: "a,hip,total,!MoM,,,,,,5,1,0.9,1.1,,1-KM,,,c\n", want: []string{"a 6 like above above"}, readings: 1, byChance: .025},
		{name: "months for years", figures: "a,hip,total,,,,,,,60,6,5,7,,1-KM,,,c\n", refused: "are these months?"},
		{name: "months for years that could be years", figures: "a,hip,total,,,,,,,12,1,0.9,1.1,,1-KM,,,c\na,hip,total,,,,,,,24,2,1.9,2.1,,1-KM,,,c\n", refused: "are these months?"},
		{name: "limits in other units than the figure", figures: "a,hip,total,,,,,,,5,6,0.05,0.07,,1-KM,,,c\n", refused: "lies below the figure"},
		{name: "limits and figure as fractions", figures: "a,hip,total,,,,,,,5,0.06,0.05,0.07,,1-KM,,,c\n", refused: "per cent or fractions"},
		{name: "limits of survival beside revision", figures: "a,hip,total,,,,,,,5,6,93,95,,1-KM,,,c\n", refused: "lies above the figure"},
		{name: "limits that are standard errors", figures: "a,hip,total,,,,,,,5,6,0.5,0.5,,1-KM,,,c\n", refused: "lies below the figure"},
		{name: "limits as narrow as rounding makes them", figures: "a,hip,total,,,,,,,5,6,6,6,,1-KM,,,c\n", want: []string{"a 6 like compatible with compatible with"}, readings: 1, byChance: .05},
		{name: "two levels of one figure", figures: "a,hip,total,,,,,,,5,6,5,7,0.95,1-KM,,,c\na,hip,total,,,,,,,5,6,5.5,6.5,0.8,1-KM,,,c\n", refused: "the same figure as in row"},
		{name: "a level in per cent", figures: "a,hip,total,,,,,,,5,6,5,7,95,1-KM,,,c\n", refused: "written as a proportion"},
		// Own limits at 60 % are about 5 to 7.4 %; chance at the lesser level is counted for both.
		{name: "two levels read together", figures: "a,hip,total,,,,,,,5,4.6,4.4,4.8,0.6,1-KM,,,c\nb,hip,total,,,,,,,5,4.6,4.4,4.8,0.95,1-KM,,,d\n",
			want: []string{"a 6 like above above some", "b 6 like compatible with above some"}, readings: 1, byChance: .4},
		{name: "one figure twice, typed otherwise", figures: "a,hip,total,,,,,,,5,1,0.9,1.1,,1-KM,,,c\na,Hip,THR,all,,*,,,,5,1,0.9,1.1,,1-KM,,,c\n", refused: "the same figure as in row"},
		{name: "one register under two names is one reading", figures: "a,hip,total,,,,,Norway,,5,1,0.9,1.1,,1-KM,,,c\nb,hip,total,,,,,Norway|Sweden,,5,1,0.9,1.1,,1-KM,,,d\n",
			want: []string{"a 6 like above above", "b 6 like above above"}, readings: 1, byChance: .025},
		{name: "revision that falls with time", figures: "a,hip,total,,,,,,,5,6,5,7,,1-KM,,,c\na,hip,total,,,,,,,10,4,3,5,,1-KM,,,c\n", refused: "never falls"},
		{name: "no citation", figures: "a,hip,total,,,,,,,5,6,5,7,,1-KM,,,\n", refused: "needs a citation"},
		{name: "a year that nobody can have reached", figures: "a,hip,total,,,,,,,15,1,0.9,1.1,,1-KM,,,c\n", want: []string{"a . none . ."}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			series, _, err := benchmark.Read(strings.NewReader(attackHeadings+test.figures), "own.csv")
			if test.refused != "" {
				if err == nil || !strings.Contains(err.Error(), test.refused) {
					t.Errorf("error %v, want one that says %q", err, test.refused)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			c := testaudit.Read(t, attackedHips, cohort.Options{ClosingDate: testaudit.Closing(t), Where: test.where})
			a := testaudit.Run(t, c, audit.Options{By: []string{}, Years: []float64{5}, Published: series})
			var got []string
			for _, r := range testaudit.Comparisons(t, a) {
				if r["match"] != "none" || r["joints"] != "0" {
					got = append(got, r.Pick("source", "own_pct", "match", "reading", "together"))
				}
			}
			if d := cmp.Diff(test.want, got); d != "" {
				t.Error(d)
			}
			if a.Readings != test.readings || !testaudit.Near(a.ByChance, test.byChance) {
				t.Errorf("%d readings, %v by chance, want %d and %v", a.Readings, a.ByChance, test.readings, test.byChance)
			}
		})
	}
}
