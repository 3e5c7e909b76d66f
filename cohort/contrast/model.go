package contrast

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/regress"
)

// Model is a regression of the rate of revision on the group and the covariates.
type Model struct {
	// Refused says in a sentence why there is no model; Unfit, that this is not for
	// too few revisions but for covariates that can't be adjusted for.
	Refused string
	Unfit   bool

	Kind     regress.Kind // Cox with Efron's ties, or penalised (Firth)
	Chosen   string       // why, in words
	Adjusted []string     // covariates
	LeftOut  int64        // joints of which a covariate is not recorded

	Joints, Revised int64
	Terms           []regress.Term // the group, then each covariate

	Ratios     []Ratio // of each group to the one that others are compared with
	Covariates []Ratio
	ByPatient  []Ratio // as Ratios, with limits that allow for joints of one patient; nil if there are none, or the model is penalised

	LogLikelihood, Null float64
	LikelihoodRatio     survival.ChiSquare // of all coefficients being 0

	// Proportional tests whether ratios change over the years, by term, and
	// Together for all. Nil for a penalised model, and below
	// FewestForProportional revisions, where they would see nothing.
	Proportional []regress.TermTest
	Together     survival.ChiSquare

	// Periods are the ratios by time since operation; ByPeriod tests them against
	// one ratio. NotByPeriod says why there are none.
	Periods     []Period
	ByPeriod    *survival.ChiSquare
	NotByPeriod string

	// Subdistribution are the ratios of Fine and Gray, if asked for.
	Subdistribution []Ratio
	NotFineGray     string
}

// Ratio of the rate of revision of a group, or for one unit of a covariate, to that
// of another. What there is not is NaN.
type Ratio struct {
	Field         string // of the word, or the covariate
	Word, Against string // "" for a number
	Ratio         float64
	SE            float64 // of its logarithm
	Lower, Upper  float64 // may be 0 and +Inf: no limit
	P             float64
	Separated     bool // nobody is revised with the word, or with the other: without the penalty there is no finite estimate
}

// Period is a part of the follow-up.
type Period struct {
	From, To float64 // years; To is +Inf for the last
	Revised  int64
	Ratios   []Ratio // as Model.Ratios
}

// The numbers of revisions that a model asks for; see the package documentation.
const (
	FewestForModel        = 5
	fewestPerCoefficient  = 3
	enoughPerCoefficient  = 10
	fewestInLevel         = 5
	FewestForProportional = 30
	fewestPatients        = 20

	// mostPenalised is the work, patterns of covariates by coefficients cubed, above
	// which the profiles of a penalised likelihood would take minutes.
	mostPenalised = 1_500_000
)

// DefaultPeriods are the years since operation at which a ratio may change.
func DefaultPeriods() []float64 { return []float64{1, 5} }

// column of a design.
type columnOf struct {
	field string
	word  string // "" for a number
}

// design are the joints of a model.
type design struct {
	data      regress.Data
	cluster   []int
	columns   []columnOf
	against   map[string]string // by field: the word that others are compared with
	terms     []regress.Term
	revisedIn map[string]int64 // by field=word
	leftOut   int64
	revised   int64
	empty     []string // words left out, since nobody is revised with them
}

// heavy says that profiles of a penalised likelihood would take long.
func heavy(d *regress.Data) bool {
	p := float64(len(d.Names))
	return float64(len(d.Design))*p*p*p > mostPenalised
}

// hasEmpty says that there is a word of which nobody is revised.
func (d *design) hasEmpty() bool {
	for _, n := range d.revisedIn {
		if n == 0 {
			return true
		}
	}
	return false
}

// leaveEmpty leaves out of those in use the joints with words of which nobody is
// revised, and names these words.
func (s *subjects) leaveEmpty(adjust []string, use []bool) (words []string) {
	for _, f := range append([]string{s.fields[0]}, adjust...) {
		if f == age {
			continue
		}
		w := s.of(f)
		joints, revised := s.counts(w, use)
		for l, word := range w.levels {
			if joints[l] > 0 && revised[l] == 0 {
				words = append(words, cohort.Title(f)+" "+word)
			}
		}
		for i, code := range w.code {
			use[i] = use[i] && revised[code] > 0
		}
	}
	return words
}

// model chooses and fits the model of a joint and procedure.
func (k *Contrast) model(p *Part, s *subjects, o Options) error {
	m := &Model{Adjusted: k.Adjust}
	p.Model = m
	against := p.Groups[p.Against].Word
	d, why := s.design(k.Adjust, against, false)
	if why == "" && heavy(&d.data) && d.hasEmpty() {
		d, why = s.design(k.Adjust, against, true)
	}
	if why != "" {
		m.Refused, m.Unfit = why, true
		return nil
	}
	m.LeftOut, m.Joints, m.Revised, m.Terms = d.leftOut, int64(len(d.data.Sample.Exit)), d.revised, d.terms
	if m.Refused = m.tooFew(s, d); m.Refused != "" {
		return nil
	}
	fit, why, err := m.choose(s, d, k.level())
	if err != nil {
		return err
	}
	if why != "" {
		m.Refused, m.Unfit = why, true
		return nil
	}
	m.Kind, m.LogLikelihood, m.Null, m.LikelihoodRatio = fit.Kind, fit.LogLikelihood, fit.Null, fit.LikelihoodRatio
	for j, r := range d.ratios(fit) {
		if slices.Contains(d.terms[0].Columns, j) {
			m.Ratios = append(m.Ratios, r)
		} else {
			m.Covariates = append(m.Covariates, r)
		}
	}
	if fit.Kind == regress.ProportionalHazards {
		if err := m.byPatient(p, d, k.level()); err != nil {
			return err
		}
		m.proportional(fit)
	}
	cuts := o.Periods
	if cuts == nil {
		cuts = DefaultPeriods()
	}
	if err := m.periods(d, fit, slices.Clone(cuts), k.level()); err != nil {
		return err
	}
	if o.Gray {
		return k.fineGray(m, d)
	}
	return nil
}

// design makes the joints' covariates; why says in a sentence what can't be
// adjusted for.
// Without says to leave out joints with a word of which nobody is revised.
func (s *subjects) design(adjust []string, against string, without bool) (d *design, why string) {
	d = &design{against: make(map[string]string), revisedIn: make(map[string]int64)}
	use := s.complete(adjust)
	if without {
		d.empty = s.leaveEmpty(adjust, use)
	}
	if !slices.Contains(use, true) {
		return nil, fmt.Sprintf("%s: there is no joint of which every covariate is recorded (%s), so nothing can be adjusted for.", s.title(), titles(adjust))
	}
	var fields []*wordsOf
	for n, f := range append([]string{s.fields[0]}, adjust...) {
		if f == age {
			if why := s.constantAge(use); why != "" {
				return nil, why
			}
			d.addColumn(age, "")
			fields = append(fields, nil)
			continue
		}
		w := s.of(f)
		joints, revised := s.counts(w, use)
		base, levels := 0, 0
		for l := range w.levels {
			if joints[l] > 0 {
				levels++
				d.revisedIn[f+"="+w.levels[l]] = revised[l]
			}
			if joints[l] > joints[base] {
				base = l
			}
		}
		if n == 0 {
			base = slices.Index(w.levels, against)
		}
		if levels < 2 || joints[base] == 0 {
			return nil, s.oneWord(w, joints, n == 0)
		}
		d.against[f] = w.levels[base]
		var columns []int
		for l, word := range w.levels {
			if l != base && joints[l] > 0 {
				columns = append(columns, len(d.columns))
				d.columns = append(d.columns, columnOf{f, word})
			}
		}
		d.terms = append(d.terms, regress.Term{Name: f, Columns: columns})
		fields = append(fields, w)
	}
	for _, c := range d.columns {
		d.data.Names = append(d.data.Names, c.name())
	}
	s.fill(d, fields, use)
	return d, ""
}

func (d *design) addColumn(field, word string) {
	d.terms = append(d.terms, regress.Term{Name: field, Columns: []int{len(d.columns)}})
	d.columns = append(d.columns, columnOf{field, word})
}

// name is how a coefficient is called.
func (c columnOf) name() string {
	if c.field == age {
		return agePer10
	}
	return c.field + "=" + c.word
}

const agePer10 = "age per 10 years"

// complete says of which joints every covariate is recorded.
func (s *subjects) complete(adjust []string) []bool {
	use := make([]bool, len(s.days))
	for i := range use {
		use[i] = true
		for _, f := range adjust {
			if f == age {
				use[i] = use[i] && s.age[i] >= 0
			} else {
				w := s.of(f)
				use[i] = use[i] && w.levels[w.code[i]] != cohort.NotRecorded
			}
		}
	}
	return use
}

// counts are the joints and the revised by word.
func (s *subjects) counts(w *wordsOf, use []bool) (joints, revised []int64) {
	joints, revised = make([]int64, len(w.levels)), make([]int64, len(w.levels))
	for i, code := range w.code {
		if use[i] {
			joints[code]++
			if s.cause[i] == cohort.CauseRevision {
				revised[code]++
			}
		}
	}
	return joints, revised
}

// constantAge says that ages do not differ.
func (s *subjects) constantAge(use []bool) string {
	low, high := int16(math.MaxInt16), int16(-1)
	for i, a := range s.age {
		if use[i] {
			low, high = min(low, a), max(high, a)
		}
	}
	if low < high {
		return ""
	}
	return fmt.Sprintf("%s: the age is %d in every joint, so it can't be adjusted for.", s.title(), low)
}

// oneWord says that a field can't be adjusted for, or that nothing is left to
// compare once joints without their covariates are left out.
func (s *subjects) oneWord(w *wordsOf, joints []int64, between bool) string {
	if between {
		return fmt.Sprintf("%s: among the joints of which every covariate is recorded there are not two groups to compare.", s.title())
	}
	word := w.levels[slices.IndexFunc(joints, func(n int64) bool { return n > 0 })]
	return fmt.Sprintf("%s: the %s is %s in every joint, so it can't be adjusted for.", s.title(), cohort.Title(w.field), word)
}

// fill makes rows and patterns.
func (s *subjects) fill(d *design, fields []*wordsOf, use []bool) {
	at := make([]int, len(fields)) // the first column of each field
	of := make([][]int, len(fields))
	for n, w := range fields {
		at[n] = d.terms[n].Columns[0]
		if w == nil {
			continue
		}
		of[n] = make([]int, len(w.levels))
		for l, word := range w.levels {
			of[n][l] = slices.Index(d.columns, columnOf{w.field, word})
		}
	}
	patterns := make(map[string]int32)
	key := make([]byte, 0, 2*len(fields))
	for i := range s.days {
		if !use[i] {
			d.leftOut++
			continue
		}
		key = key[:0]
		for _, w := range fields {
			c := uint16(s.age[i])
			if w != nil {
				c = w.code[i]
			}
			key = append(key, byte(c), byte(c>>8))
		}
		pattern, ok := patterns[string(key)]
		if !ok {
			pattern = int32(len(d.data.Design))
			patterns[string(key)] = pattern
			row := make([]float64, len(d.columns))
			for n, w := range fields {
				if w == nil {
					row[at[n]] = float64(s.age[i]) / 10
				} else if c := of[n][w.code[i]]; c >= 0 {
					row[c] = 1
				}
			}
			d.data.Design = append(d.data.Design, row)
		}
		if s.cause[i] == cohort.CauseRevision {
			d.revised++
		}
		d.data.Pattern = append(d.data.Pattern, pattern)
		d.data.Sample.Exit = append(d.data.Sample.Exit, float64(s.days[i]))
		d.data.Sample.Cause = append(d.data.Sample.Cause, int(s.cause[i]))
		d.cluster = append(d.cluster, int(s.patient[i]))
	}
}

// tooFew says in a sentence that there are too few revisions for the model asked
// for, and what would fit.
func (m *Model) tooFew(s *subjects, d *design) string {
	least := fewestPerCoefficient * len(d.columns)
	switch {
	case d.revised < FewestForModel:
		return fmt.Sprintf("%d revisions are needed for a ratio of rates; there are %d. Observed and expected by group stand instead.", FewestForModel, d.revised)
	case d.revised >= int64(least):
		return ""
	}
	said := fmt.Sprintf("%d revisions are too few for %s, of which each needs %d", d.revised, text.Counted(int64(len(d.columns)), "coefficient"), fewestPerCoefficient)
	fits := -1
	coefficients := 0
	for n, t := range d.terms {
		if coefficients += len(t.Columns); int64(fewestPerCoefficient*coefficients) <= d.revised {
			fits = n
		}
	}
	var names []string
	for n := 1; n <= fits; n++ {
		names = append(names, cohort.Title(d.terms[n].Name))
	}
	switch {
	case fits < 0:
		said += fmt.Sprintf(": there are too many groups by %s; compare fewer.", cohort.Title(s.fields[0]))
	case fits == 0:
		said += ": ratios without adjustment are as much as can be had."
	default:
		said += fmt.Sprintf(": adjusting for %s is as much as can be had.", list(names))
	}
	return said + " Observed and expected by group stand instead."
}

// choose fits Cox where there are revisions enough, else Firth; why says in a
// sentence what keeps both from it.
func (m *Model) choose(s *subjects, d *design, level float64) (fit *regress.Fit, why string, err error) {
	coefficients := len(d.columns)
	small := ""
	for _, t := range d.terms {
		for _, w := range s.levelsOf(t.Name) {
			if n, ok := d.revisedIn[t.Name+"="+w]; ok && n < fewestInLevel && small == "" {
				small = fmt.Sprintf("%s in %s", text.Counted(n, "revision"), w)
			}
		}
	}
	enough, many := d.revised >= int64(enoughPerCoefficient*coefficients), heavy(&d.data)
	if enough && small == "" || many {
		fit, err = regress.Cox(d.data, cohort.CauseRevision, regress.Options{Level: level})
		if err == nil {
			m.Chosen = fmt.Sprintf("%d revised, %s", d.revised, text.Counted(int64(coefficients), "coefficient"))
			if !enough || small != "" {
				m.Chosen += ", few revisions for some: too many joints to penalise, so that limits are approximate"
			}
			if len(d.empty) > 0 {
				m.Chosen += "; left out, since nobody is revised: " + list(d.empty)
			}
			return fit, "", nil
		}
		if !errors.Is(err, regress.ErrSeparated) || many {
			return nil, s.unfit(err), unforeseen(err)
		}
	}
	fit, err = regress.Firth(d.data, cohort.CauseRevision, regress.Options{Level: level})
	if err != nil {
		return nil, s.unfit(err), unforeseen(err)
	}
	few := fmt.Sprintf("few revisions (%d for %s): penalised estimates (Firth), limits by profile", d.revised, text.Counted(int64(coefficients), "coefficient"))
	if enough && small != "" {
		few = fmt.Sprintf("few revisions (%s): penalised estimates (Firth), limits by profile", small)
	}
	m.Chosen = few
	return fit, "", nil
}

// levelsOf are the words of a field of a model; nil for a number.
func (s *subjects) levelsOf(field string) []string {
	if field == age {
		return nil
	}
	return s.of(field).levels
}

// unfit puts into a sentence why a model can't be fitted.
func (s *subjects) unfit(err error) string {
	var c *regress.ColumnError
	switch {
	case errors.As(err, &c) && errors.Is(err, regress.ErrCollinear):
		return fmt.Sprintf("%s: %s can't be told apart from %s, so that the model can't be fitted; leave out one of them.", s.title(), c.Name, list(c.Others))
	case errors.As(err, &c) && errors.Is(err, regress.ErrConstant):
		return fmt.Sprintf("%s: %s is the same for all joints followed together whenever one is revised, so that it can't be adjusted for.", s.title(), c.Name)
	case errors.As(err, &c) && errors.Is(err, regress.ErrSeparated):
		return fmt.Sprintf("%s: %s has no finite ratio: it parts those revised from the others.", s.title(), c.Name)
	case errors.Is(err, regress.ErrNotConverged):
		return fmt.Sprintf("%s: the model has no estimate that can be found; adjust for fewer things.", s.title())
	}
	return ""
}

// unforeseen is an error that no sentence is for.
func unforeseen(err error) error {
	var c *regress.ColumnError
	if errors.As(err, &c) || errors.Is(err, regress.ErrNotConverged) {
		return nil
	}
	return err
}

// ratios of each column of a fit.
func (d *design) ratios(f *regress.Fit) []Ratio {
	var all []Ratio
	for j, c := range d.columns {
		r := Ratio{Field: c.field, Word: c.word, Against: d.against[c.field], SE: f.SE[j], P: f.P[j]}
		r.Ratio, r.Lower, r.Upper = f.Ratio(j)
		if c.word != "" {
			r.Separated = min(d.revisedIn[c.name()], d.revisedIn[c.field+"="+r.Against]) == 0
		}
		all = append(all, r)
	}
	return all
}

// byPatient fits again with the variance by patient, if patients have several
// joints.
func (m *Model) byPatient(p *Part, d *design, level float64) error {
	if p.Bilateral == 0 {
		return nil
	}
	data := d.data
	data.Sample.Cluster = d.cluster
	f, err := regress.Cox(data, cohort.CauseRevision, regress.Options{Level: level})
	if errors.Is(err, regress.ErrVariance) {
		return nil
	}
	if err != nil {
		return err
	}
	m.ByPatient = d.ratios(f)[:len(m.Ratios)]
	return nil
}

// proportional tests whether ratios change over the years.
func (m *Model) proportional(f *regress.Fit) {
	if m.Revised < FewestForProportional {
		return
	}
	tests, together, err := f.Proportional(regress.ShareFailed, m.Terms)
	if err != nil { // events at too few times to tell
		return
	}
	m.Proportional, m.Together = tests, together
}

// Changes says that the groups' ratios change over the years, so that one ratio
// would mislead.
func (m *Model) Changes() bool {
	return len(m.Proportional) > 0 && m.Proportional[0].P < 0.05
}

// periods fits the groups' ratios by time since operation, with as many periods as
// the revisions allow.
func (m *Model) periods(d *design, whole *regress.Fit, cuts []float64, level float64) error {
	if len(cuts) == 0 {
		return nil
	}
	for ; len(cuts) > 0; cuts = cuts[:len(cuts)-1] {
		revised := d.revisedBy(cuts)
		coefficients := len(d.columns) + len(d.terms[0].Columns)*len(cuts)
		if slices.Min(revised) < fewestInLevel || m.Revised < int64(fewestPerCoefficient*coefficients) {
			continue
		}
		days := make([]float64, len(cuts))
		for i, c := range cuts {
			days[i] = cohort.DayOfYear(c)
		}
		split, err := regress.Split(d.data, days, d.terms[0].Columns...)
		if err != nil {
			return err
		}
		var f *regress.Fit
		if whole.Kind == regress.ProportionalHazards {
			f, err = regress.Cox(split, cohort.CauseRevision, regress.Options{Level: level})
		}
		if f == nil && (err == nil || errors.Is(err, regress.ErrSeparated)) && !heavy(&split) {
			f, err = regress.Firth(split, cohort.CauseRevision, regress.Options{Level: level})
		}
		if err != nil && unforeseen(err) != nil {
			return err
		}
		if f == nil || err != nil {
			continue
		}
		m.inPeriods(d, f, whole, cuts, revised)
		return nil
	}
	m.NotByPeriod = "There are too few revisions to tell ratios by time since operation."
	return nil
}

// inPeriods takes the ratios from a fit of split data.
func (m *Model) inPeriods(d *design, f, whole *regress.Fit, cuts []float64, revised []int64) {
	groups := d.terms[0].Columns
	for n := 0; n <= len(cuts); n++ {
		p := Period{To: math.Inf(1), Revised: revised[n]}
		if n > 0 {
			p.From = cuts[n-1]
		}
		if n < len(cuts) {
			p.To = cuts[n]
		}
		for i, j := range groups {
			at := j
			if n > 0 {
				at = len(d.columns) + (n-1)*len(groups) + i
			}
			r := Ratio{Field: d.columns[j].field, Word: d.columns[j].word, Against: d.against[d.columns[j].field], SE: f.SE[at], P: f.P[at]}
			r.Ratio, r.Lower, r.Upper = f.Ratio(at)
			p.Ratios = append(p.Ratios, r)
		}
		m.Periods = append(m.Periods, p)
	}
	if f.Kind == regress.ProportionalHazards && whole.Kind == regress.ProportionalHazards {
		t := survival.NewChiSquare(math.Max(0, 2*(f.LogLikelihood-whole.LogLikelihood)), len(groups)*len(cuts))
		m.ByPeriod = &t
	}
}

// revisedBy counts the revisions of each period; a day on a cut is before it.
func (d *design) revisedBy(cuts []float64) []int64 {
	n := make([]int64, len(cuts)+1)
	for i, cause := range d.data.Sample.Cause {
		if cause == cohort.CauseRevision {
			at := 0
			for at < len(cuts) && d.data.Sample.Exit[i] > cohort.DayOfYear(cuts[at]) {
				at++
			}
			n[at]++
		}
	}
	return n
}

// fineGray fits the ratios of the subdistribution.
func (k *Contrast) fineGray(m *Model, d *design) error {
	if !k.Deaths.Recorded {
		m.NotFineGray = "The regression of Fine and Gray needs deaths, and they are not recorded."
		return nil
	}
	f, err := regress.FineGray(d.data, cohort.CauseRevision, regress.Options{Level: k.level()})
	if err != nil {
		if unforeseen(err) != nil {
			return err
		}
		m.NotFineGray = "The regression of Fine and Gray has no finite estimate here."
		return nil
	}
	m.Subdistribution = d.ratios(f)[:len(m.Ratios)]
	return nil
}
