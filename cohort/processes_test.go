package cohort_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/internal/testtable"
)

// written is where a process started by TestSameBytesInTwoProcesses leaves what
// it found.
const written = "HOLDFAST_WRITTEN"

// Another process hashes with another seed: the audit, as CSV and JSON, and all
// that is said of the rows are the same bytes.
func TestSameBytesInTwoProcesses(t *testing.T) {
	if file := os.Getenv(written); file != "" {
		if err := os.WriteFile(file, practiceBytes(t), 0o600); err != nil {
			t.Fatal(err)
		}
		return
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	want := practiceBytes(t)
	if len(want) < 10_000 {
		t.Fatalf("%d bytes are too few to tell anything", len(want))
	}
	for range 2 {
		file := filepath.Join(t.TempDir(), "written")
		c := exec.CommandContext(t.Context(), self, "-test.run=^TestSameBytesInTwoProcesses$")
		c.Env = append(os.Environ(), written+"="+file)
		if out, err := c.CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		got, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(want, got) {
			t.Errorf("two processes differ from byte %d on", firstDifference(want, got))
		}
	}
}

func firstDifference(a, b []byte) int {
	i := 0
	for i < len(a) && i < len(b) && a[i] == b[i] {
		i++
	}
	return i
}

// practiceBytes is everything found in the practices of every layout.
func practiceBytes(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	for layout := range testtable.LayoutCount {
		c := mustReadPractice(t, testtable.Patients(rand.New(rand.NewPCG(1, uint64(layout))), 400, layout, 3), asked())
		a, err := audit.Run(c, audit.Options{By: []string{"bearing", "surgeon"}, Years: []float64{1, 5, 10}})
		if err != nil {
			t.Fatal(err)
		}
		if err := audit.WriteCSV(&b, a); err != nil {
			t.Fatal(err)
		}
		if err := audit.WriteJSON(&b, a); err != nil {
			t.Fatal(err)
		}
		b.WriteString(saidOfDamaged(c))
		for _, e := range mustEffects(t, c, 1, 5) {
			fmt.Fprintln(&b, e)
		}
	}
	return b.Bytes()
}
