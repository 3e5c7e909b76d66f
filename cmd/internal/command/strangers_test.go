package command

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// Workbooks as people keep them who have never heard of this program come to the
// figures of the same joints written as a clean table. Both are made by
// cohort/internal/testtable/strangers, which draws the joints and knows no more of
// the program than its column names; joints, patients, revised and died were counted
// in the clean tables with Python's csv module.
func TestWorkbooksOfStrangers(t *testing.T) {
	const folder = "../../../testdata/workbooks"
	for _, test := range []struct {
		name  string
		flags []string // what the messages of a first try tell to add
		first string   // the message of that try; "" for none
		by    string
		both  []string
		says  []string // of the workbook's audit on its page
	}{
		{"one-surgeon", []string{"--revisions-sheet", "Revisions", "--deaths-sheet", "RIP"}, `--revisions-sheet "Revisions"`, "bearing,fixation,age_band,sex", nil,
			[]string{"180 hips in 144 patients, 13 revised, 24 ended by death", "follow-up is assumed"}},
		{"department", []string{"--sheet", "all"}, "--sheet all", "bearing,fixation,age_band,sex,surgeon", nil,
			[]string{"420 hips and knees, 23 revised, 47 ended by death", "follow-up is assumed"}},
		{"forty-knees", nil, "", "fixation,age_band,sex", []string{"--years", "1,3"},
			[]string{"40 knees in 32 patients, 0 revised, 0 ended by death", "No revision is recorded at all. None happened, or none was entered?"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			run := func(status int, args ...string) (out, said string) {
				t.Helper()
				var stdout, stderr bytes.Buffer
				if got := Main(args, strings.NewReader(""), &stdout, &stderr); got != status {
					t.Fatalf("%v: status %d, want %d: %s", args, got, status, stderr.String())
				}
				return stdout.String(), stderr.String()
			}
			book, clean := filepath.Join(folder, test.name+".xlsx"), filepath.Join(folder, test.name+".csv")
			if test.first != "" {
				if _, said := run(1, "audit", book); !strings.Contains(said, test.first) {
					t.Errorf("the first try doesn't say %q: %s", test.first, said)
				}
			}
			csv := append([]string{"--closing-date", "2024-12-31", "--format", "csv", "--by", test.by}, test.both...)
			got, _ := run(0, append(append([]string{"audit", book}, test.flags...), csv...)...)
			want, _ := run(0, append([]string{"audit", clean}, csv...)...)
			if d := cmp.Diff(want, got); d != "" {
				t.Errorf("the workbook comes to other figures (-clean +workbook):\n%s", d)
			}
			page, _ := run(0, append([]string{"audit", book, "--closing-date", "2024-12-31"}, test.flags...)...)
			for _, s := range test.says {
				if !strings.Contains(strings.Join(strings.Fields(page), " "), s) {
					t.Errorf("the page doesn't say %q:\n%s", s, page)
				}
			}
			names := surnamesOf(t, clean)
			for _, text := range []string{got, page} {
				for _, name := range names {
					if strings.Contains(text, name) {
						t.Errorf("%s stands in an output", name)
					}
				}
			}
		})
	}
}

// surnamesOf are the identifiers in a clean table, and the invented surnames of all.
func surnamesOf(t *testing.T, name string) []string {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	names := []string{"Testa", "Muster", "Exempel", "Eksempel", "Voorbeeld", "Fictum", "Quidam"}
	for line := range strings.Lines(string(text)) {
		if id, _, _ := strings.Cut(line, ","); id != "patient" {
			names = append(names, id)
		}
	}
	return names
}
