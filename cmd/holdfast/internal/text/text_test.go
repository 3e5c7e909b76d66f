package text

import (
	"bytes"
	"context"
	"os"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// practice audits the invented practice beside the built-in figures and,
// if asked for, the invented registry's.
func practice(t testing.TB, registry bool) *audit.Audit {
	t.Helper()
	day, err := cohort.ParseDay("2024-12-31")
	if err != nil {
		t.Fatal(err)
	}
	c, err := cohort.Read(context.Background(), []cohort.Source{{Name: "../../../../examples/practice/practice.csv"}}, cohort.Options{ClosingDate: &day})
	if err != nil {
		t.Fatal(err)
	}
	var user []*benchmark.Series
	if registry {
		b, err := os.ReadFile("../../../../examples/registry/registry.csv")
		if err != nil {
			t.Fatal(err)
		}
		b = []byte(strings.ReplaceAll(string(b), ",95,", ",0.95,"))
		user, _, err = benchmark.Read(bytes.NewReader(b), "registry.csv")
		if err != nil {
			t.Fatal(err)
		}
	}
	a, err := audit.Run(c, audit.Options{Book: benchmark.NewBook(user, benchmark.Builtin())})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func TestShow(t *testing.T) {
	for _, registry := range []bool{false, true} {
		var b bytes.Buffer
		if err := Audit(&b, practice(t, registry), Options{}); err != nil {
			t.Fatal(err)
		}
		os.Stdout.Write(b.Bytes())
		os.Stdout.WriteString("\n@@@@@@@@@@@@@@@@@@@@@@@@@@\n")
	}
	Published(os.Stdout, benchmark.Builtin(), Options{})
}
