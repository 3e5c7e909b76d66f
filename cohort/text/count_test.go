package text_test

import (
	"testing"

	"example.org/holdfast/cohort/text"
)

func TestNumbersInWords(t *testing.T) {
	for got, want := range map[string]string{
		text.Counted(1, "joint"): "1 joint", text.Counted(0, "joint"): "0 joints", text.Counted(12, "row"): "12 rows",
		text.InYears(1): "1 year", text.InYears(2.5): "2.5 years", text.InYears(10): "10 years", text.Number(1e6): "1000000",
		text.InPoints(0.0123, 0.0207): "1.2 to 2.1 points", text.InPoints(0.0041, 0.0042): "0.4 points", text.InPoints(0.0002, 0.0021): "0.0 to 0.2 points", text.InPoints(1e-6, 2e-6): "less than 0.1 points",
		text.Capital("hip, total"): "Hip, total", text.Capital("Hip"): "Hip", text.Capital("économie"): "économie", text.Capital(""): "",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
