package contrast

import (
	"fmt"
	"iter"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
)

// Options say what is compared. Between is needed.
type Options struct {
	// Between is the field whose groups are set against each other.
	Between string

	// Within are fields in whose strata alone groups are compared: the tests then
	// are stratified, beside those that are not.
	Within []string

	// Adjust are the covariates of the regression: "age" as it is, per 10 years;
	// any other field by its words. None: the ratios are not adjusted.
	Adjust []string

	// Against is the group that others are compared with; "" is the largest.
	Against string

	// Years since operation at which cumulative revision is compared; nil means
	// audit.DefaultYears.
	Years []float64

	// Interval is how curves are read.
	Interval survival.Interval

	// Endpoint is the event; the zero value is revision for any reason.
	Endpoint cohort.Endpoint

	// Periods are the years since operation at which ratios may change; nil means
	// DefaultPeriods, and none asks for no ratios by period.
	Periods []float64

	// NoModel leaves out the regression.
	NoModel bool

	testsOnly bool // leaves out all but the log-rank tests

	// Published are series in which the difference of the same groups is looked up.
	Published []*benchmark.Series

	// Gray adds what is for researchers: Gray's test and the regression of Fine
	// and Gray, both of the cumulative incidence.
	Gray bool
}

// Contrast is one comparison of groups as plain data, for each joint and
// procedure by itself. Proportions are between 0 and 1.
type Contrast struct {
	Files    []cohort.File
	Closing  cohort.Closing
	Account  cohort.Account
	Deaths   cohort.Deaths
	Scope    []cohort.Condition
	Endpoint cohort.Endpoint
	Interval survival.Interval
	Years    []float64

	Between string // fields, as the cohort calls them
	Within  []string
	Adjust  []string

	Parts []Part

	Method   []string // how the numbers were made, in words
	Cautions []string
}

// Part is the comparison within one joint and procedure.
type Part struct {
	Joint, Procedure string

	// Refused says in a sentence why nothing is compared; everything below but
	// the counts is then empty.
	Refused string

	Joints   int64 // compared
	Revised  int64
	LeftOut  int64 // joints whose group is not recorded
	Patients int64 // −1 where no table names patients

	// Bilateral counts the joints whose patient has another one among those
	// compared, and Shared the patients whose joints are in different groups: they
	// are not independent, which the tests take them for.
	Bilateral, Shared int64
	RevisedPatients   int64

	Groups  []Group // in canonical order
	Against int     // the group that others are compared with

	// LogRank compares the groups over their whole follow-up, and Within does so
	// within strata. NotWithin says in a sentence why the latter is nil though
	// strata were asked for.
	LogRank   *survival.Test
	Within    *survival.Test
	Strata    int
	NotWithin string

	// Gray is Gray's test, within strata where there are any; NotGray says why
	// it is nil though asked for.
	Gray, GrayWithin *survival.Test
	NotGray          string

	// Year is the index in Contrast.Years of the one at which all groups are shown
	// beside one another: the latest at which those with 30 or more at risk, the group
	// that the others are compared with among them, have at least half of the joints;
	// else with 10 or more; else the first.
	Year int

	Differences []Difference // by estimand, years and group
	Means       *Means       // nil where no two groups have ten at risk at Year
	Model       *Model       // nil if left out

	// ByStratum are the revisions expected from published series of several strata.
	ByStratum []*audit.Sum

	// Standard are the groups of StandardJoints and more at one mix of patients.
	Standard *Standard
}

// Group is one of the groups compared.
type Group struct {
	Word         string
	Joints       int64
	Revised      int64
	Died         int64
	ImplantYears float64
	Points       []Point // as Contrast.Years

	MedianAge float64 // NaN where no age is recorded
	Mix       []Mix   // who they are

	KaplanMeier *survival.Curve
	Incidence   *survival.Curve // nil if deaths are not recorded
	Table       *survival.Table // in days
}

// Mix counts a group's joints by their words in one field.
type Mix struct {
	Field  string
	Words  []string
	Joints []int64
}

// Point is a group at one time.
type Point struct {
	Years       float64
	Reached     bool // somebody was followed that long
	KaplanMeier survival.Point
	Incidence   survival.Point // the zero value where deaths are not recorded
}

// RefusedError says in one sentence why nothing can be compared.
type RefusedError struct{ Why string }

func (e *RefusedError) Error() string { return e.Why }

func refuse(format string, args ...any) error { return &RefusedError{fmt.Sprintf(format, args...)} }

// FewestForP is the number of revisions below which a test has no p value that is
// shown: observed and expected say as much.
const FewestForP = 5

// Source is where a contrast has its joints from: a cohort, or pooled tallies, whose joints
// have neither patients nor ages, so that nothing is given by patient and age is compared
// in bands.
type Source interface {
	audit.Source
	Joints(e cohort.Endpoint, fields ...string) (iter.Seq[cohort.Joint], error)
}

// Run compares the groups of a cohort, or of pooled tallies. A [*RefusedError] says why they can't be:
// what was asked for is no field to compare by, or no joint and procedure has
// two groups and two revisions.
func Run(c Source, o Options) (*Contrast, error) {
	if err := o.Interval.Check(); err != nil {
		return nil, err
	}
	of := c.About()
	k := &Contrast{
		Files: of.Files, Closing: of.Closing, Account: of.Account, Deaths: of.Deaths, Scope: of.Scope,
		Endpoint: o.Endpoint, Interval: o.Interval, Years: slices.Clone(o.Years),
	}
	if k.Years == nil {
		k.Years = audit.DefaultYears()
	}
	slices.Sort(k.Years)
	if k.Years = slices.Compact(k.Years); len(k.Years) == 0 || !(k.Years[0] > 0) || !(k.Years[len(k.Years)-1] <= 100) {
		return nil, fmt.Errorf("years %v: want numbers above 0 and up to 100, such as 1,3,5,10,15", k.Years)
	}
	if err := k.fields(c, o); err != nil {
		return nil, err
	}
	all, err := collect(c, k)
	if err != nil {
		return nil, err
	}
	for _, s := range all {
		part, err := k.part(s, o)
		if err != nil {
			return nil, err
		}
		k.Parts = append(k.Parts, *part)
	}
	if err := k.refused(); err != nil {
		return nil, err
	}
	if err := k.strata(c, o); err != nil {
		return nil, err
	}
	k.Method, k.Cautions = method(k, o), append(cautions(k), of.Notes...)
	return k, nil
}

// fields settles which fields are meant.
func (k *Contrast) fields(c Source, o Options) error {
	if o.Between == "" {
		return refuse("between which groups? Name a column, such as bearing")
	}
	between, err := comparable(c, "between", o.Between)
	if err != nil {
		return err
	}
	if between == age {
		return refuse("between age: ages are compared in bands, as age_band")
	}
	k.Between = between
	for _, wanted := range o.Within {
		field, err := comparable(c, "within", wanted)
		switch {
		case err != nil:
			return err
		case field == age:
			return refuse("within age: strata are of bands, as age_band")
		case field == between:
			return refuse("within %s: its groups are what is compared", wanted)
		case slices.Contains(k.Within, field):
			return refuse("within %s: it is named twice", wanted)
		}
		k.Within = append(k.Within, field)
	}
	for _, wanted := range o.Adjust {
		field, err := comparable(c, "adjust", wanted)
		switch {
		case err != nil:
			return err
		case field == between:
			return refuse("adjust for %s: its groups are what is compared", wanted)
		case slices.Contains(k.Adjust, field):
			return refuse("adjust for %s: it is named twice", wanted)
		}
		k.Adjust = append(k.Adjust, field)
	}
	return nil
}

// age is the one covariate that is a number, and no field.
const age = "age"

// ageBand is the field made of it.
const ageBand = "age_band"

// comparable is the field of a name, if joints may be compared by it.
func comparable(c Source, as, name string) (string, error) {
	if name == age {
		if !slices.Contains(c.Fields(), ageBand) {
			return "", refuse("%s %s: the table has no ages", as, name)
		}
		return age, nil
	}
	field, err := c.Field(name)
	if cohort.Outcome(name) || err == nil && cohort.Outcome(field) {
		return "", refuse("%s %s: who is in such a group is known only after the operation, so its groups can't be compared; count revisions for one reason by themselves instead", as, name)
	}
	switch {
	case err != nil:
		return "", refuse("%s %s: %v", as, name, err)
	case field == "joint" || field == "procedure":
		return "", refuse("%s %s: joint and procedure always stand apart, and are never compared with one another", as, name)
	}
	if _, err := c.Values(field); err != nil {
		return "", refuse("%s %s: %v", as, name, err)
	}
	return field, nil
}

// refused says why nothing is compared, or not as asked for, if that is so of
// every joint and procedure.
func (k *Contrast) refused() error {
	if len(k.Parts) == 0 {
		return refuse("no joint to compare")
	}
	why := ""
	for _, p := range k.Parts {
		said := p.Refused
		if said == "" && p.NotWithin != "" {
			said = p.NotWithin
		}
		if said == "" && p.Model != nil && p.Model.Unfit {
			said = p.Model.Refused
		}
		if said == "" {
			return nil
		}
		if why != "" {
			why += " "
		}
		why += said
	}
	return &RefusedError{why}
}

// part compares the groups of one joint and procedure.
func (k *Contrast) part(s *subjects, o Options) (*Part, error) {
	p := &Part{Joint: s.joint, Procedure: s.procedure, LeftOut: s.leftOut, Patients: -1}
	p.Joints, p.Revised = int64(len(s.days)), s.revised()
	if s.patients {
		s.shared(p)
	}
	if p.Refused = k.twoGroups(s, o); p.Refused != "" {
		return p, nil
	}
	if !o.testsOnly {
		if err := k.groups(p, s, o); err != nil {
			return nil, err
		}
	}
	if err := k.tests(p, s, o); err != nil || p.Refused != "" || o.testsOnly {
		return p, err
	}
	p.Year = p.commonYear()
	k.differences(p, o.Published)
	if err := k.means(p, o); err != nil {
		return nil, err
	}
	if !o.NoModel {
		if err := k.model(p, s, o); err != nil {
			return nil, err
		}
	}
	return p, k.standard(p, s)
}

// commonYear is the index of the year at which groups are shown together: the latest at which
// enough of the group that the others are read against are at risk, and of groups with half of
// the joints.
func (p *Part) commonYear() int {
	for _, floor := range []float64{survival.DefaultMinAtRisk, benchmark.FewestAtRisk} {
		for n := len(p.Groups[0].Points) - 1; n >= 0; n-- {
			enough := func(g *Group) bool {
				pt := g.Points[n]
				return pt.Reached && pt.KaplanMeier.AtRisk >= floor
			}
			joints := int64(0)
			for i := range p.Groups {
				if g := &p.Groups[i]; enough(g) {
					joints += g.Joints
				}
			}
			if 2*joints >= p.Joints && enough(&p.Groups[p.Against]) {
				return n
			}
		}
	}
	return 0
}

// twoGroups says in a sentence why the groups of a joint and procedure can't be
// compared; "" if they can.
func (k *Contrast) twoGroups(s *subjects, o Options) string {
	what := s.title()
	words := s.words[0].levels
	switch {
	case len(s.days) == 0:
		return fmt.Sprintf("%s: the %s of none of %s is recorded, so nothing can be compared.", what, cohort.Title(k.Between), text.Counted(s.leftOut, "joint"))
	case len(words) == 1:
		return fmt.Sprintf("%s: there is one group only, %s %s, and nothing to compare it with.", what, cohort.Title(k.Between), words[0])
	case s.revised() == 0:
		return fmt.Sprintf("%s: none of %s is revised, so groups can't be told apart.", what, text.Counted(int64(len(s.days)), "joint"))
	case s.revised() == 1:
		return fmt.Sprintf("%s: 1 joint only is revised, too few to tell groups apart.", what)
	case o.Against != "" && !slices.Contains(words, s.words[0].word(o.Against)):
		return fmt.Sprintf("%s: no joint has the %s %q to compare with; there are %s.", what, cohort.Title(k.Between), o.Against, list(words))
	}
	return ""
}

func (k *Contrast) level() float64 {
	if k.Interval.Level == 0 {
		return readingLevel
	}
	return k.Interval.Level
}

// readingLevel is the confidence level that readings are made at.
const readingLevel = 0.95
