package benchmark

import (
	"fmt"
	"strings"

	"example.org/holdfast/survival"
)

// Estimand says what a published figure estimates. Figures of different
// estimands never form one series and are never compared with one another.
type Estimand uint8

const (
	// NotSaid is the zero value: nothing is compared with it.
	NotSaid Estimand = iota
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

func (e Estimand) String() string {
	if e < estimands {
		return estimandNames[e]
	}
	return fmt.Sprintf("Estimand(%d)", uint8(e))
}

// ParseEstimand reads an estimand's name: 1-KM, cumulative incidence,
// threshold or pooled estimate, in any case.
func ParseEstimand(s string) (Estimand, error) {
	folded := fold(s)
	for i, name := range estimandNames[1:] {
		if strings.EqualFold(folded, name) {
			return Estimand(i + 1), nil
		}
	}
	return 0, fmt.Errorf("no estimand %s, want one of: %s", quote(s), strings.Join(estimandNames[1:], ", "))
}

// Own is the estimand of one's own curve that a published figure meets; false
// where it meets none.
func (e Estimand) Own() (survival.Estimand, bool) {
	switch e {
	case OneMinusKaplanMeier:
		return survival.OneMinusKaplanMeier, true
	case Incidence:
		return survival.Incidence, true
	}
	return 0, false
}
