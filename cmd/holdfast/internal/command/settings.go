package command

import (
	"errors"
	"fmt"
	"iter"
	"maps"
	"os"
	"reflect"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"example.org/holdfast/cohort"
)

// settings is what a settings file may say. A flag comes before it.
type settings struct {
	Columns     map[string]string   `toml:"columns"` // heading = column
	Assume      map[string]string   `toml:"assume"`
	Where       map[string][]string `toml:"where"`
	By          []string            `toml:"by"`
	AgeBands    []int               `toml:"age_bands"`
	Years       []float64           `toml:"years"`
	ClosingDate string              `toml:"closing_date"`
	DateOrder   string              `toml:"date_order"`
	Pivot       *int                `toml:"pivot"`
	Delimiter   string              `toml:"delimiter"`
	Encoding    string              `toml:"encoding"`
	Interval    string              `toml:"interval"`
	Level       float64             `toml:"level"`
	MinAtRisk   float64             `toml:"min_at_risk"`
	Published   []string            `toml:"published"`
	Reasons     []string            `toml:"reasons"`
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
		return fmt.Errorf("%s:%d:%d: %s", name, row, column, strings.TrimPrefix(wrong.Error(), "toml: "))
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

func keys[V any](m map[string]V) iter.Seq[string] { return maps.Keys(m) }
