package regress

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"example.org/holdfast/survival"
	"github.com/google/go-cmp/cmp"
)

// single is data with one covariate, all with exits from 1 on in the order given.
func single(x []float64, events ...int) Data {
	d := Data{Names: []string{"x"}}
	for i, v := range x {
		d.Design = append(d.Design, []float64{v})
		d.Sample.Exit = append(d.Sample.Exit, float64(i+1))
		d.Sample.Cause = append(d.Sample.Cause, 0)
	}
	for _, i := range events {
		d.Sample.Cause[i] = 1
	}
	return d
}

// TestCoxByHand: with r = e^β, exits 1, 2, 3 with x = 1, 0, 1 and events at 1 and
// 2, ℓ = log r/(2r+1) + log 1/(r+1). Its derivative is 0 where
// 1 − 2r/(2r+1) = r/(r+1), that is 2r² = 1: r = 1/√2. The information is
// 2r/(2r+1)² + r/(r+1)².
func TestCoxByHand(t *testing.T) {
	f, err := Cox(single([]float64{1, 0, 1}, 0, 1), 1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	r := 1 / math.Sqrt2
	information := 2*r/((2*r+1)*(2*r+1)) + r/((r+1)*(r+1))
	c := &comparison{T: t, what: "by hand", tolerance: 1e-12}
	c.close("ratio", math.Exp(f.Coefficient[0]), r)
	c.close("variance", f.Variance[0][0], 1/information)
	c.close("log likelihood", f.LogLikelihood, math.Log(r/(2*r+1))-math.Log(r+1))
	c.close("log likelihood at 0", f.Null, -math.Log(3)-math.Log(2))
	// At 0 the score is 1 − 2/3 − 1/2 = −1/6, the information 2/9 + 1/4 = 17/36.
	c.close("score test", f.Score.Value, 1./17)
	// The baseline at x = 0: 1/(2r+1), then 1/(r+1) more.
	h := f.Baseline()[0]
	c.closeAll("baseline", h.Cumulative, []float64{1 / (2*r + 1), 1/(2*r+1) + 1/(r+1)})
	c.closeAll("times", h.Time, []float64{1, 2})
}

// TestTiesByHand: two events on day 1 with x = 1 and 0, one subject with x = 1
// censored later. Breslow: ℓ = log r − 2·log(2r+1), 2r = 1. Efron takes half
// of those with the event off the second time: ℓ = log r − log(2r+1) −
// log(3r/2+1/2), so that 6r² = 1.
func TestTiesByHand(t *testing.T) {
	d := single([]float64{1, 0, 1}, 0, 1)
	d.Sample.Exit = []float64{1, 1, 2}
	for ties, want := range map[Ties]float64{Breslow: 0.5, Efron: 1 / math.Sqrt(6)} {
		f, err := Cox(d, 1, Options{Ties: ties})
		if err != nil {
			t.Fatal(err)
		}
		if got := math.Exp(f.Coefficient[0]); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v: ratio %v, want %v", ties, got, want)
		}
	}
}

// TestFirthByHand: exits 1, 2, 3, all with the event, x = 1, 1, 0. With t = e^β
// the penalised likelihood is
//
//	log t/(2t+1) + log t/(t+1) + ½·log(2t/(2t+1)² + t/(t+1)²)
//
// whose maximum is found here by halving an interval, on its derivative.
func TestFirthByHand(t *testing.T) {
	d := single([]float64{1, 1, 0}, 0, 1, 2)
	f, err := Firth(d, 1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	slope := func(b float64) float64 {
		t := math.Exp(b)
		information := 2*t/((2*t+1)*(2*t+1)) + t/((t+1)*(t+1))
		third := 2*t*(1-2*t)/math.Pow(2*t+1, 3) + t*(1-t)/math.Pow(t+1, 3)
		return 1/(2*t+1) + 1/(t+1) + third/(2*information)
	}
	low, high := 0.0, 4.0
	for range 60 {
		if m := (low + high) / 2; slope(m) > 0 {
			low = m
		} else {
			high = m
		}
	}
	if math.Abs(f.Coefficient[0]-low) > 1e-10 {
		t.Errorf("coefficient %.12f, want %.12f", f.Coefficient[0], low)
	}
	if _, err := Cox(d, 1, Options{}); !errors.Is(err, ErrSeparated) {
		t.Errorf("Cox: error %v, want %v", err, ErrSeparated)
	}
}

// TestFreireich compares with the remissions of Freireich et al., Blood
// 1963;21:699 (as in Cox & Oakes, Analysis of Survival Data, table 1.1), placebo
// against 6-MP. Values calculated with R 4.2.2, survival 3.5-3, coxph.
func TestFreireich(t *testing.T) {
	treated := []float64{6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35} // events the first nine
	placebo := []float64{1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23}
	d := Data{Names: []string{"placebo"}, Design: [][]float64{{0}, {1}}}
	for i, weeks := range slices.Concat(treated, placebo) {
		cause, pattern := 1, int32(1)
		if i < 21 {
			pattern = 0
			if i >= 9 {
				cause = 0
			}
		}
		d.Sample.Exit, d.Sample.Cause, d.Pattern = append(d.Sample.Exit, weeks), append(d.Sample.Cause, cause), append(d.Pattern, pattern)
	}
	for _, want := range []struct {
		ties                 Ties
		coefficient, se      float64
		ratio, score, wald   float64
		lower, upper, pValue float64
	}{
		{Breslow, 1.50919141, .40956441, 15.21, 15.93, 13.58, 2.0268035, 10.093815, .00022882},
		{Efron, 1.57212515, .41239672, 16.35, 17.25, 14.53, 2.1465082, 10.809311, .00013775},
	} {
		f, err := Cox(d, 1, Options{Ties: want.ties})
		if err != nil {
			t.Fatal(err)
		}
		c := &comparison{T: t, what: want.ties.String(), tolerance: 1e-8}
		_, lower, upper := f.Ratio(0)
		c.close("coefficient", f.Coefficient[0], want.coefficient)
		c.tolerance = 5e-8 // printed to eight digits
		c.close("lower limit", lower, want.lower)
		c.close("upper limit", upper, want.upper)
		c.close("standard error", f.SE[0], want.se)
		c.tolerance = 5e-4
		c.close("likelihood ratio test", f.LikelihoodRatio.Value, want.ratio)
		c.close("score test", f.Score.Value, want.score)
		c.close("Wald test", f.Wald.Value, want.wald)
		c.close("p", 1000*f.P[0], 1000*want.pValue)
		if f.Subjects != 42 || f.Events != 30 {
			t.Errorf("%d subjects, %d events, want 42, 30", f.Subjects, f.Events)
		}
	}
}

// TestHardToClimb: 3 joints with 1 revision beside 200 with 5. Full Newton steps
// from 0 go to 10.4, where the likelihood is lower than at the start, then out
// of all bounds. Values calculated with R 4.2.2, survival 3.5-3, coxph, which
// halves the steps too.
func TestHardToClimb(t *testing.T) {
	d := Data{Names: []string{"few"}, Design: [][]float64{{0}, {1}}}
	for i := range 203 {
		pattern, cause, exit := int32(0), 0, float64(i*1237%3000+1)
		if i < 3 {
			pattern = 1
		}
		if i == 0 || i >= 3 && (i-3)%40 == 0 {
			cause = 1
		}
		if i == 0 {
			exit = 100
		}
		d.Pattern, d.Sample.Exit, d.Sample.Cause = append(d.Pattern, pattern), append(d.Sample.Exit, exit), append(d.Sample.Cause, cause)
	}
	f, err := Cox(d, 1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	c := &comparison{T: t, what: "3 beside 200", tolerance: 1e-10}
	c.close("coefficient", f.Coefficient[0], 2.59440477527311)
	c.close("standard error", f.SE[0], 1.09731049291312)
	c.closeAll("log likelihood", []float64{f.Null, f.LogLikelihood}, []float64{-28.5384044394476, -26.9506673326992})
}

// random data with covariates of every kind.
func draw(random *rand.Rand, n, days int) Data {
	d := Data{Names: []string{"two", "three", "number", "yes"}}
	for range n {
		g, z, b := random.IntN(3), math.Round(10*random.NormFloat64())/10, float64(random.IntN(2))
		row := []float64{0, 0, z, b}
		if g > 0 {
			row[g-1] = 1
		}
		d.Design = append(d.Design, row)
		d.Sample.Exit = append(d.Sample.Exit, float64(1+random.IntN(days)))
		d.Sample.Cause = append(d.Sample.Cause, random.IntN(3))
	}
	return d
}

func TestErrors(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	base := func() Data { return draw(random, 60, 20) }
	with := func(f func(d *Data)) Data {
		d := base()
		f(&d)
		return d
	}
	column := func(f func(row []float64) float64) Data {
		return with(func(d *Data) {
			for i, row := range d.Design {
				d.Design[i][3] = f(row)
			}
		})
	}
	nan := math.NaN()
	tests := []struct {
		name   string
		fit    func(Data, int, Options) (*Fit, error)
		data   Data
		o      Options
		want   error
		column string
		others []string
	}{
		{"nobody has the event", Cox, with(func(d *Data) { clear(d.Sample.Cause) }), Options{}, ErrNoEvents, "", nil},
		{"constant", Cox, column(func([]float64) float64 { return 0.1 }), Options{}, ErrConstant, "yes", nil},
		{"constant, Firth", Firth, column(func([]float64) float64 { return -7 }), Options{}, ErrConstant, "yes", nil},
		{"constant within strata", Cox, with(func(d *Data) {
			for i, row := range d.Design {
				d.Stratum = append(d.Stratum, int32(i%2))
				row[3] = 2010 + float64(i%2)
			}
		}), Options{}, ErrConstant, "yes", nil},
		{"collinear", Cox, column(func(r []float64) float64 { return 5 - r[0] - 3*r[1] }), Options{}, ErrCollinear, "yes", []string{"two", "three"}},
		{"the number in another unit", FineGray, column(func(r []float64) float64 { return 1.8*r[2] + 32 }), Options{}, ErrCollinear, "yes", []string{"number"}},
		{"no event in a group", Cox, with(func(d *Data) {
			for i, row := range d.Design {
				if row[1] == 1 && d.Sample.Cause[i] == 1 {
					d.Sample.Cause[i] = 0
				}
			}
		}), Options{}, ErrSeparated, "three", nil},
		{"events in the order of the number", Cox, single([]float64{-1, -2, -3, -4, -5, -6, -7, -8}, 0, 2, 4, 6), Options{}, ErrSeparated, "x", nil},
		{"no event in a group, Fine–Gray", FineGray, with(func(d *Data) {
			for i, row := range d.Design {
				if row[3] == 1 && d.Sample.Cause[i] == 1 {
					d.Sample.Cause[i] = 2
				}
			}
		}), Options{}, ErrSeparated, "yes", nil},
		{"no covariate", Cox, with(func(d *Data) { d.Names = nil }), Options{}, ErrNoColumns, "", nil},
		{"covariate not a number", Cox, with(func(d *Data) { d.Design[3][2] = nan }), Options{}, ErrDesign, "", nil},
		{"design too narrow", Cox, with(func(d *Data) { d.Design[3] = d.Design[3][:2] }), Options{}, ErrDesign, "", nil},
		{"design too short", Cox, with(func(d *Data) { d.Design = d.Design[:3] }), Options{}, ErrDesign, "", nil},
		{"exit not a number", Cox, with(func(d *Data) { d.Sample.Exit[2] = nan }), Options{}, survival.ErrNotFinite, "", nil},
		{"strata too few", Cox, with(func(d *Data) { d.Stratum = []int32{1} }), Options{}, survival.ErrLength, "", nil},
		{"patterns too few", Cox, with(func(d *Data) { d.Pattern = []int32{1} }), Options{}, survival.ErrLength, "", nil},
		{"counts too few", Cox, with(func(d *Data) { d.Count = []int64{1} }), Options{}, survival.ErrLength, "", nil},
		{"weights, Firth", Firth, with(func(d *Data) { d.Sample.Weight = d.Sample.Exit }), Options{}, ErrWeights, "", nil},
		{"clusters, Fine–Gray", FineGray, with(func(d *Data) { d.Sample.Cluster = d.Sample.Cause }), Options{}, ErrWeights, "", nil},
		{"late entry, Fine–Gray", FineGray, with(func(d *Data) { d.Sample.Entry = make([]float64, 60) }), Options{}, ErrLateEntry, "", nil},
	}
	for _, test := range tests {
		f, err := test.fit(test.data, 1, test.o)
		if !errors.Is(err, test.want) {
			t.Errorf("%s: error %v (%+v), want %v", test.name, err, f, test.want)
			continue
		}
		var c *ColumnError
		if test.column != "" && errors.As(err, &c) {
			if c.Name != test.column || !cmp.Equal(c.Others, test.others) {
				t.Errorf("%s: names %q with %q, want %q with %q", test.name, c.Name, c.Others, test.column, test.others)
			}
		}
	}
	for _, o := range []Options{{Level: 1}, {Level: -1}, {Level: nan}, {Ties: 2}} {
		if _, err := Cox(base(), 1, o); err == nil {
			t.Errorf("options %+v: no error", o)
		}
	}
	for name, d := range map[string]Data{
		"pattern of no row":      with(func(d *Data) { d.Pattern = slices.Repeat([]int32{60}, 60) }),
		"count below 0":          with(func(d *Data) { d.Count = slices.Repeat([]int64{-1}, 60) }),
		"stratum below 0":        with(func(d *Data) { d.Stratum = slices.Repeat([]int32{-1}, 60) }),
		"entry after the exit":   with(func(d *Data) { d.Sample.Entry = slices.Repeat([]float64{50}, 60) }),
		"weight not a number":    with(func(d *Data) { d.Sample.Weight = slices.Repeat([]float64{nan}, 60) }),
		"cause below 0":          with(func(d *Data) { d.Sample.Cause[5] = -1 }),
		"clusters of one length": with(func(d *Data) { d.Sample.Cluster = []int{1} }),
	} {
		var row *survival.RowError
		if _, err := Cox(d, 1, Options{}); !errors.As(err, &row) {
			t.Errorf("%s: error %v, want one about a row", name, err)
		}
	}
}
