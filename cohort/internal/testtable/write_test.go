package testtable

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// TestWriteTables writes tables for .ci/oracle, with how each is read, into the
// folder that HOLDFAST_TABLES names: as many as HOLDFAST_TABLE_COUNT says, from
// the seed HOLDFAST_TABLE_SEED on. A table's seed alone makes the table.
//
// Each table has a folder, named after its seed. In it a file flags holds the
// arguments of holdfast check, one a line: the tables and the flags.
func TestWriteTables(t *testing.T) {
	folder := os.Getenv("HOLDFAST_TABLES")
	if folder == "" {
		folder = t.TempDir()
	}
	count, first := 40, 0
	for name, to := range map[string]*int{"HOLDFAST_TABLE_COUNT": &count, "HOLDFAST_TABLE_SEED": &first} {
		if s := os.Getenv(name); s != "" {
			n, err := strconv.Atoi(s)
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			*to = n
		}
	}
	for seed := first; seed < first+count; seed++ {
		one := filepath.Join(folder, fmt.Sprintf("%05d", seed))
		if err := os.MkdirAll(one, 0o700); err != nil {
			t.Fatal(err)
		}
		if err := writeTables(one, uint64(seed)); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
	}
}

// writeTables writes the tables of one seed: a practice three times in five, a
// table damaged in one to three ways otherwise.
func writeTables(folder string, seed uint64) error {
	r := rand.New(rand.NewPCG(seed, 0x6f7261636c65))
	files := make(map[string][]byte)
	var arguments []string
	if seed%5 < 3 {
		layout := Layout(r.IntN(int(LayoutCount)))
		p := Patients(r, 40+r.IntN(120), layout, r.IntN(6))
		files["primaries.csv"], arguments = []byte(p.PrimaryText()), []string{"primaries.csv"}
		if p.Revisions != nil {
			files["revisions.csv"], arguments = []byte(p.RevisionText()), append(arguments, "--revisions", "revisions.csv")
		}
		if p.Deaths != nil {
			files["deaths.csv"], arguments = []byte(p.DeathText()), append(arguments, "--deaths", "deaths.csv")
		}
		// A list of deaths set the closing date once, even by patients who are in
		// no table: everything would differ with it.
		if r.IntN(3) > 0 || p.Deaths != nil {
			arguments = append(arguments, "--closing-date", "2020-12-31")
		}
		if r.IntN(4) == 0 {
			arguments = append(arguments, "--where", []string{"side=left", "sex=female", "surgeon=S1"}[r.IntN(3)])
		}
	} else {
		var err error
		if arguments, err = writeDamaged(r, seed, files); err != nil {
			return err
		}
	}
	files["flags"] = []byte(strings.Join(arguments, "\n") + "\n")
	for name, data := range files {
		if err := os.WriteFile(filepath.Join(folder, name), data, 0o600); err != nil {
			return err
		}
	}
	return nil
}

// writeDamaged makes a damaged table, which may be one that is refused. Damages that the
// earlier program of .ci/oracle took for what they are not are left out: a table damaged so
// is compared with the clean one, where damages are tested.
func writeDamaged(r *rand.Rand, seed uint64, files map[string][]byte) ([]string, error) {
	kind := []Kind{TextFile, TextFile, BookFile}[r.IntN(3)]
	var several []Damage
	for len(several) < 1+int(seed/5)%3 {
		all := slices.DeleteFunc(Damages(), func(d Damage) bool {
			return slices.ContainsFunc(unsaidDamages, func(u Damage) bool { return u.Name == d.Name })
		})
		x := all[r.IntN(len(all))]
		more := append(slices.Clone(several), x)
		if x.Kind&kind == 0 || x.Alone && len(several) > 0 || !Together(more) {
			continue
		}
		if several = more; x.Alone {
			break
		}
	}
	InOrder(several)
	d := NewDraft(kind, Clean(seed, 60))
	for _, x := range several {
		x.Apply(d, r)
	}
	written, err := d.Files()
	if err != nil {
		return nil, err
	}
	var tables, flags []string
	for _, f := range written {
		files[f.Name] = f.Data
		switch f.Holds {
		case "revisions", "deaths":
			flags = append(flags, "--"+f.Holds, f.Name)
			if f.Sheet != "" {
				flags[len(flags)-2], flags[len(flags)-1] = "--"+f.Holds+"-sheet", f.Sheet
				delete(files, f.Name) // a sheet of the first table's workbook
			}
		default:
			tables = append(tables, f.Name)
		}
	}
	for _, s := range d.Options.Sheets {
		flags = append(flags, "--sheet", s)
	}
	if d.Options.Pivot != nil {
		flags = append(flags, "--pivot", strconv.Itoa(*d.Options.Pivot))
	}
	switch d.Options.DateOrder.String() {
	case "day first":
		flags = append(flags, "--date-order", "day-first")
	case "month first":
		flags = append(flags, "--date-order", "month-first")
	}
	return slices.Concat(tables, flags, []string{"--closing-date", ClosingDate}), nil
}
