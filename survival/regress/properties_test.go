package regress

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/survival"
)

type fitter = func(Data, int, Options) (*Fit, error)

var fitters = map[string]fitter{"Cox": Cox, "Firth": Firth, "FineGray": FineGray}

// pickRows are some rows of data, in the order given.
func pickRows(d Data, of []int) Data {
	out := d
	out.Design, out.Sample, out.Stratum, out.Pattern, out.Count = nil, survival.Sample{}, nil, nil, nil
	for _, i := range of {
		out.Sample.Exit = append(out.Sample.Exit, d.Sample.Exit[i])
		out.Sample.Cause = append(out.Sample.Cause, d.Sample.Cause[i])
		if d.Pattern != nil {
			out.Pattern = append(out.Pattern, d.Pattern[i])
		} else {
			out.Design = append(out.Design, d.Design[i])
		}
		if d.Sample.Entry != nil {
			out.Sample.Entry = append(out.Sample.Entry, d.Sample.Entry[i])
		}
		if d.Sample.Weight != nil {
			out.Sample.Weight = append(out.Sample.Weight, d.Sample.Weight[i])
		}
		if d.Sample.Cluster != nil {
			out.Sample.Cluster = append(out.Sample.Cluster, d.Sample.Cluster[i])
		}
		if d.Stratum != nil {
			out.Stratum = append(out.Stratum, d.Stratum[i])
		}
	}
	if out.Pattern != nil {
		out.Design = d.Design
	}
	return out
}

// coarse makes covariates of few values, so that rows are alike.
func coarse(d Data) Data {
	for _, row := range d.Design {
		row[2] = math.Round(row[2])
	}
	return d
}

// counted is the data with rows alike as counts, and patterns apart.
func counted(d Data) Data {
	type key struct {
		row        string
		exit       float64
		cause      int
		stratum    int32
		weight, at float64
	}
	out := Data{Names: d.Names}
	patterns, cells := map[string]int32{}, map[key]int{}
	for i, row := range d.Design {
		k := key{row: fmt.Sprint(row), exit: d.Sample.Exit[i], cause: d.Sample.Cause[i], weight: d.weight(i)}
		if d.Stratum != nil {
			k.stratum = d.Stratum[i]
		}
		if d.Sample.Entry != nil {
			k.at = d.Sample.Entry[i]
		}
		if c, ok := cells[k]; ok {
			out.Count[c]++
			continue
		}
		cells[k] = len(out.Count)
		if _, ok := patterns[k.row]; !ok {
			patterns[k.row] = int32(len(out.Design))
			out.Design = append(out.Design, row)
		}
		out.Pattern, out.Count = append(out.Pattern, patterns[k.row]), append(out.Count, 1)
		out.Sample.Exit, out.Sample.Cause = append(out.Sample.Exit, k.exit), append(out.Sample.Cause, k.cause)
		if d.Stratum != nil {
			out.Stratum = append(out.Stratum, k.stratum)
		}
		if d.Sample.Entry != nil {
			out.Sample.Entry = append(out.Sample.Entry, k.at)
		}
		if d.Sample.Weight != nil {
			out.Sample.Weight = append(out.Sample.Weight, k.weight)
		}
	}
	return out
}

func sameFit(t *testing.T, what string, got, want *Fit, err error, tolerance float64) {
	t.Helper()
	if err != nil {
		t.Errorf("%s: %v", what, err)
		return
	}
	near := cmpopts.EquateApprox(tolerance, tolerance)
	for name, pair := range map[string][2]any{
		"coefficients": {want.Coefficient, got.Coefficient}, "variance": {want.Variance, got.Variance},
		"lower limits": {want.Lower, got.Lower}, "p values": {want.P, got.P}, "score test": {want.Score.Value, got.Score.Value},
		"log likelihood": {want.LogLikelihood - want.Null, got.LogLikelihood - got.Null},
		"subjects":       {want.Subjects, got.Subjects}, "events": {want.Events, got.Events},
	} {
		if diff := cmp.Diff(pair[0], pair[1], near); diff != "" {
			t.Errorf("%s, %s (-want +got):\n%s", what, name, diff)
		}
	}
}

// TestProperties changes what must not matter to a fit.
func TestProperties(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 14))
	rounds := 12
	if testing.Short() {
		rounds = 3 // one of each kind of data
	}
	for round := range rounds {
		for _, name := range slices.Sorted(maps.Keys(fitters)) { // so that each has the same draws every time
			fit := fitters[name]
			d := coarse(draw(random, 150, 25))
			if round%3 == 1 && name != "FineGray" {
				for i := range d.Sample.Exit {
					d.Stratum = append(d.Stratum, int32(7*(i%3)))
					d.Sample.Entry = append(d.Sample.Entry, math.Inf(-1))
					if i%2 == 0 {
						d.Sample.Entry[i] = math.Floor(d.Sample.Exit[i] * random.Float64())
					}
				}
			}
			if round%3 == 2 && name == "Cox" {
				for range d.Sample.Exit {
					d.Sample.Weight = append(d.Sample.Weight, float64(random.IntN(4))/2) // some 0
				}
			}
			what := fmt.Sprintf("%s, round %d", name, round)
			want, err := fit(d, 1, Options{})
			if err != nil {
				t.Fatalf("%s: %v", what, err)
			}
			for _, numbers := range [][]float64{want.Coefficient, want.SE, want.Lower, want.Upper, want.P} {
				for _, x := range numbers {
					if math.IsNaN(x) {
						t.Errorf("%s: NaN in %v", what, numbers)
					}
				}
			}
			got, err := fit(pickRows(d, random.Perm(150)), 1, Options{})
			sameFit(t, what+", rows shuffled", got, want, err, 1e-12)
			patterns := d
			for i := range d.Design {
				patterns.Pattern = append(patterns.Pattern, int32(i))
			}
			got, err = fit(pickRows(patterns, random.Perm(150)), 1, Options{})
			if sameFit(t, what+", patterns shuffled", got, want, err, 1e-12); !cmp.Equal(got.Coefficient, want.Coefficient) {
				t.Errorf("%s: with patterns, the order of rows changes a bit of the coefficients", what)
			}
			got, err = fit(counted(d), 1, Options{})
			sameFit(t, what+", counts", got, want, err, 1e-11)

			scaled := d
			scaled.Sample.Exit, scaled.Sample.Entry = nil, nil
			for i, x := range d.Sample.Exit {
				scaled.Sample.Exit = append(scaled.Sample.Exit, x/365.25)
				if d.Sample.Entry != nil {
					scaled.Sample.Entry = append(scaled.Sample.Entry, d.Sample.Entry[i]/365.25)
				}
			}
			got, err = fit(scaled, 1, Options{})
			sameFit(t, what+", time in years", got, want, err, 1e-11)
			checkCoding(t, what, fit, d, want)
		}
	}
}

// checkCoding fits with another group as the reference, a number in another unit
// and from another origin, and another order of columns.
func checkCoding(t *testing.T, what string, fit fitter, d Data, want *Fit) {
	t.Helper()
	other := d
	other.Names = []string{"number", "one", "yes", "three"}
	other.Design = nil
	for _, row := range d.Design {
		other.Design = append(other.Design, []float64{2010 + row[2]/4, 1 - row[0] - row[1], row[3], row[1]})
	}
	got, err := fit(other, 1, Options{})
	if err != nil {
		t.Errorf("%s, other coding: %v", what, err)
		return
	}
	c := &comparison{T: t, what: what + ", other coding", tolerance: 1e-8}
	b := want.Coefficient
	c.closeAll("coefficients", got.Coefficient, []float64{4 * b[2], -b[0], b[3], b[1] - b[0]})
	c.close("standard error of the number", got.SE[0], 4*want.SE[2])
	c.close("lower limit of the group", got.Lower[1], -want.Upper[0])
	if want.Kind != Penalised { // |I| has another unit
		c.close("log likelihood", got.LogLikelihood, want.LogLikelihood)
	}
	c.close("rise of the likelihood", got.LogLikelihood-got.Null, want.LogLikelihood-want.Null)
}

// TestClusters compares clusters of one with the weighted, robust variance, and
// counts within a cluster with rows.
func TestClusters(t *testing.T) {
	random := rand.New(rand.NewPCG(9, 1))
	d := coarse(draw(random, 120, 20))
	d.Sample.Weight = make([]float64, 120)
	for i := range d.Sample.Weight {
		d.Sample.Weight[i] = 1
	}
	want, err := Cox(d, 1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	d.Sample.Weight, d.Sample.Cluster = nil, random.Perm(120)
	got, err := Cox(d, 1, Options{})
	sameFit(t, "clusters of one", got, want, err, 1e-12)

	// Every row twice: in one cluster the variance stays, apart it is halved.
	twice := append(all(120), all(120)...)
	got, err = Cox(pickRows(d, twice), 1, Options{Ties: Breslow})
	if err != nil {
		t.Fatal(err)
	}
	d.Count = make([]int64, 120)
	for i := range d.Count {
		d.Count[i] = 2
	}
	counts, err := Cox(d, 1, Options{Ties: Breslow})
	sameFit(t, "counts in a cluster", counts, got, err, 1e-11)
}

// TestSplit splits data without giving any column another coefficient, which
// must change nothing, the robust variance included.
func TestSplit(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 2))
	d := counted(coarse(draw(random, 300, 20)))
	split, err := Split(d, []float64{5, 11})
	if err != nil {
		t.Fatal(err)
	}
	want, err := Cox(d, 1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	got, err := Cox(split, 1, Options{})
	sameFit(t, "no column split", got, want, err, 1e-11)

	d.Sample.Weight = make([]float64, len(d.Count))
	for i := range d.Sample.Weight {
		d.Sample.Weight[i] = 1 + float64(i%3)
	}
	if split, err = Split(d, []float64{5, 11}); err != nil {
		t.Fatal(err)
	}
	if want, err = Cox(d, 1, Options{}); err != nil {
		t.Fatal(err)
	}
	got, err = Cox(split, 1, Options{})
	sameFit(t, "the robust variance of rows split", got, want, err, 1e-11)

	split, err = Split(d, []float64{5, 11}, 1, 3)
	if err != nil {
		t.Fatal(err)
	}
	names := []string{"two", "three, to 5", "number", "yes, to 5", "three, 5 to 11", "yes, 5 to 11", "three, after 11", "yes, after 11"}
	if diff := cmp.Diff(names, split.Names); diff != "" {
		t.Errorf("names (-want +got):\n%s", diff)
	}
	for _, wrong := range []func() (Data, error){
		func() (Data, error) { return Split(d, []float64{5, 5}, 0) },
		func() (Data, error) { return Split(d, []float64{math.NaN()}, 0) },
		func() (Data, error) { return Split(d, []float64{5}, 4) },
		func() (Data, error) { return Split(d, []float64{5}, 1, 1) },
	} {
		if _, err := wrong(); err == nil {
			t.Error("no error for cuts or columns that can't be split")
		}
	}
}

// TestProportionalErrors asks for tests that there are not.
func TestProportionalErrors(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 2))
	d := draw(random, 80, 20)
	cox, err := Cox(d, 1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := cox.Proportional(Time, []Term{{"none", []int{4}}}); err == nil {
		t.Error("a term of no column: no error")
	}
	// A term of both columns of a word has both degrees of freedom.
	tests, together, err := cox.Proportional(Time, []Term{{"group", []int{0, 1}}, {"all", []int{3, 2, 1, 0}}})
	if err != nil || tests[0].DF != 2 || math.Abs(tests[1].Value-together.Value) > 1e-9 {
		t.Errorf("terms: %v, %v, %v", tests, together, err)
	}
	firth, err := Firth(d, 1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := firth.Proportional(Time, nil); err != ErrNotCox {
		t.Errorf("after Firth: error %v, want %v", err, ErrNotCox)
	}
	for i := range d.Sample.Exit {
		d.Sample.Exit[i] = 0
	}
	once, err := Cox(d, 1, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := once.Proportional(LogTime, nil); err != ErrLogTime {
		t.Errorf("an event at time 0: error %v, want %v", err, ErrLogTime)
	}
	if _, _, err := once.Proportional(ShareFailed, nil); err != ErrAtOnce {
		t.Errorf("all events at once: error %v, want %v", err, ErrAtOnce)
	}
}

// TestTinySamples fits what is much too small: the result is an error or
// numbers, of which only the limits of Firth may be infinite.
func TestTinySamples(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 5))
	outcomes := map[string]int{}
	for round := range 400 {
		d := draw(random, 2+random.IntN(14), 1+random.IntN(6))
		if p := 1 + random.IntN(3); p < 4 {
			d.Names = d.Names[4-p:]
			for i, row := range d.Design {
				d.Design[i] = row[4-p:]
			}
		}
		for name, fit := range fitters {
			with := d
			if name == "Cox" && round%2 == 0 {
				with.Sample.Cluster = make([]int, len(d.Sample.Exit))
				for i := range with.Sample.Cluster {
					with.Sample.Cluster[i] = random.IntN(4)
				}
			}
			f, err := fit(with, 1, Options{Ties: Ties(round % 2 * (round / 2 % 2))})
			if err != nil {
				var c *ColumnError
				if outcomes[err.Error()]++; !errors.As(err, &c) && !errors.Is(err, ErrNoEvents) && !errors.Is(err, ErrVariance) {
					t.Errorf("round %d, %s: %v", round, name, err)
				}
				continue
			}
			outcomes[name]++
			for j := range f.Names {
				for _, x := range []float64{f.Coefficient[j], f.SE[j], f.P[j], f.Wald.P, f.LikelihoodRatio.P} {
					if math.IsNaN(x) || math.IsInf(x, 0) {
						t.Fatalf("round %d, %s: %v in %+v", round, name, x, f)
					}
				}
				if !(f.Lower[j] <= f.Coefficient[j] && f.Coefficient[j] <= f.Upper[j]) {
					t.Errorf("round %d, %s: limits %v and %v of %v", round, name, f.Lower[j], f.Upper[j], f.Coefficient[j])
				}
			}
		}
	}
	for name := range fitters {
		if outcomes[name] < 50 {
			t.Errorf("%s was fitted %d times", name, outcomes[name])
		}
	}
}
