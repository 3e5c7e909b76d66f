package benchmark

import (
	"fmt"
	"math"
	"strings"

	"example.org/holdfast/survival"
)

// Series is one source's figures for one population at several years. An
// attribute that is "" is not stated: the series covers all its values. Words may
// be patterns, see the package documentation.
type Series struct {
	Source       string // short key: first author, or journal where authors are not known, and year
	Joint        string
	Procedure    string
	Bearing      string
	Polyethylene string // conventional or crosslinked
	Fixation     string
	Sex          string
	Diagnosis    string
	Age          AgeInterval // the zero value is all ages
	Estimand     Measure

	Setting  Setting
	Country  string // several are separated by commas
	Register string // what counts as one register; several are separated by "|"
	Subset   string // in words, what the attributes can't say

	PeriodFrom, PeriodTo int // calendar years of operation; 0 where not stated
	Citation             string

	Figures []Figure // by increasing years
	User    bool     // from a user's file, not built in
}

// Figure is what a series says at one time.
type Figure struct {
	Years    float64 // since operation
	Revision float64 // cumulative revision, a proportion
	Lower    float64 // confidence limits, proportions; NaN where there are none
	Upper    float64
	Level    float64 // confidence level of the limits; 0 means 0.95
	Joints   int     // joints the figure rests on; 0 where not stated
	AtRisk   int     // at risk at Years; 0 where not stated
	Notes    Note    // LimitsRounded or 0

	// Rounding is half a unit of the last digit printed, as a proportion; 0 where
	// not known, and the figure is then taken as it stands.
	Rounding float64

	// Centre is what a reading takes for Revision where that is printed coarser
	// than its limits; 0 where it is not.
	Centre float64

	// The limits made from numbers at risk where none are published; else 0.
	MadeLower, MadeUpper float64

	// The limits as printed, where they are not used because rounding hides
	// their width ([LimitsRounded]); else 0.
	PrintedLower, PrintedUpper float64

	Covers         string // era, implants: what the figure is of
	SeenAt, SeenOn string // where and when the value was seen
}

// HasLimits reports whether a figure has limits that enclose it.
func (f Figure) HasLimits() bool {
	return f.Lower <= f.Revision && f.Revision <= f.Upper && f.Upper > f.Lower
}

// estimate is what a reading takes the figure to be.
func (f Figure) estimate() float64 {
	if f.Centre > 0 {
		return f.Centre
	}
	return f.Revision
}

// limits are those of a figure in a difference: as published, made from numbers
// at risk, or as far as rounding may have moved the figure.
func (f Figure) limits() (lower, upper float64, notes Note) {
	switch {
	case f.HasLimits():
		return f.Lower, f.Upper, 0
	case f.MadeUpper > 0:
		return f.MadeLower, f.MadeUpper, MadeFromAtRisk
	case f.Rounding > 0:
		return max(0, f.Revision-f.Rounding), min(1, f.Revision+f.Rounding), RoundingOnly
	}
	return f.Revision, f.Revision, TakenAsExact
}

// ErrorNotes say what a reading knows of a figure's error: [RoundingOnly],
// [ErrorUnknown], [LeastError], [MadeFromAtRisk], [TakenAsExact]; 0 where its limits are published.
func (f Figure) ErrorNotes() Note {
	_, _, notes := f.readingLimits()
	return notes
}

// readingLimits are those a reading is made from. A figure without limits of
// its own has at least the error of as many joints all followed to its years
// (Clopper and Pearson's).
func (f Figure) readingLimits() (lower, upper float64, notes Note) {
	lower, upper, notes = f.limits()
	if notes&(RoundingOnly|TakenAsExact) == 0 {
		return lower, upper, notes
	}
	if f.Joints == 0 {
		if notes == RoundingOnly {
			notes |= ErrorUnknown
		}
		return lower, upper, notes
	}
	l, u := survival.BinomialLimits(float64(f.Revision*float64(f.Joints)), float64(f.Joints), f.level())
	return min(l, lower), max(u, upper), notes&^TakenAsExact | LeastError
}

// check reports what is no proportion with limits around it, such as a figure in
// per cent.
func (f Figure) check() error {
	proportion := func(p float64) bool { return p >= 0 && p <= 1 }
	limits := (f.Lower == f.Lower || f.Upper == f.Upper) && (f.Lower != 0 || f.Upper != 0)
	switch {
	case !proportion(f.Revision) || limits && !(proportion(f.Lower) && proportion(f.Upper)):
		return fmt.Errorf("benchmark: a figure of %v (%v to %v): want proportions between 0 and 1", f.Revision, f.Lower, f.Upper)
	case limits && !(f.Lower <= f.Revision && f.Revision <= f.Upper):
		return fmt.Errorf("benchmark: a figure of %v outside its limits %v to %v", f.Revision, f.Lower, f.Upper)
	case !(f.Years >= 0) || !(f.level() > 0 && f.level() < 1):
		return fmt.Errorf("benchmark: a figure at %v years, level %v", f.Years, f.Level)
	}
	return nil
}

func (f Figure) level() float64 {
	if f.Level == 0 {
		return defaultLevel
	}
	return f.Level
}

const defaultLevel = 0.95

// At is the figure of a series at a number of years.
func (s *Series) At(years float64) (Figure, bool) {
	for _, f := range s.Figures {
		if f.Years == years {
			return f, true
		}
	}
	return Figure{}, false
}

// joints is the largest number a figure of a series rests on.
func (s *Series) joints() int {
	n := 0
	for _, f := range s.Figures {
		n = max(n, f.Joints)
	}
	return n
}

// Note is a set of remarks on a figure or a comparison.
type Note uint16

const (
	// LimitsRounded: the published limits were rounded until one equalled the
	// figure; they are treated as absent.
	LimitsRounded Note = 1 << iota
	// TakenAsExact: nothing is known of the figure's error, not even how it was
	// rounded, and it was compared as if it had none.
	TakenAsExact
	// NoOwnValue: nobody was followed that long, or there is no own estimate of
	// this kind.
	NoOwnValue
	// FewerThanTen: fewer than ten at risk.
	FewerThanTen
	// ZeroNotBelow: so few are still at risk that not even zero revised would
	// have read below.
	ZeroNotBelow
	// ReachesZero: the published limits reach 0, so that nothing can read
	// below.
	ReachesZero
	// OtherLevel: own limits and published limits have different confidence
	// levels; no limits of the difference are made.
	OtherLevel
	// OwnLimitsUndefined: there are no own limits to read from.
	OwnLimitsUndefined
	// NearTheLine: the limits of the difference would read otherwise.
	NearTheLine
	// RoundingOnly: the limits of the difference know of no other published
	// error than rounding.
	RoundingOnly
	// ErrorUnknown: neither limits nor the number of joints are published, so
	// that the reading rests on the figure's rounding alone.
	ErrorUnknown
	// LeastError: the reading takes the published figure to have the error of
	// its number of joints all followed, the least it can have.
	LeastError
	// MadeFromAtRisk: the published limits are made from numbers at risk.
	MadeFromAtRisk
	// OpenByRounding: the own numbers are rounded, and what they can stand for would
	// read otherwise than what is shown; the reading is too few to say.
	OpenByRounding
)

var noteCodes = [...]string{
	"published limits rounded", "published taken as exact", "no own value",
	"fewer than 10 at risk", "zero revised could not read below", "published limits reach 0",
	"other level", "own limits undefined", "near the line",
	"rounding only", "published error unknown", "published error at least that of its joints", "made from numbers at risk",
	"rounding leaves the reading open",
}

// Codes lists a set of notes as fixed short phrases.
func (n Note) Codes() []string {
	var codes []string
	for i, code := range noteCodes {
		if n&(1<<i) != 0 {
			codes = append(codes, code)
		}
	}
	return codes
}

func (n Note) String() string { return strings.Join(n.Codes(), "; ") }

var nan = math.NaN()
