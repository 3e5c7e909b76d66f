package audit_test

import (
	"bytes"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// FuzzEarlier checks that whatever is put in place of an earlier audit is refused, or has
// groups.
func FuzzEarlier(f *testing.F) {
	day, err := cohort.ParseDay("2024-12-31")
	if err != nil {
		f.Fatal(err)
	}
	c, err := cohort.Read(f.Context(), []cohort.Source{{Name: "../../examples/practice/practice.csv"}}, cohort.Options{ClosingDate: &day})
	if err != nil {
		f.Fatal(err)
	}
	a, err := audit.Run(c, audit.Options{By: []string{"bearing"}, Years: []float64{1}})
	if err != nil {
		f.Fatal(err)
	}
	var b bytes.Buffer
	if err := audit.WriteJSON(&b, a); err != nil {
		f.Fatal(err)
	}
	f.Add(b.String())
	f.Add(`{"table":{"closing_date":{"date":"2020-12-31"}},"groups":[{"values":{"joint":"hip","procedure":"total"},"pooled":"all joints","joints":3,"revised":1,"rows":[{"years":1,"at_risk":2,"km_pct":1.5}]}]}`)
	f.Fuzz(func(t *testing.T, text string) {
		e, err := audit.ReadEarlier(strings.NewReader(text))
		if err == nil && len(e.Groups) == 0 {
			t.Fatal("an audit without groups")
		}
	})
}
