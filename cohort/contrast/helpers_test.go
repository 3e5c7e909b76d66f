package contrast_test

import (
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/contrast"
)

func run(t testing.TB, c *cohort.Cohort, o contrast.Options) *contrast.Contrast {
	t.Helper()
	k, err := contrast.Run(c, o)
	if err != nil {
		t.Fatal(err)
	}
	return k
}

// row finds the one row of an item that is not too particular.
func row(t testing.TB, k *contrast.Contrast, item, group string, years float64, estimand string) contrast.Row {
	t.Helper()
	var found []contrast.Row
	for _, r := range k.Rows() {
		if r.Item == item && r.Group == group && (years == 0 || r.Years == years) && (estimand == "" || r.Estimand == estimand) {
			found = append(found, r)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d rows of %s %q at %v", len(found), item, group, years)
	}
	return found[0]
}
