package text_test

import (
	"testing"

	"example.org/holdfast/cohort/text"
)

func TestNumbersInWords(t *testing.T) {
	for got, want := range map[string]string{
		text.Counted(1, "joint"): "1 joint", text.Counted(0, "joint"): "0 joints", text.Counted(12, "row"): "12 rows",
		text.InYears(1): "1 year", text.InYears(2.5): "2.5 years", text.InYears(10): "10 years", text.Number(1e6): "1000000",
		text.Capital("hip, total"): "Hip, total", text.Capital("Hip"): "Hip", text.Capital("économie"): "économie", text.Capital(""): "",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}
