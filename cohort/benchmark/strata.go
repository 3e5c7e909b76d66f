package benchmark

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/survival"
)

// Strata are revisions observed and expected by strata that one source publishes,
// such as age bands, and of all of them together.
type Strata struct {
	Source string
	Fields []string // what the strata state beside joint and procedure

	Parts []*Ratio // the largest difference of observed from expected first

	Observed, Expected float64 // sums of the parts
	Ratio              float64
	Lower, Upper       float64 // Garwood's limits of the observed, over the expected, which is taken as exact
	Level              float64
}

// Excess is by how much more are revised than expected; below 0, by how much fewer.
func (r *Ratio) Excess() float64 { return r.Observed - r.Expected }

// Stratify puts together the ratios of one joint and procedure whose series are of
// one source and period and state the same columns, each another value, so that no
// joint counts twice. Sources with one such series only are left out, and so are
// patterns, which may overlap. Observed and expected are added up; ratios are not
// averaged. There is no test of whether strata differ.
func Stratify(ratios []*Ratio, level float64) []Strata {
	var order []string
	of := make(map[string][]*Ratio)
	for _, r := range ratios {
		key := fmt.Sprintf("%s|%d|%d|%t|%s|%s", r.Series.Source, r.Series.PeriodFrom, r.Series.PeriodTo, r.Series.User, r.Series.Joint, r.Series.Procedure)
		for _, a := range r.Series.attributes() {
			key += "|" + a.field
		}
		if of[key] == nil {
			order = append(order, key)
		}
		of[key] = append(of[key], r)
	}
	var all []Strata
	for _, key := range order {
		if parts := of[key]; len(parts) > 1 && apart(parts) {
			all = append(all, newStrata(parts, level))
		}
	}
	return all
}

type attribute struct{ field, value string }

// attributes are what a series states beside joint and procedure.
func (s *Series) attributes() []attribute {
	var all []attribute
	for _, a := range []attribute{{"bearing", s.Bearing}, {"polyethylene", s.Polyethylene}, {"fixation", s.Fixation}, {"sex", s.Sex}, {"diagnosis", s.Diagnosis}} {
		if a.value != "" {
			all = append(all, a)
		}
	}
	if s.Age != (AgeInterval{}) {
		all = append(all, attribute{"age_band", s.Age.String()})
	}
	return all
}

// Stratum is what a series states beside joint and procedure, in words.
func (s *Series) Stratum() string {
	var words []string
	for _, a := range s.attributes() {
		words = append(words, a.value)
	}
	return strings.Join(words, ", ")
}

// apart says that no joint is of two of the series.
func apart(parts []*Ratio) bool {
	for i, r := range parts {
		if slices.ContainsFunc(r.Series.attributes(), func(a attribute) bool { return strings.ContainsAny(a.value, "*|") }) {
			return false
		}
		for _, other := range parts[:i] {
			differ := false
			for n, a := range r.Series.attributes() {
				b := other.Series.attributes()[n]
				if a.field == "age_band" {
					differ = differ || !r.Series.Age.overlaps(other.Series.Age)
				} else {
					differ = differ || !strings.EqualFold(a.value, b.value)
				}
			}
			if !differ {
				return false
			}
		}
	}
	return true
}

func newStrata(parts []*Ratio, level float64) Strata {
	s := Strata{Source: parts[0].Series.Source, Parts: slices.Clone(parts), Level: level}
	for _, a := range parts[0].Series.attributes() {
		s.Fields = append(s.Fields, a.field)
	}
	for _, r := range parts {
		s.Observed, s.Expected = s.Observed+r.Observed, s.Expected+r.Expected
	}
	slices.SortStableFunc(s.Parts, func(a, b *Ratio) int { return cmp.Compare(math.Abs(b.Excess()), math.Abs(a.Excess())) })
	s.Ratio, s.Lower, s.Upper = nan, nan, nan
	if s.Expected > 0 {
		lower, upper := survival.PoissonLimits(s.Observed, level)
		s.Ratio, s.Lower, s.Upper = s.Observed/s.Expected, lower/s.Expected, upper/s.Expected
	}
	return s
}
