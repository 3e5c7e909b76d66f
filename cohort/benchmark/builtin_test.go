package benchmark

import (
	"bytes"
	"testing"
)

// The built-in file must be without fault, and every word in it must be one
// that an outcomes table can hold.
func TestBuiltinFileIsClean(t *testing.T) {
	series, warnings, err := Read(bytes.NewReader(builtinFile), BuiltinName)
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range warnings {
		t.Error(w)
	}
	for _, s := range series {
		for _, f := range s.Figures {
			if f.SeenAt == "" {
				t.Errorf("%s at %v years: not said where it was seen", s.Source, f.Years)
			}
		}
	}
	got := Builtin()
	if len(got) != len(series) || len(got) == 0 {
		t.Fatalf("Builtin has %d series, the file %d", len(got), len(series))
	}
	for _, s := range got {
		if s.User {
			t.Errorf("%s: marked as the user's", s.Source)
		}
	}
	got[0] = nil
	if Builtin()[0] == nil {
		t.Error("Builtin hands out its own slice")
	}
}
