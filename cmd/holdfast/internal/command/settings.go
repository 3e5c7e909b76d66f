package command

import (
	"errors"
	"fmt"
	"iter"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"example.org/holdfast/cohort"
)

// settings is what a settings file may say. A flag comes before it.
type settings struct {
	Columns          map[string]string            `toml:"columns" as:"under [columns], \"Op date\" = \"operation_date\""` // heading = column
	Assume           map[string]string            `toml:"assume" as:"under [assume], joint = \"hip\""`
	Where            map[string][]string          `toml:"where" as:"under [where], surgeon = [\"A\", \"B\"]"`
	Words            map[string]map[string]string `toml:"words" as:"under [words.bearing], \"std\" = \"metal-on-polyethylene\""` // by column
	Missing          []string                     `toml:"missing" as:"missing = [\"nil\", \"99\"]"`
	By               []string                     `toml:"by" as:"by = [\"bearing\", \"surgeon\"]"`
	AgeBands         []int                        `toml:"age_bands" as:"age_bands = [55, 65, 75]"`
	Years            []float64                    `toml:"years" as:"years = [1, 5, 10]"`
	ClosingDate      any                          `toml:"closing_date" as:"closing_date = 2024-12-31"`
	DateOrder        string                       `toml:"date_order" as:"date_order = \"day-first\""`
	Pivot            *int                         `toml:"pivot" as:"pivot = 30"`
	Delimiter        string                       `toml:"delimiter" as:"delimiter = \";\""`
	Encoding         string                       `toml:"encoding" as:"encoding = \"utf-8\""`
	Interval         string                       `toml:"interval" as:"interval = \"log-log\""`
	Level            *float64                     `toml:"level" as:"level = 0.95"`
	MinAtRisk        *float64                     `toml:"min_at_risk" as:"min_at_risk = 30"`
	Published        []string                     `toml:"published" as:"published = [\"registry.csv\"]"`
	Reasons          []string                     `toml:"reasons" as:"reasons = [\"infection\"]"`
	Revisions        []string                     `toml:"revisions" as:"revisions = [\"revisions.csv\"]"`
	Deaths           []string                     `toml:"deaths" as:"deaths = [\"deaths.csv\"]"`
	DeathsCompleteTo any                          `toml:"deaths_complete_to" as:"deaths_complete_to = 2024-12-31"`
	Sheet            string                       `toml:"sheet" as:"sheet = \"Primaries\""`
	RevisionsSheet   string                       `toml:"revisions_sheet" as:"revisions_sheet = \"Revisions\""`
	DeathsSheet      string                       `toml:"deaths_sheet" as:"deaths_sheet = \"Deaths\""`
	LostAfterYears   *float64                     `toml:"lost_after_years" as:"lost_after_years = 2"`
	WorstCase        *bool                        `toml:"worst_case" as:"worst_case = true"`
}

// day is a setting that is a day, as text: TOML writes it with quotation marks
// or without. It is "" if not set.
func day(name string, value any) (string, error) {
	switch d := value.(type) {
	case nil:
		return "", nil
	case string:
		return d, nil
	case toml.LocalDate:
		return d.String(), nil
	}
	return "", usage("%s %v in the settings: want a day such as 2024-12-31", name, value)
}

// readSettings reads a settings file; no name gives empty settings.
func readSettings(name string) (*settings, error) {
	s := new(settings)
	if name == "" {
		return s, nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &usageError{err}
	}
	defer f.Close()
	d := toml.NewDecoder(f).DisallowUnknownFields()
	if err := d.Decode(s); err != nil {
		return nil, &usageError{settingsError(name, err)}
	}
	for _, files := range [][]string{s.Published, s.Revisions, s.Deaths} { // as seen from the settings file
		for i, file := range files {
			if file != "none" && !filepath.IsAbs(file) {
				files[i] = filepath.Join(filepath.Dir(name), file)
			}
		}
	}
	return s, nil
}

// settingsError says where in the file the error is, and for an unknown key
// which one may have been meant.
func settingsError(name string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		first := strict.Errors[0]
		row, _ := first.Position()
		key := strings.Join(first.Key(), ".")
		near := ""
		if n := cohort.Nearest(key, settingKeys()); n != "" {
			near = fmt.Sprintf(" (did you mean %q?)", n)
		}
		return fmt.Errorf("%s:%d: no setting %q%s; there are %s", name, row, key, near, strings.Join(settingKeys(), ", "))
	}
	var wrong *toml.DecodeError
	if errors.As(err, &wrong) {
		row, column := wrong.Position()
		message := strings.TrimPrefix(wrong.Error(), "toml: ")
		if key := wrong.Key(); len(key) > 0 && strings.HasPrefix(message, "cannot decode") {
			message = fmt.Sprintf("%s can't have a value of this kind; write it like this: %s", strings.Join(key, "."), form(key[0]))
		}
		return fmt.Errorf("%s:%d:%d: %s", name, row, column, message)
	}
	return fmt.Errorf("%s: %w", name, err)
}

func settingKeys() []string {
	var names []string
	t := reflect.TypeFor[settings]()
	for i := range t.NumField() {
		names = append(names, t.Field(i).Tag.Get("toml"))
	}
	return names
}

// form is an example of how a setting is written.
func form(key string) string {
	t := reflect.TypeFor[settings]()
	for i := range t.NumField() {
		if t.Field(i).Tag.Get("toml") == key {
			return t.Field(i).Tag.Get("as")
		}
	}
	return ""
}

func keys[V any](m map[string]V) iter.Seq[string] { return maps.Keys(m) }
