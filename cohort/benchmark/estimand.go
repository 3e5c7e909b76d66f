package benchmark

import (
	"fmt"
	"strings"

	"example.org/holdfast/survival"
)

// Measure says what a published figure estimates. Figures of different
// estimands never form one series and are never compared with one another.
type Measure uint8

const (
	// NotSaid is the zero value: nothing is compared with it.
	NotSaid Measure = iota
	// OneMinusKaplanMeier is 1 − S(t) by Kaplan and Meier: other causes, death
	// among them, censor. It meets one's own Kaplan–Meier estimate.
	OneMinusKaplanMeier
	// Incidence is the cumulative incidence with death competing. It meets
	// one's own cumulative incidence.
	Incidence
	// Threshold is a limit somebody set, such as 5 % at ten years. It estimates
	// nothing and has no limits; see [CompareThreshold].
	Threshold
	// Pooled is an average over several studies or populations. It is listed,
	// and never compared.
	Pooled
	estimands
)

var estimandNames = [...]string{"not said", "1-KM", "cumulative incidence", "threshold", "pooled estimate"}

func (e Measure) String() string {
	if e < estimands {
		return estimandNames[e]
	}
	return fmt.Sprintf("Measure(%d)", uint8(e))
}

var estimandWords = map[string]Measure{
	"1-km": OneMinusKaplanMeier, "1 - km": OneMinusKaplanMeier, "km": OneMinusKaplanMeier, "kaplan-meier": OneMinusKaplanMeier,
	"kaplan meier": OneMinusKaplanMeier, "1-kaplan-meier": OneMinusKaplanMeier, "1 - kaplan-meier": OneMinusKaplanMeier,
	"cumulative incidence": Incidence, "cif": Incidence, "aalen-johansen": Incidence, "cumulative incidence function": Incidence,
	"threshold":       Threshold,
	"pooled estimate": Pooled, "pooled": Pooled, "meta-analysis": Pooled,
}

// ParseMeasure reads an estimand's name in any case: 1-KM (or KM, 1-KM %,
// Kaplan–Meier), cumulative incidence (or CIF, Aalen–Johansen), threshold,
// pooled estimate.
func ParseMeasure(s string) (Measure, error) {
	if e, ok := estimandWords[strings.TrimSpace(strings.TrimSuffix(fold(s), "%"))]; ok {
		return e, nil
	}
	return 0, fmt.Errorf("no estimand %s, want one of: %s", quote(s), strings.Join(estimandNames[1:], ", "))
}

// Own is the estimand of one's own curve that a published figure meets; false
// where it meets none.
func (e Measure) Own() (survival.Estimand, bool) {
	switch e {
	case OneMinusKaplanMeier:
		return survival.OneMinusKaplanMeier, true
	case Incidence:
		return survival.Incidence, true
	}
	return 0, false
}
