package cohort_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"example.org/holdfast/cohort"
)

// FuzzRead reads any bytes as a table: no panic, no row vanishes, and what
// stands in the patients' column is never said.
func FuzzRead(f *testing.F) {
	files, err := filepath.Glob(filepath.Join(tablesFolder, "*.?sv"))
	if err != nil || len(files) == 0 {
		f.Fatalf("%d tables, %v", len(files), err)
	}
	for _, name := range files {
		b, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	for reason := cohort.RowUnreadable; reason < cohort.EndOfReasons; reason++ {
		for _, test := range reasonCases[reason] {
			lines := []string{everyHeading}
			for _, r := range test.rows {
				lines = append(lines, cells(r))
			}
			f.Add([]byte(table(lines...)))
		}
	}
	f.Add([]byte(table(mess(newRand(1), 40)...)))
	f.Fuzz(func(t *testing.T, text []byte) {
		for _, o := range []cohort.Options{{}, {EveryColumn: true, DateOrder: cohort.DayFirst, ClosingDate: dayPointer("2020-06-30")}} {
			c, err := tryRead(t, o, string(text))
			if err == nil {
				balanced(t, c)
				said(c)
			}
		}

		// With a marker in a column of its own: only rows without line ends or
		// quotation marks can be put behind it.
		const marker = "ZQXMARKERXQZ"
		if strings.Contains(strings.ToUpper(string(text)), "ZQX") || strings.ContainsAny(string(text), "\"\r\x00") {
			return
		}
		lines := strings.Split(string(text), "\n")
		for i, line := range lines {
			if i == 0 {
				lines[i] = "patient,operation_date,revision_date," + line
			} else {
				lines[i] = marker + ",2020-01-01,," + line
			}
		}
		c, err := tryRead(t, cohort.Options{EveryColumn: true, Delimiter: ','}, table(lines...))
		if err != nil {
			if strings.Contains(err.Error(), marker) {
				t.Errorf("the error says the patient: %v", err)
			}
			return
		}
		balanced(t, c)
		if strings.Contains(said(c), marker) {
			t.Error("the cohort says the patient")
		}
	})
}
