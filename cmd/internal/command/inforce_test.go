package command

import (
	"io"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"example.org/holdfast/cmd/internal/settings"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// everySetting sets every key of a settings file, each to something other than
// its default. A test fails for a key that it lacks.
const everySetting = `closing_date = 2023-12-31
deaths_complete_to = "2023-06-30"
lost_after_years = 3.5
date_order = "month-first"
pivot = 40
delimiter = ";"
encoding = "windows-1252"
sheet = ["2019", "2020"]
revisions_sheet = "Redone"
deaths_sheet = "Died"
revisions = ["revisions.csv"]
deaths = ["lists/deaths.csv"]
missing = ["99", "nil"]
by = ["surgeon", "bearing"]
age_bands = [50, 70]
years = [2, 7.5]
interval = "plain"
level = 0.9
min_at_risk = 12
published = ["figures.csv"]
builtin = "no"
expected = "own"
countries = ["Norway"]
reasons = ["infection"]
worst_case = true
patients_by_table = true

[columns]
"Op" = "operation_date"
"took-out" = "revision_date"
"An old heading" = "side"
"Remark" = ""

[bands]
activity = [4, 7]
bmi = [25, 30.5]

[words.bearing]
"std" = "metal-on-polyethylene"

[words.liner]
"plain" = "polyethylene"

[assume]
joint = "hip"

[where]
surgeon = ["A", "B"]
`

// everyFlag gives every flag about reading that may stand in a settings file,
// each a value other than that of everySetting.
var everyFlag = map[string]string{
	"closing-date": "2022-12-31", "age-bands": "60,80", "where": "hospital=West", "assume": "procedure=total", "date-order": "day-first", "pivot": "20",
	"delimiter": ",", "encoding": "utf-8", "revisions": "other-revisions.csv", "deaths": "other-deaths.csv", "deaths-complete-to": "2022-06-30",
	"lost-after": "1.5", "sheet": "2021", "revisions-sheet": "R", "deaths-sheet": "D", "patients-by-table": "false",
}

// table is what everySetting is about.
const settledTable = "Op;Took out;patient;side;bearing;surgeon;Remark\n2020-01-02;;p1;L;std;A;x\n2020-01-03;;p2;R;MoP;B;y\n"

func unset(s *settings.Settings) (names []string) {
	v := reflect.ValueOf(*s)
	for i := range v.NumField() {
		if f := v.Type().Field(i); f.Tag.Get("toml") != "" && v.Field(i).IsZero() {
			names = append(names, f.Tag.Get("toml"))
		}
	}
	return names
}

// sameSettings compares what settings say, wherever they are from.
var sameSettings = cmp.Options{cmpopts.IgnoreUnexported(settings.Settings{}), cmpopts.IgnoreFields(settings.Settings{}, "Given", "File")}

// written is what --write-settings writes, read back: tables of the folder.
func written(t *testing.T, in *settings.Settings, folder string) *settings.Settings {
	t.Helper()
	o, err := in.Reading()
	if err != nil {
		t.Fatal(err)
	}
	o.Sheets, o.Revisions, o.DeathLists, o.EveryColumn = nil, nil, nil, true
	o.Where = nil
	co, err := (&app{stderr: io.Discard}).read(t.Context(), []string{filepath.Join(folder, "own.csv")}, o)
	if err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(folder, "b.toml")
	if err := writeFile(name, func(w io.Writer) error { return settings.Propose(w, co, in, []string{"own.csv"}, name, nil) }); err != nil {
		t.Fatal(err)
	}
	s, err := settings.Read(name)
	if err != nil {
		text, _ := os.ReadFile(name)
		t.Fatalf("%v in\n%s", err, text)
	}
	return s
}

func folderOf(t *testing.T, files map[string]string) string {
	t.Helper()
	folder := t.TempDir()
	for name, text := range files {
		if err := os.WriteFile(filepath.Join(folder, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return folder
}

// Nothing that a settings file says is lost when settings are written.
func TestNoSettingIsLost(t *testing.T) {
	folder := folderOf(t, map[string]string{"a.toml": everySetting, "own.csv": settledTable})
	a, err := settings.Read(filepath.Join(folder, "a.toml"))
	if err != nil {
		t.Fatal(err)
	}
	if missing := unset(a); missing != nil {
		t.Fatalf("everySetting lacks %q", missing)
	}
	f, flags := flagsGiven(t, nil)
	in, err := f.lay(flags, a)
	if err != nil {
		t.Fatal(err)
	}
	b := written(t, in, folder)
	// The table types this heading otherwise, and has two headings of its own.
	want := *a
	want.Columns = map[string]string{"Op": "operation_date", "Took out": "revision_date", "An old heading": "side", "Remark": "",
		"patient": "patient", "bearing": "bearing", "surgeon": "surgeon", "side": "side"}
	if d := cmp.Diff(&want, b, sameSettings); d != "" {
		t.Errorf("(-given +written):\n%s", d)
	}
	text, err := os.ReadFile(filepath.Join(folder, "b.toml"))
	if err != nil {
		t.Fatal(err)
	}
	for _, key := range settings.Keys() { // each once
		n := 0
		for _, line := range strings.Split(string(text), "\n") {
			if strings.HasPrefix(line, key+" = ") || strings.HasPrefix(line, "["+key+"]") || strings.HasPrefix(line, "["+key+".bearing]") {
				n++
			}
		}
		if n != 1 {
			t.Errorf("%s stands %d times in\n%s", key, n, text)
		}
	}
}

// flagsGiven are the flags about reading, with values.
func flagsGiven(t *testing.T, values map[string]string) (*readingFlags, *pflag.FlagSet) {
	t.Helper()
	f := new(readingFlags)
	c := &cobra.Command{}
	f.add(c)
	for name, value := range values {
		if err := c.Flags().Set(name, value); err != nil {
			t.Fatal(err)
		}
	}
	return f, c.Flags()
}

// Every flag about reading is a setting too, comes before it, and is written.
func TestNoFlagIsLost(t *testing.T) {
	f, flags := flagsGiven(t, everyFlag)
	byFlag := make(map[string]reflect.StructField)
	for i, typ := 0, reflect.TypeFor[settings.Settings](); i < typ.NumField(); i++ {
		if flag := typ.Field(i).Tag.Get("flag"); flag != "" {
			byFlag[flag] = typ.Field(i)
		}
	}
	flags.VisitAll(func(flag *pflag.Flag) {
		if flag.Name == "settings" {
			return
		}
		if _, ok := byFlag[flag.Name]; !ok {
			t.Errorf("--%s is no setting", flag.Name)
		}
		if _, ok := everyFlag[flag.Name]; !ok {
			t.Errorf("everyFlag lacks --%s", flag.Name)
		}
	})

	folder := folderOf(t, map[string]string{"a.toml": everySetting, "own.csv": strings.ReplaceAll(settledTable, ";", ",")})
	a, err := settings.Read(filepath.Join(folder, "a.toml"))
	if err != nil {
		t.Fatal(err)
	}
	in, err := f.lay(flags, a)
	if err != nil {
		t.Fatal(err)
	}
	for name := range everyFlag {
		field := byFlag[name].Name
		before, after := reflect.ValueOf(*a).FieldByName(field).Interface(), reflect.ValueOf(*in).FieldByName(field).Interface()
		if cmp.Equal(before, after) {
			t.Errorf("--%s does not come before the setting", name)
		}
	}
	b := written(t, in, folder)
	want := *in
	want.Columns = b.Columns
	for _, files := range [][]string{want.Revisions, want.Deaths} { // read back as seen from the file, so absolute
		for i, name := range files {
			if files[i], err = filepath.Abs(name); err != nil {
				t.Fatal(err)
			}
		}
	}
	if d := cmp.Diff(&want, b, sameSettings); d != "" {
		t.Errorf("(-in force +written):\n%s", d)
	}

	// Without a settings file a flag alone is enough.
	for name, value := range everyFlag {
		f, flags := flagsGiven(t, map[string]string{name: value})
		in, err := f.lay(flags, new(settings.Settings))
		if err != nil {
			t.Fatal(err)
		}
		if reflect.ValueOf(*in).FieldByName(byFlag[name].Name).IsZero() {
			t.Errorf("--%s alone is lost", name)
		}
	}
}

// The flags of an audit are settings too, and come before them.
func TestAuditFlagsComeFirst(t *testing.T) {
	folder := folderOf(t, map[string]string{"a.toml": everySetting})
	a, err := settings.Read(filepath.Join(folder, "a.toml"))
	if err != nil {
		t.Fatal(err)
	}
	given := map[string]string{"by": "fixation", "years": "4", "interval": "log", "level": "0.8", "min-at-risk": "5", "published": "none", "builtin": "no", "expected": "published", "country": "Norway", "reason": "wear", "worst-case": "false"}
	f := new(auditFlags)
	flags := pflag.NewFlagSet("audit", pflag.ContinueOnError)
	f.analysis(flags)
	flags.VisitAll(func(flag *pflag.Flag) {
		if _, ok := given[flag.Name]; !ok {
			t.Errorf("--%s is not tested", flag.Name)
		}
	})
	for name, value := range given {
		if err := flags.Set(name, value); err != nil {
			t.Fatal(err)
		}
	}
	in, err := f.lay(flags, a)
	if err != nil {
		t.Fatal(err)
	}
	four, level, five, no := []float64{4}, 0.8, 5.0, false
	want := *a
	want.By, want.Years, want.Interval, want.Level, want.MinAtRisk = []string{"fixation"}, four, "log", &level, &five
	want.Published, want.Reasons, want.WorstCase = []string{"none"}, []string{"wear"}, &no
	want.Builtin, want.Expected, want.Countries = "no", "published", []string{"Norway"}
	if d := cmp.Diff(&want, in, sameSettings); d != "" {
		t.Errorf("(-want +got):\n%s", d)
	}
}
