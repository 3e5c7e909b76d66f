package words

import "testing"

func TestNearest(t *testing.T) {
	among := []string{"patient", "operation_date", "side", "bearing", "fixation", "surgeon", "hospital", "revision_date"}
	for _, test := range []struct{ typed, want string }{
		{"operation_dat", "operation_date"},
		{"OperationDate", "operation_date"},
		{"oepration_date", "operation_date"},
		{"revison date", "revision_date"},
		{"surgoen", "surgeon"},
		{"sied", "side"},
		{"beering", "bearing"},
		{"fixation", "fixation"},
		{"zzz", ""},
		{"", ""},
		{"-", ""},
		{"approach", ""},
	} {
		if got := Nearest(test.typed, among); got != test.want {
			t.Errorf("Nearest(%q) = %q, want %q", test.typed, got, test.want)
		}
	}
	if got := Nearest("ab", nil); got != "" {
		t.Errorf("Nearest among none = %q", got)
	}
	if got := Nearest("abcd", []string{"abce", "abcf"}); got != "abce" {
		t.Errorf("of two equally near %q, want the first", got)
	}
}

// Distances counted by hand.
func TestDistance(t *testing.T) {
	for _, test := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"", "abc", 3}, {"abc", "", 3}, {"abc", "abc", 0}, {"abc", "abd", 1}, {"abc", "acb", 1}, {"abc", "bc", 1},
		{"kitten", "sitting", 3}, {"ca", "abc", 3}, {"øl", "ol", 1},
	} {
		if got := distance([]rune(test.a), []rune(test.b)); got != test.want {
			t.Errorf("distance(%q, %q) = %d, want %d", test.a, test.b, got, test.want)
		}
	}
}
