package command

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"example.org/holdfast/cohort"
)

// Each input of a report stands there once, with what sha256sum says of it: tables read
// in order, here and there, several times over, and from standard input, published
// figures, settings, an earlier audit.
func TestFingerprintsAreOfTheFiles(t *testing.T) {
	dir := t.TempDir()
	practice, err := os.ReadFile(practiceFolder + "practice.csv")
	if err != nil {
		t.Fatal(err)
	}
	content := map[string][]byte{
		"own.csv":        practice,
		"deaths.csv":     []byte("patient,death_date\nA0001,2020-05-06\n"),
		"own.toml":       []byte("\ufeffclosing_date = 2024-12-31\nby = []\n"),
		"figures.csv":    nil,
		"standard input": practice,
	}
	write := func(name string, b []byte) string {
		t.Helper()
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	run := func(stdin io.Reader, args ...string) string {
		t.Helper()
		var stdout, stderr bytes.Buffer
		if status := Main(args, stdin, &stdout, &stderr); status != 0 {
			t.Fatalf("%q: exit %d: %s", args, status, &stderr)
		}
		return stdout.String()
	}
	content["figures.csv"] = []byte(run(nil, "published", "--format", "csv"))
	own, deaths, file, figures := write("own.csv", content["own.csv"]), write("deaths.csv", content["deaths.csv"]), write("own.toml", content["own.toml"]), write("figures.csv", content["figures.csv"])
	content["last.json"] = []byte(run(nil, "audit", own, "--closing-date", "2023-12-31", "--by", "none", "--published", "none", "--format", "json"))
	last := write("last.json", content["last.json"])
	page := filepath.Join(dir, "page.html")

	run(nil, "report", own, "--deaths", deaths, "--settings", file, "--published", figures, "--builtin", "no", "--before", last, "--out", page)
	wantPrints(t, page, content, "own.csv", "deaths.csv", "own.toml", "figures.csv", "last.json")
	run(bytes.NewReader(practice), "report", "-", "--settings", file, "--published", "none", "--out", page)
	wantPrints(t, page, content, "standard input", "own.toml")

	tally := filepath.Join(dir, "own.parquet")
	run(nil, "tally", own, "--closing-date", "2024-12-31", "--out", tally)
	book := write("two.xlsx", twoSheets(t))
	for _, args := range [][]string{{tally}, {book, "--sheet", "all"}} {
		if content[filepath.Base(args[0])], err = os.ReadFile(args[0]); err != nil {
			t.Fatal(err)
		}
		run(nil, slices.Concat([]string{"report", "--published", "none", "--out", page}, args)...)
		wantPrints(t, page, content, filepath.Base(args[0]))
	}
}

// twoSheets is a workbook whose two sheets are tables of primaries.
func twoSheets(t *testing.T) []byte {
	t.Helper()
	book := excelize.NewFile()
	_, err := book.NewSheet("2020")
	for _, sheet := range []string{"Sheet1", "2020"} {
		err = errors.Join(err, book.SetSheetRow(sheet, "A1", &[]string{"patient", "operation_date", "joint", "procedure", "revision_date"}),
			book.SetSheetRow(sheet, "A2", &[]string{"p" + sheet, "2010-01-01", "hip", "total", "2020-01-01"}))
	}
	var b bytes.Buffer
	if err := errors.Join(err, book.Write(&b)); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// wantPrints looks for names and fingerprints in a page, and for no others.
func wantPrints(t *testing.T, page string, content map[string][]byte, names ...string) {
	t.Helper()
	b, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile(`\b[0-9a-f]{64}\b`).FindAllString(string(b), -1)
	var want []string
	for _, name := range names {
		sum := sha256.Sum256(content[name])
		want = append(want, hex.EncodeToString(sum[:]))
		if !strings.Contains(string(b), name) {
			t.Errorf("%s is not named", name)
		}
	}
	slices.Sort(found)
	slices.Sort(want)
	if !slices.Equal(found, want) {
		t.Errorf("%q: fingerprints %q, want %q", names, found, want)
	}
}

// An input that is read twice must be the same both times; a folder is its files, with
// their names.
func TestDigests(t *testing.T) {
	d := make(digests)
	for _, read := range [][2]string{{"twice.xlsx", "a"}, {"twice.xlsx", "a"}, {"changed.xlsx", "a"}, {"changed.xlsx", "b"}, {filepath.Join("parts", "h=A", "1.parquet"), "1"}, {filepath.Join("parts", "h=B", "1.parquet"), "1"}} {
		io.WriteString(d.of(read[0]), read[1])
	}
	sums, err := d.sums([]string{"twice.xlsx", "parts", "none", ""})
	if err != nil || len(sums) != 2 || bytes.Equal(sums["parts"].print, sums["parts"].letters) {
		t.Errorf("%v, %v", sums, err)
	}
	if _, err := d.sums([]string{"changed.xlsx"}); !errors.Is(err, cohort.ErrChanged) || !strings.HasPrefix(err.Error(), "changed.xlsx: ") {
		t.Errorf("%v", err)
	}
	other := make(digests)
	for _, name := range []string{"h=A", "h=C"} {
		io.WriteString(other.of(filepath.Join("parts", name, "1.parquet")), "1")
	}
	if moved, err := other.sums([]string{"parts"}); err != nil || bytes.Equal(moved["parts"].print, sums["parts"].print) {
		t.Errorf("a file in another folder: %v, %v", moved, err)
	}
	if digests(nil).of("x") != nil {
		t.Error("digests that nobody asked for")
	}
}
