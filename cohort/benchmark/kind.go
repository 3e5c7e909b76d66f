package benchmark

import (
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/words"
)

// Joints are own joints alike in all that a published series can state, in the
// canonical words of an outcomes table. A word
// that is "" and a nil Age are not recorded.
type Joints struct {
	Joint, Procedure, Bearing, Polyethylene, Fixation, Sex, Diagnosis string
	Age                                                               *AgeInterval
}

// Fit says how own joints stand to the population of a series.
type Fit uint8

const (
	Outside     Fit = iota // they are not among those the series is of
	NotRecorded            // they would be, but for a value that is not recorded
	Meets                  // they meet everything the series states
)

// Kind is the population of a series, made ready to be matched.
type Kind struct {
	joint, procedure, bearing, fixation, sex, diagnosis, polyethylene pattern
	age                                                               AgeInterval
}

// NewKind prepares the population of a series. A nil series is an error.
func NewKind(s *Series) (*Kind, error) {
	if s == nil {
		return nil, errNoSeries
	}
	return newKind(s), nil
}

func newKind(s *Series) *Kind {
	read := func(word string) pattern {
		// A series made by hand may hold a pattern Read would refuse; it
		// then states a word nobody uses.
		p, err := parsePattern(word)
		if err != nil {
			return pattern{alternatives: []string{fold(word)}}
		}
		return p
	}
	return &Kind{read(s.Joint), read(s.Procedure), read(s.Bearing), read(s.Fixation), read(s.Sex), read(s.Diagnosis), read(s.Polyethylene), s.Age}
}

// Fit says whether own joints meet everything a series states, and if only
// values that are not recorded leave it open, of which columns. A bearing meets
// one whose polyethylene is not stated with either; polyethylene that isn't said
// is not recorded to a series of conventional or of cross-linked polyethylene.
func (k *Kind) Fit(j Joints) (fit Fit, missing []string) {
	// Most own joints are outside of most series, and most of those by these.
	first := [...]struct {
		fit    Fit
		column string
	}{{word(k.joint, j.Joint), "joint"}, {word(k.procedure, j.Procedure), "procedure"}, {k.ageFit(j), "age"}, {word(k.fixation, j.Fixation), "fixation"},
		{word(k.sex, j.Sex), "sex"}, {word(k.diagnosis, j.Diagnosis), "diagnosis"}}
	fit = Meets
	for _, f := range first {
		if f.fit == Outside {
			return Outside, nil
		}
		fit = min(fit, f.fit)
	}
	bearing, poly := k.bearingFit(j)
	if fit = min(fit, bearing, poly); fit != NotRecorded {
		return fit, nil
	}
	for _, f := range first {
		if f.fit == NotRecorded {
			missing = append(missing, f.column)
		}
	}
	if bearing == NotRecorded {
		missing = append(missing, "bearing")
	}
	if poly == NotRecorded {
		missing = append(missing, "polyethylene")
	}
	return fit, missing
}

// word compares a word.
func word(p pattern, w string) Fit {
	if !p.stated() {
		return Meets
	}
	if w == "" {
		return NotRecorded
	}
	if p.contains(fold(w)) {
		return Meets
	}
	return Outside
}

func (k *Kind) ageFit(j Joints) Fit {
	switch {
	case k.age == AgeInterval{}:
		return Meets
	case j.Age == nil:
		return NotRecorded
	case k.age.Contains(*j.Age):
		return Meets
	}
	return Outside
}

const crosslinkedPart = words.Crosslinked + "-"

// bearingFit compares bearing and polyethylene, which a hip's bearing may say.
func (k *Kind) bearingFit(j Joints) (bearing, poly Fit) {
	own, said := fold(j.Bearing), fold(j.Polyethylene)
	if strings.Contains(own, crosslinkedPart) {
		said = words.Crosslinked
	}
	poly = Meets
	if k.polyethylene.stated() {
		switch {
		case own != "" && !strings.HasSuffix(own, words.PlainPolyethylene) && strings.Contains(own, "-on-"):
			poly = Outside // no polyethylene in it
		default:
			poly = word(k.polyethylene, said)
		}
	}
	if !k.bearing.stated() {
		return Meets, poly
	}
	if own == "" {
		return NotRecorded, poly
	}
	plain := strings.Replace(own, crosslinkedPart, "", 1)
	linked := own
	if base, ok := strings.CutSuffix(plain, words.PlainPolyethylene); ok {
		linked = base + words.CrosslinkedPE
	}
	asPlain, asLinked := k.bearing.contains(plain), k.bearing.contains(linked)
	switch {
	case plain == linked: // no polyethylene in it
		if asPlain {
			return Meets, poly
		}
	case said == words.Crosslinked && (asLinked || asPlain && !k.bearing.not):
		return Meets, poly
	case said == words.Conventional && asPlain:
		return Meets, poly
	case said == "" && asPlain:
		return Meets, poly
	case said == "" && asLinked:
		return NotRecorded, poly
	}
	return Outside, poly
}

// attribute is what a series states in a column.
type attribute struct{ column, word string }

// attributes are what a series states beside joint and procedure.
func (s *Series) attributes() []attribute {
	all := []attribute{{"bearing", s.Bearing}, {"polyethylene", s.Polyethylene}, {"fixation", s.Fixation}, {"age_band", s.Age.String()}, {"sex", s.Sex}, {"diagnosis", s.Diagnosis}}
	return slices.DeleteFunc(all, func(a attribute) bool { return unstated(fold(a.word)) })
}

// States are the columns of what a series states beside joint and procedure.
func (s *Series) States() []string {
	var columns []string
	for _, a := range s.attributes() {
		columns = append(columns, a.column)
	}
	return columns
}

// Others are those beside the diagnosis.
func (s *Series) Others() []string {
	return slices.DeleteFunc(s.States(), func(c string) bool { return c == "diagnosis" })
}

// Stratum is what a series states beside joint and procedure, in words.
func (s *Series) Stratum() string {
	var words []string
	for _, a := range s.attributes() {
		words = append(words, a.word)
	}
	return strings.Join(words, ", ")
}

// Passes reports whether all joints of a series' kind have one of the values in a
// column, by what the series states.
func (s *Series) Passes(column string, values []string) bool {
	if column == "age_band" {
		return s.Age != (AgeInterval{}) && slices.ContainsFunc(values, func(v string) bool {
			band, err := ParseAge(v)
			return err == nil && band.Contains(s.Age)
		})
	}
	stated := map[string]string{"joint": s.Joint, "procedure": s.Procedure, "bearing": s.Bearing, "polyethylene": s.Polyethylene,
		"fixation": s.Fixation, "sex": s.Sex, "diagnosis": s.Diagnosis}[column]
	p, err := parsePattern(stated)
	if err != nil || !p.stated() {
		return false
	}
	in := func(word string) bool {
		return slices.ContainsFunc(values, func(v string) bool { return fold(v) == word })
	}
	if !p.not && !slices.ContainsFunc(p.alternatives, func(a string) bool { return strings.Contains(a, "*") }) {
		for _, a := range p.alternatives {
			if !in(a) {
				return false
			}
		}
		return true
	}
	for _, w := range known(column) {
		if p.contains(w) && !in(w) {
			return false
		}
	}
	return true
}

// Other says why a series is never read against own joints, whatever they are:
// "" if nothing in it forbids it.
func (s *Series) Other() string {
	switch {
	case s.Subset != "":
		return s.Subset
	case s.Setting == OneCentre || s.Setting == OneSurgeon:
		return s.Setting.String()
	case s.Setting == PooledStudies || s.Estimand == Pooled:
		return "pooled"
	case s.Procedure == "" && s.Estimand != Threshold:
		return "no procedure stated"
	case !s.User && s.PeriodFrom == 0 && s.PeriodTo == 0 && s.Estimand != Threshold:
		return "no period stated"
	}
	return ""
}

// InPeriod reports whether a year of operation lies in a series' period. One
// that states none has every year in it.
func (s *Series) InPeriod(year int) bool {
	return (s.PeriodFrom == 0 || year >= s.PeriodFrom) && (s.PeriodTo == 0 || year <= s.PeriodTo)
}

// Period is that of a series in words: 1995–2011.
func (s *Series) Period() string {
	switch {
	case s.PeriodFrom == 0 && s.PeriodTo == 0:
		return ""
	case s.PeriodFrom == 0:
		return fmt.Sprintf("to %d", s.PeriodTo)
	case s.PeriodTo == 0:
		return fmt.Sprintf("from %d", s.PeriodFrom)
	case s.PeriodFrom == s.PeriodTo:
		return fmt.Sprint(s.PeriodFrom)
	}
	return fmt.Sprintf("%d–%d", s.PeriodFrom, s.PeriodTo)
}

// Registers counts the registers of several series: those that share one are
// one, whatever their periods.
func Registers(series []*Series) int {
	var sets [][]string
	for _, s := range series {
		joined := strings.Split(s.register(), "|")
		rest := sets[:0:0]
		for _, set := range sets {
			if slices.ContainsFunc(set, func(r string) bool { return slices.Contains(joined, r) }) {
				joined = append(joined, set...)
			} else {
				rest = append(rest, set)
			}
		}
		sets = append(rest, joined)
	}
	return len(sets)
}

// register is what counts as one: as stated, else the country of a national
// register, else the source.
func (s *Series) register() string {
	switch {
	case s.Register != "":
		return s.Register
	case s.Setting == NationalRegister && s.Country != "":
		return s.Country
	}
	return s.Source
}

// From reports whether a series is from one of some countries, in any case.
func (s *Series) From(countries []string) bool {
	for own := range strings.SplitSeq(s.Country, ",") {
		own, _, _ = strings.Cut(own, "(")
		if slices.ContainsFunc(countries, func(c string) bool { return fold(own) != "" && fold(own) == fold(c) }) {
			return true
		}
	}
	return false
}

// Countries lists the countries that series are from, in the order of the
// alphabet.
func Countries(series []*Series) []string {
	var all []string
	for _, s := range series {
		for own := range strings.SplitSeq(s.Country, ",") {
			own, _, _ = strings.Cut(own, "(")
			if own = strings.TrimSpace(own); own != "" && !slices.Contains(all, own) {
				all = append(all, own)
			}
		}
	}
	slices.Sort(all)
	return all
}
