package regress

import (
	"fmt"
	"math"
	"slices"
)

// Split gives some covariates a coefficient for each period of time: with cuts
// of 1 and 5 years, one up to 1 year, one from 1 to 5 and one after. A day on
// a cut belongs to the period before it. The result is data in which each
// subject has a row for every period it lived through, at risk from one cut to
// the next and in a stratum of that period; fitted by [Cox] it has the
// likelihood of the model with x_j·[t in period]. Twice the difference of its
// log likelihood from that of the data that were split has a χ² distribution,
// with len(columns)·len(cuts) degrees of freedom, if the ratios do not change.
//
// Of the new columns those of the first period stand in the places of the
// columns split, with the name of the period added; the others follow at the
// end. It is an error if cuts are not finite and increasing, or if a column is
// named twice or is none of the data's.
func Split(d Data, cuts []float64, columns ...int) (Data, error) {
	if err := d.check(); err != nil {
		return Data{}, err
	}
	for i, c := range cuts {
		if !(math.Abs(c) <= math.MaxFloat64) || i > 0 && c <= cuts[i-1] {
			return Data{}, fmt.Errorf("regress: cuts %v, want finite numbers that increase", cuts)
		}
	}
	for i, j := range columns {
		if j < 0 || j >= len(d.Names) || slices.Contains(columns[:i], j) {
			return Data{}, fmt.Errorf("regress: no column %d to split, or split twice", j)
		}
	}
	periods := len(cuts) + 1
	if most := math.MaxInt32 / periods; len(d.Design) > most || d.Stratum != nil && int(slices.Max(d.Stratum)) > most-1 {
		return Data{}, fmt.Errorf("regress: too many patterns or strata for %d periods", periods)
	}
	out := Data{Names: splitNames(d.Names, cuts, columns)}
	for _, row := range d.Design {
		for k := range periods {
			wide := append(slices.Clone(row), make([]float64, len(columns)*(periods-1))...)
			for i, j := range columns {
				if k > 0 {
					wide[len(row)+(k-1)*len(columns)+i], wide[j] = row[j], 0
				}
			}
			out.Design = append(out.Design, wide)
		}
	}
	for i, exit := range d.Sample.Exit {
		from := math.Inf(-1)
		if d.Sample.Entry != nil {
			from = d.Sample.Entry[i]
		}
		for k := range periods {
			low, high := math.Inf(-1), math.Inf(1)
			if k > 0 {
				low = cuts[k-1]
			}
			if k < len(cuts) {
				high = cuts[k]
			}
			if exit > low && from < high {
				out.addPeriod(&d, i, k, periods, math.Max(from, low), math.Min(exit, high))
			}
		}
	}
	return out, nil
}

func splitNames(names []string, cuts []float64, columns []int) []string {
	out := slices.Clone(names)
	for k := range len(cuts) + 1 {
		period := ""
		switch {
		case len(cuts) == 0:
			return out
		case k == 0:
			period = fmt.Sprintf("to %v", cuts[0])
		case k == len(cuts):
			period = fmt.Sprintf("after %v", cuts[k-1])
		default:
			period = fmt.Sprintf("%v to %v", cuts[k-1], cuts[k])
		}
		for _, j := range columns {
			name := names[j] + ", " + period
			if k == 0 {
				out[j] = name
			} else {
				out = append(out, name)
			}
		}
	}
	return out
}

// addPeriod adds row i of d as it is in period k.
func (d *Data) addPeriod(of *Data, i, k, periods int, from, to float64) {
	d.Pattern = append(d.Pattern, of.pattern(i)*int32(periods)+int32(k))
	stratum, origin := int32(0), int32(i)
	if of.Stratum != nil {
		stratum = of.Stratum[i]
	}
	if of.origin != nil {
		origin = of.origin[i]
	}
	d.Stratum = append(d.Stratum, stratum*int32(periods)+int32(k))
	d.origin = append(d.origin, origin)
	s := &d.Sample
	cause := of.Sample.Cause[i]
	if to < of.Sample.Exit[i] {
		cause = censored
	}
	s.Entry, s.Exit, s.Cause = append(s.Entry, from), append(s.Exit, to), append(s.Cause, cause)
	if of.Sample.Weight != nil {
		s.Weight = append(s.Weight, of.Sample.Weight[i])
	}
	if of.Sample.Cluster != nil {
		s.Cluster = append(s.Cluster, of.Sample.Cluster[i])
	}
	if of.Count != nil {
		d.Count = append(d.Count, of.Count[i])
	}
}

// originals is the number of subjects that were split.
func (d *Data) originals() int64 {
	var n int64
	seen := make(map[int32]bool, len(d.origin))
	for i, row := range d.origin {
		if d.used(i) && !seen[row] {
			seen[row] = true
			n += d.count(i)
		}
	}
	return n
}
