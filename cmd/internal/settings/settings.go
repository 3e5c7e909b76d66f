// Package settings is what a settings file may say: read from it, laid under what
// else is asked for, checked once, made into options for reading and auditing, and
// written down again as a proposal with what is left to settle.
package settings

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"iter"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cohort"
)

// Settings is what a settings file may say, and with the flags laid over it what
// is in force: the run and the file that is proposed both come from it alone. A
// field with a flag names it.
type Settings struct {
	Columns          map[string]string            `toml:"columns" as:"under [columns], \"Op date\" = \"operation_date\""` // heading = column
	Assume           map[string]string            `toml:"assume" flag:"assume" as:"under [assume], joint = \"hip\""`
	Where            map[string][]string          `toml:"where" flag:"where" as:"under [where], surgeon = [\"A\", \"B\"]"`
	Words            map[string]map[string]string `toml:"words" as:"under [words.bearing], \"std\" = \"metal-on-polyethylene\""` // by column
	Missing          []string                     `toml:"missing" as:"missing = [\"nil\", \"99\"]"`
	By               []string                     `toml:"by" flag:"by" as:"by = [\"bearing\", \"surgeon\"]"`
	AgeBands         []int                        `toml:"age_bands" flag:"age-bands" as:"age_bands = [55, 65, 75]"`
	Bands            map[string][]float64         `toml:"bands" as:"under [bands], activity = [4, 7]"` // by column
	Years            []float64                    `toml:"years" flag:"years" as:"years = [1, 5, 10]"`
	ClosingDate      any                          `toml:"closing_date" flag:"closing-date" as:"closing_date = 2024-12-31"`
	DateOrder        string                       `toml:"date_order" flag:"date-order" as:"date_order = \"day-first\""`
	Pivot            *int                         `toml:"pivot" flag:"pivot" as:"pivot = 30"`
	Delimiter        string                       `toml:"delimiter" flag:"delimiter" as:"delimiter = \";\""`
	Encoding         string                       `toml:"encoding" flag:"encoding" as:"encoding = \"utf-8\""`
	Interval         string                       `toml:"interval" flag:"interval" as:"interval = \"log-log\""`
	Level            *float64                     `toml:"level" flag:"level" as:"level = 0.95"`
	MinAtRisk        *float64                     `toml:"min_at_risk" flag:"min-at-risk" as:"min_at_risk = 30"`
	Published        []string                     `toml:"published" flag:"published" as:"published = [\"registry.csv\"]"`
	Expected         string                       `toml:"expected" flag:"expected" as:"expected = \"own\""`
	Builtin          string                       `toml:"builtin" flag:"builtin" as:"builtin = \"no\""`
	Countries        []string                     `toml:"countries" flag:"country" as:"countries = [\"Norway\"]"`
	Reasons          []string                     `toml:"reasons" flag:"reason" as:"reasons = [\"infection\"]"`
	Revisions        []string                     `toml:"revisions" flag:"revisions" as:"revisions = [\"revisions.csv\"]"`
	Deaths           []string                     `toml:"deaths" flag:"deaths" as:"deaths = [\"deaths.csv\"]"`
	DeathsCompleteTo any                          `toml:"deaths_complete_to" flag:"deaths-complete-to" as:"deaths_complete_to = 2024-12-31"`
	PatientsByTable  *bool                        `toml:"patients_by_table" flag:"patients-by-table" as:"patients_by_table = true"`
	Sheet            any                          `toml:"sheet" flag:"sheet" as:"sheet = \"Primaries\", or for several sheet = [\"2019\", \"2020\"]"`
	RevisionsSheet   string                       `toml:"revisions_sheet" flag:"revisions-sheet" as:"revisions_sheet = \"Revisions\""`
	DeathsSheet      string                       `toml:"deaths_sheet" flag:"deaths-sheet" as:"deaths_sheet = \"Deaths\""`
	LostAfterYears   *float64                     `toml:"lost_after_years" flag:"lost-after" as:"lost_after_years = 2"`
	WorstCase        *bool                        `toml:"worst_case" flag:"worst-case" as:"worst_case = true"`

	Given map[string]bool // the flags laid over them
	File  string          // that they were read from; "" for none

	content []byte // of that file
}

// From is how a message names the place of a setting: its flag, or the file.
func (s *Settings) From(key string) string {
	t := reflect.TypeFor[Settings]()
	for i := range t.NumField() {
		tag := t.Field(i).Tag
		if tag.Get("toml") != key {
			continue
		}
		if flag := tag.Get("flag"); flag != "" && (s.Given[flag] || s.File == "") {
			return "--" + flag
		}
	}
	return s.File + ": " + key
}

// day is a setting that is a day, as text: TOML writes it with quotation marks
// or without. It is "" if not set.
func day(key string, value any, file string) (string, error) {
	switch d := value.(type) {
	case nil:
		return "", nil
	case string:
		return d, nil
	case toml.LocalDate:
		return d.String(), nil
	}
	return "", Usage("%s: %s %v: want a day; write it like this: %s", file, key, value, form(key))
}

// texts is a setting that is a text, or several; nil if not set.
func texts(key string, value any, file string) ([]string, error) {
	switch v := value.(type) {
	case nil:
		return nil, nil
	case string:
		return []string{v}, nil
	case []any:
		var all []string
		for _, item := range v {
			s, ok := item.(string)
			if !ok {
				return nil, Usage("%s: %s %v: want text in quotation marks; write it like this: %s", file, key, item, form(key))
			}
			all = append(all, s)
		}
		return all, nil
	}
	return nil, Usage("%s: %s %v: want text in quotation marks; write it like this: %s", file, key, value, form(key))
}

// UsageError is an error in the command line or the settings.
type UsageError struct{ Err error }

func (e *UsageError) Error() string { return e.Err.Error() }
func (e *UsageError) Unwrap() error { return e.Err }

// Usage is a [UsageError] with a message.
func Usage(format string, args ...any) error { return &UsageError{fmt.Errorf(format, args...)} }

// Content is what the file holds.
func (s *Settings) Content() []byte { return s.content }

// mostSettings is the size of a file above which it is no settings file.
const mostSettings = 4 << 20

// Read reads a settings file; no name gives empty settings. See [Parse].
func Read(name string) (*Settings, error) {
	if name == "" {
		return new(Settings), nil
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, &UsageError{Err: err}
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, mostSettings+1))
	if err != nil {
		return nil, &UsageError{Err: err}
	}
	if len(text) > mostSettings {
		return nil, Usage("%s: more than %d MiB: this is no settings file", name, mostSettings>>20)
	}
	return Parse(name, text)
}

// Parse reads settings from the text of a file. Days are then text, sheets a list
// of texts, and other files named as seen from where the name is. Errors name the
// file and the line.
func Parse(name string, text []byte) (*Settings, error) {
	s := &Settings{File: name, content: text}
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	if !utf8.Valid(text) {
		line := 1 + bytes.Count(text[:invalid(text)], []byte("\n"))
		return nil, Usage("%s:%d: a character that is not UTF-8; save the file as UTF-8 (plain text) in the editor", name, line)
	}
	if err := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields().Decode(s); err != nil {
		return nil, &UsageError{settingsError(name, string(text), err)}
	}
	if err := s.unknownColumn(); err != nil {
		return nil, err
	}
	for _, d := range []struct {
		key   string
		value *any
	}{{"closing_date", &s.ClosingDate}, {"deaths_complete_to", &s.DeathsCompleteTo}} {
		text, err := day(d.key, *d.value, name)
		if err != nil {
			return nil, err
		}
		if *d.value = text; text == "" {
			*d.value = nil
		}
	}
	sheets, err := texts("sheet", s.Sheet, name)
	if err != nil {
		return nil, err
	}
	if s.Sheet = sheets; sheets == nil {
		s.Sheet = nil
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

// invalid is where a text stops being UTF-8.
func invalid(text []byte) int {
	for i := 0; i < len(text); {
		r, size := utf8.DecodeRune(text[i:])
		if r == utf8.RuneError && size <= 1 {
			return i
		}
		i += size
	}
	return len(text)
}

// settingsError says where in the file the error is, and what to write
// instead: for an unknown key which one may have been meant.
func settingsError(name, text string, err error) error {
	var strict *toml.StrictMissingError
	if errors.As(err, &strict) && len(strict.Errors) > 0 {
		first := strict.Errors[0]
		row, _ := first.Position()
		key := strings.Join(first.Key(), ".")
		near := ""
		if n := cohort.Nearest(key, Keys()); n != "" {
			near = fmt.Sprintf(" (did you mean %q?)", n)
		}
		return fmt.Errorf("%s:%d: no setting %q%s; there are %s", name, row, key, near, strings.Join(Keys(), ", "))
	}
	var wrong *toml.DecodeError
	if errors.As(err, &wrong) {
		row, column := wrong.Position()
		message := strings.TrimPrefix(wrong.Error(), "toml: ")
		switch key := wrong.Key(); {
		case len(key) > 0 && strings.HasPrefix(message, "cannot decode"):
			message = fmt.Sprintf("%s can't have a value of this kind; write it like this: %s", strings.Join(key, "."), form(key[0]))
		case len(key) > 0 && strings.HasSuffix(message, "is already defined"):
			message = fmt.Sprintf("%s stands twice; take one of the lines out", strings.Join(key, "."))
		default:
			message = unwritten(line(text, row), message)
		}
		return fmt.Errorf("%s:%d:%d: %s", name, row, column, message)
	}
	return fmt.Errorf("%s: %w", name, err)
}

// unknownColumn is about a heading that the settings map to what is no column.
func (s *Settings) unknownColumn() error {
	var columns []string
	for _, c := range cohort.Columns() {
		columns = append(columns, c.Name)
	}
	for _, heading := range slices.Sorted(keys(s.Columns)) {
		column := s.Columns[heading]
		if column == "" || slices.Contains(columns, column) {
			continue
		}
		near := ""
		if n := cohort.Nearest(column, columns); n != "" {
			near = fmt.Sprintf(" (did you mean %q?)", n)
		}
		return Usage("%s: heading %q is mapped to %q, which is no column%s; there are %s", s.place("columns", heading), heading, column, near, strings.Join(columns, ", "))
	}
	return nil
}

// Placed puts the line of the settings file on an error about a word explained in
// it.
func (s *Settings) Placed(err error) error {
	wrong, ok := errors.AsType[*cohort.WordError](err)
	if !ok || s.File == "" {
		return err
	}
	return &UsageError{fmt.Errorf("%s: %w", s.place("words."+wrong.Column, wrong.Typed), err)}
}

// place is the file and, where it is found, the line of a key in a section.
func (s *Settings) place(section, key string) string {
	in := ""
	for i, line := range strings.Split(strings.TrimPrefix(string(s.content), "\ufeff"), "\n") {
		line = strings.TrimSpace(line)
		if name, isSection := strings.CutPrefix(line, "["); isSection {
			in, _, _ = strings.Cut(name, "]")
			continue
		}
		k, _, _ := strings.Cut(line, "=")
		if k = strings.TrimSpace(k); in == section && (k == report.TOML(key) || strings.Trim(k, `"'`) == key) {
			return fmt.Sprintf("%s:%d", s.File, i+1)
		}
	}
	return s.File
}

// line is one line of a text, counted from 1.
func line(text string, number int) string {
	lines := strings.Split(text, "\n")
	if number < 1 || number > len(lines) {
		return ""
	}
	return strings.TrimSpace(lines[number-1])
}

// unwritten says what is wrong with a line that is no setting, and how it would
// be written.
func unwritten(line, message string) string {
	key, value, assigned := strings.Cut(line, "=")
	key, value = strings.TrimSpace(key), strings.TrimSpace(value)
	like := ""
	if f := form(key); f != "" {
		like = "; write it like this: " + f
	}
	switch {
	case strings.ContainsAny(bare(line), "“”„‟‘’‚«»″"):
		return `the quotation marks must be straight ones, "like these"; a word processor bends them` + like
	case assigned && strings.Contains(bare(key), " "):
		return `the quotation marks are missing: a word or heading stands in straight ones, "like this" = "value"`
	case assigned && value != "" && !strings.ContainsAny(value, `"'`):
		return `the quotation marks are missing: text stands in straight ones, "like these", and a day is written as 2024-12-31` + like
	case !assigned && line != "" && line[0] != '[':
		return "no setting: a line is a name, = and its value, such as " + form("closing_date") + "; a remark begins with #"
	}
	return "this line can't be read as a setting (" + message + ")" + like
}

// bare is what of a line stands outside straight quotation marks.
func bare(line string) string {
	var b strings.Builder
	quote := rune(0)
	for _, r := range line {
		switch {
		case quote == 0 && (r == '"' || r == '\''):
			quote = r
		case r == quote:
			quote = 0
		case quote == 0:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// Keys are the names of all settings that are one line or one section.
func Keys() []string {
	var names []string
	t := reflect.TypeFor[Settings]()
	for i := range t.NumField() {
		if key := t.Field(i).Tag.Get("toml"); key != "" {
			names = append(names, key)
		}
	}
	return names
}

// form is an example of how a setting is written; "" for a key that there is not.
func form(key string) string {
	t := reflect.TypeFor[Settings]()
	for i := range t.NumField() {
		if tag := t.Field(i).Tag; key != "" && tag.Get("toml") == key {
			return tag.Get("as")
		}
	}
	return ""
}

func keys[V any](m map[string]V) iter.Seq[string] { return maps.Keys(m) }
