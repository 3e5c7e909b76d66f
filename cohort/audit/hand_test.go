package audit_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testaudit"
)

// twelveHips are twelve joints of eleven patients, all operated on 1 January
// 2015, so that a date is a number of days:
//
//	day    joints                      at risk  revised  died  censored
//	100    1 revised, 1 died           12       1        1
//	200    1 revised (died on day 900) 10       1
//	300    1 last seen                  9                      1
//	400    1 died                       8                1
//	500    1 revised                    7       1
//	800    1 revised, 1 last seen       6       1              1
//	1000   2 last seen                  4                      2
//	1096   both hips of one patient     2                      2
var twelveHips = testaudit.Lines(
	"patient,operation_date,procedure,side,revision_date,death_date,last_seen_date",
	"A,2015-01-01,THR,L,2015-04-11,,",
	"B,2015-01-01,THR,L,,2015-04-11,",
	"C,2015-01-01,THR,L,2015-07-20,2017-06-19,",
	"D,2015-01-01,THR,L,,,2015-10-28",
	"E,2015-01-01,THR,L,,2016-02-05,",
	"F,2015-01-01,THR,L,2016-05-15,,",
	"G,2015-01-01,THR,L,,,2017-03-11",
	"H,2015-01-01,THR,L,2017-03-11,,",
	"I,2015-01-01,THR,L,,,2017-09-27",
	"J,2015-01-01,THR,L,,,2017-09-27",
	"K,2015-01-01,THR,L,,,2018-01-01",
	"K,2015-01-01,THR,R,,,2018-01-01",
)

// twelvePublished has two figures, the second without limits.
const twelvePublished = `source,joint,procedure,years,revision_pct,lower_pct,upper_pct,estimand,citation
invented,hip,total,1,10,8,12,1-KM,Invented for a test
invented,hip,total,2,20,,,1-KM,Invented for a test
`

// z is the 0.975 quantile of the standard normal distribution (any table, to
// 15 digits).
const z = 1.959963984540054

// logLogKM are log-log limits of 1 − S from S and its error:
// S^exp(±z·SE/(S·|ln S|)).
func logLogKM(s, se float64) (lower, upper float64) {
	k := z * se / (s * -math.Log(s))
	return 1 - math.Pow(s, math.Exp(-k)), 1 - math.Pow(s, math.Exp(k))
}

// logLogF are log-log limits of F: F^exp(±z·SE/(F·|ln F|)).
func logLogF(f, se float64) (lower, upper float64) {
	k := z * se / (f * -math.Log(f))
	return math.Pow(f, math.Exp(k)), math.Pow(f, math.Exp(-k))
}

// Every number of the CSV, worked by hand.
//
// Kaplan–Meier, deaths censoring, S and Σ d/(n(n−d)):
//
//	100: 11/12                  1/132
//	200: 11/12·9/10 = 33/40     + 1/90  = 37/1980
//	500: 33/40·6/7  = 99/140    + 1/42  = 589/13860
//	800: 99/140·5/6 = 33/56     + 1/30  = 1051/13860
//
// Aalen–Johansen, event-free S before, F = Σ S·d/n:
//
//	100: S 1      F 1/12                           S 5/6
//	200: S 5/6    F 1/12 + 5/6·1/10   = 1/6        S 3/4
//	400: death                                     S 21/32
//	500: S 21/32  F 1/6 + 21/32·1/7   = 25/96      S 9/16
//	800: S 9/16   F 25/96 + 9/16·1/6  = 17/48
//
// Its variance W by the recursion of the Greenwood type with C = cov(S, F) and
// V = var S, from 0:
//
//	W ← W + 2aC + a²V + S²d_k(n−d_k)/n³,  a = d_k/n
//	C ← q(C + aV) − S²d_k(n−d)/n³,        q = 1 − d/n
//	V ← q²V + S²d(n−d)/n³
//
//	100: W 11/1728       C −5/864    V 5/432
//	200: W 5/432         C −1/96     V 1/64
//	400: W 5/432         C −7/768    V 161/8192
//	500: W 3739/221184   C −53/4096  V 45/2048
//	800: W 1135/55296
//
// (5/432 is the binomial 1/6·5/6/12: nobody has been censored by day 200.)
//
// A year is reached on day 365: 8 joints are at risk; two on day 730: 6; three on
// day 1095: 2; nobody is followed for 5 years.
//
// Days together: 100+100+200+300+400+500+800+800+1000+1000+1096+1096 = 7392.
func TestEveryNumberByHand(t *testing.T) {
	a := testaudit.Run(t, testaudit.Read(t, twelveHips, cohort.Options{ClosingDate: testaudit.Closing(t)}),
		audit.Options{By: []string{}, Years: []float64{1, 2, 3, 5}, Published: testaudit.Book(t, twelvePublished)})
	rows := testaudit.Rows(t, a)
	if len(rows) != 4 {
		t.Fatalf("%d rows, want 4", len(rows))
	}

	implantYears := 7392 / 365.25
	rate := 400 / implantYears

	// Published: cumulative hazards at 1 and 2 years; everybody's closing date
	// reaches both. The slope of log H on log t is 1.08, and no more than 1 before
	// the first. 100, 100, 200 and 300 days in the first year; 400 and 500 days in
	// the second; six joints all of it. Observed up to 2 years: 3.
	h1, h2 := -math.Log(0.9), -math.Log(0.8)
	slope := math.Log(h2/h1) / math.Log(2)
	expected := h1*(100+100+200+300)/365.25 + h1*math.Pow(400/365.25, slope) + h1*math.Pow(500/365.25, slope) + 6*h2
	e := a.Groups[0].Expected()
	if e == nil || e.Observed != 3 || e.ToYears != 2 || e.Joints != 12 || e.Without != 0 || e.Revised != 4 || !testaudit.Near(e.Expected, expected) || !testaudit.Near(e.Ratio, 3/expected) {
		t.Errorf("%+v, want %v expected", e, expected)
	}
	comparisons := testaudit.Comparisons(t, a)
	if len(comparisons) != 2 {
		t.Fatalf("%d comparisons, want 2", len(comparisons))
	}

	type want struct {
		years           string
		atRisk, revised float64
		s, sum, f, w    float64
		pub, pubL, pubU float64
		notes           string
	}
	nan := math.NaN()
	for i, w := range []want{
		{"1", 8, 2, 33. / 40, 37. / 1980, 1. / 6, 5. / 432, .10, .08, .12, "few at risk; fewer than 10 at risk"},
		{"2", 6, 3, 99. / 140, 589. / 13860, 25. / 96, 3739. / 221184, .20, nan, nan, "few at risk; fewer than 10 at risk; rounding only; published error unknown"},
		{"3", 2, 4, 33. / 56, 1051. / 13860, 17. / 48, 1135. / 55296, nan, nan, nan, "few at risk"},
		{"5", 0, nan, nan, nan, nan, nan, nan, nan, nan, "beyond follow-up"},
	} {
		r := rows[i]
		if got, want := r.Pick("joint", "procedure", "years", "joints", "patients", "revised", "died"), "hip total "+w.years+" 12 11 4 2"; got != want {
			t.Errorf("row %d: %s, want %s", i, got, want)
		}
		kmSE, fSE := w.s*math.Sqrt(w.sum), math.Sqrt(w.w)
		kmL, kmU := logLogKM(w.s, kmSE)
		fL, fU := logLogF(w.f, fSE)
		p, l, u, P, L, U := 1-w.s, kmL, kmU, w.pub, w.pubL, w.pubU
		if w.years == "2" {
			L, U = P-.005, P+.005 // printed as 20
		}
		for _, c := range []struct {
			column string
			want   float64
		}{
			{"implant_years", implantYears}, {"rate_per_100", rate},
			{"at_risk", w.atRisk}, {"revised_so_far", w.revised},
			{"km_pct", 100 * (1 - w.s)}, {"km_se_pct", 100 * kmSE}, {"km_lower_pct", 100 * kmL}, {"km_upper_pct", 100 * kmU},
			{"incidence_pct", 100 * w.f}, {"incidence_se_pct", 100 * fSE}, {"incidence_lower_pct", 100 * fL}, {"incidence_upper_pct", 100 * fU},
			{"published_least_pct", 100 * w.pub}, {"published_most_pct", 100 * w.pub},
		} {
			if got := r.Number(t, c.column); !testaudit.Near(got, c.want) {
				t.Errorf("%s years: %s is %v, want %v", w.years, c.column, got, c.want)
			}
		}
		if i < len(comparisons) {
			for _, c := range []struct {
				column string
				want   float64
			}{
				{"own_pct", 100 * p}, {"own_lower_pct", 100 * l}, {"own_upper_pct", 100 * u}, {"at_risk", w.atRisk}, {"joints", 12}, {"revised", 4},
				{"published_pct", 100 * w.pub}, {"published_lower_pct", 100 * w.pubL}, {"published_upper_pct", 100 * w.pubU},
				{"difference_pct", 100 * (p - P)},
				{"difference_lower_pct", 100 * (p - P - math.Sqrt((p-l)*(p-l)+(U-P)*(U-P)))},
				{"difference_upper_pct", 100 * (p - P + math.Sqrt((u-p)*(u-p)+(P-L)*(P-L)))},
				{"observed", 3}, {"expected", expected}, {"expected_to_years", 2}, {"joints_counted", 12}, {"ratio", 3 / expected},
			} {
				if got := comparisons[i].Number(t, c.column); !testaudit.Near(got, c.want) {
					t.Errorf("%s years: %s is %v, want %v", w.years, c.column, got, c.want)
				}
			}
		}
		if r["notes"] != w.notes {
			t.Errorf("%s years: notes %q, want %q", w.years, r["notes"], w.notes)
		}

		// Exact Poisson limits leave 2.5 % on either side, which the
		// probabilities themselves show: of 4 revisions.
		for _, c := range []struct {
			count        int
			lower, upper float64
		}{
			{4, r.Number(t, "rate_lower") * implantYears / 100, r.Number(t, "rate_upper") * implantYears / 100},
		} {
			if got := 1 - poisson(c.count-1, c.lower); math.Abs(got-.025) > 1e-12 {
				t.Errorf("%d or more at %v: %v, want .025", c.count, c.lower, got)
			}
			if got := poisson(c.count, c.upper); math.Abs(got-.025) > 1e-12 {
				t.Errorf("%d or fewer at %v: %v, want .025", c.count, c.upper, got)
			}
		}
	}
	reading := []string{"file 1 1 too few to say", "file 1 1 too few to say", ". . . .", ". . . ."}
	for i, r := range rows {
		if got := r.Pick("published_origin", "published_figures", "published_registers", "reading"); got != reading[i] {
			t.Errorf("row %d: %s, want %s", i, got, reading[i])
		}
	}
}

// poisson is the probability of n or fewer.
func poisson(n int, mean float64) float64 {
	term, sum := math.Exp(-mean), 0.0
	for i := 0; i <= n; i++ {
		sum += term
		term *= mean / float64(i+1)
	}
	return sum
}

// The order of the rows in the table is no part of the result.
func TestShuffledRowsGiveTheSameBytes(t *testing.T) {
	table := strings.Split(strings.TrimSpace(twelveHips), "\n")
	reversed := slices.Clone(table)
	slices.Reverse(reversed[1:])
	audits := func(rows []string) string {
		a := testaudit.Run(t, testaudit.Read(t, testaudit.Lines(rows...), cohort.Options{ClosingDate: testaudit.Closing(t)}), audit.Options{By: []string{}})
		return string(testaudit.CSV(t, a))
	}
	if a, b := audits(table), audits(reversed); a != b {
		t.Errorf("differs:\n%s\n%s", a, b)
	}
}

// What the CSV says is what the audit holds.
func TestCSVIsTheAudit(t *testing.T) {
	a := testaudit.Run(t, testaudit.Read(t, twelveHips, cohort.Options{ClosingDate: testaudit.Closing(t)}),
		audit.Options{By: []string{"side"}, Years: []float64{1, 2, 3, 5}, Published: testaudit.Book(t, twelvePublished)})
	rows := testaudit.Rows(t, a)
	for _, g := range a.Groups {
		for _, r := range g.Rows() {
			line := rows[0]
			rows = rows[1:]
			where := fmt.Sprintf("%s at %v", g.Title(), r.Years)
			check := func(column string, want float64) {
				t.Helper()
				if got := line[column]; got != audit.Number(want) {
					t.Errorf("%s: %s is %q, want %q", where, column, got, audit.Number(want))
				}
			}
			check("years", r.Years)
			check("joints", float64(g.Joints))
			check("patients", float64(g.Patients))
			check("revised", float64(g.Revised))
			check("died", float64(g.Died))
			check("implant_years", g.ImplantYears)
			check("rate_per_100", g.Rate.Rate)
			check("rate_lower", g.Rate.Lower)
			check("rate_upper", g.Rate.Upper)
			if !r.Reached {
				continue
			}
			check("at_risk", r.KaplanMeier.AtRisk)
			check("revised_so_far", r.KaplanMeier.Events)
			for column, want := range map[string]float64{
				"km_pct": r.KaplanMeier.Estimate, "km_se_pct": r.KaplanMeier.SE, "km_lower_pct": r.KaplanMeier.Lower, "km_upper_pct": r.KaplanMeier.Upper,
				"incidence_pct": r.Incidence.Estimate, "incidence_se_pct": r.Incidence.SE,
				"incidence_lower_pct": r.Incidence.Lower, "incidence_upper_pct": r.Incidence.Upper,
			} {
				if got := proportion(t, line[column]); got != want {
					t.Errorf("%s: %s reads back as %v, want %v", where, column, got, want)
				}
			}
		}
	}
	if len(rows) > 0 {
		t.Errorf("%d rows too many", len(rows))
	}
}
