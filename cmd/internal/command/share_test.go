package command

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// practiceToShare is a table of 240 hips and knees. With moved set it is another practice of which the same
// is shared: here and there an operation, a revision or a death is some days earlier, and a joint or two
// more are revised of those that are rounded alike.
func practiceToShare(moved bool) string {
	r := rand.New(rand.NewPCG(11, 4))
	var b strings.Builder
	b.WriteString("patient,operation_date,joint,procedure,side,bearing,fixation,age,sex,revision_date,revision_reason,death_date\n")
	for i := range 240 {
		year, day, gone := 2010+r.IntN(12), 3+r.IntN(20), r.IntN(20)
		later, old := r.IntN(5), 50+r.IntN(40)
		revision, reason, death := "", "", ""
		shift := 0
		if moved && i%7 == 0 {
			shift = 2
		}
		switch {
		case gone == 0:
			revision, reason = fmt.Sprintf("%d-06-%02d", year+1+later, day-shift), []string{"infection", "loosening"}[later%2]
		case gone < 4:
			death = fmt.Sprintf("%d-07-%02d", year+1+later, day-shift)
		}
		bearing := []string{"MoP", "CoP"}[i%2]
		joint := "hip"
		if i%5 == 0 {
			joint, bearing = "knee", "fixed"
		}
		fmt.Fprintf(&b, "%d,%d-03-%02d,%s,total,%s,%s,%s,%d,%s,%s,%s,%s\n", i/2, year, day-shift, joint, []string{"L", "R"}[i%2], bearing,
			[]string{"cemented", "porous"}[r.IntN(2)], old, []string{"F", "M"}[r.IntN(2)], revision, reason, death)
	}
	return b.String()
}

// TestSharedOutputHoldsNothingElse: two tables of which the same audit is shared give the same bytes, in every form
// that can be shared. So all of it is made from what package disclose tells, which its tests attack.
func TestSharedOutputHoldsNothingElse(t *testing.T) {
	commands := []string{
		"audit own.csv --share --out OUT.txt", "audit own.csv --share --full --comparisons OUT.csv --out OUT.txt", "audit own.csv --share --format json --out OUT.json",
		"audit own.csv --share --full --format markdown --out OUT.md",
		"report own.csv --share --out OUT.html", "report own.csv --share --full --out OUT.html", "report own.csv --share --full --out OUT.pdf",
		"draw own.csv --share --by fixation --data OUT.csv --out OUT.svg", "draw own.csv --share --kind strip --data OUT.csv --out OUT.svg",
		"draw own.csv --share --kind intervals --by bearing --out OUT.png", "draw own.csv --share --kind follow-up --out OUT.svg",
		"draw own.csv --share --kind funnel --by bearing --published figures.csv --data OUT.csv --out OUT.svg",
	}
	if testing.Short() {
		commands = commands[:5]
	}
	shared := func(moved bool) map[string]string {
		t.Chdir(t.TempDir())
		if err := os.WriteFile("own.csv", []byte(practiceToShare(moved)), 0o644); err != nil {
			t.Fatal(err)
		}
		const figures = "source,joint,procedure,bearing,years,revision_pct,lower_pct,upper_pct,estimand,citation\n" +
			"a,hip,total,MoP,1,1,0.9,1.1,1-KM,Invented\na,hip,total,MoP,5,3,2.9,3.1,1-KM,Invented\na,hip,total,CoP,1,1,0.9,1.1,1-KM,Invented\na,hip,total,CoP,5,3,2.9,3.1,1-KM,Invented\n"
		if err := os.WriteFile("figures.csv", []byte(figures), 0o644); err != nil {
			t.Fatal(err)
		}
		for i, c := range append(commands, "audit own.csv --format csv --out exact.csv") {
			args := strings.Fields(strings.ReplaceAll(c, "OUT", fmt.Sprintf("%02d", i)))
			var out, messages bytes.Buffer
			if status := Main(append(args, "--closing-date", "2023-12-31"), strings.NewReader(""), &out, &messages); status != 0 {
				t.Errorf("%s: status %d, %s", c, status, &messages)
			}
		}
		files, err := filepath.Glob("*")
		if err != nil {
			t.Fatal(err)
		}
		all := make(map[string]string)
		for _, name := range files {
			b, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			all[name] = string(b)
		}
		return all
	}
	one, other := shared(false), shared(true)
	if len(one) < len(commands) {
		t.Errorf("only %d files", len(one))
	}
	if one["exact.csv"] == other["exact.csv"] {
		t.Error("the two tables are one: not a test")
	}
	for name, text := range one {
		if name != "own.csv" && name != "exact.csv" && text != other[name] {
			t.Errorf("%s differs between tables of which the same is shared", name)
		}
	}
}
