package settings

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// FromJSON reads settings from an object that has the keys of a settings file,
// with days as text. Errors are those of [Parse].
func FromJSON(name string, object []byte) (*Settings, error) {
	d := json.NewDecoder(bytes.NewReader(object))
	d.UseNumber()
	var values map[string]any
	if err := d.Decode(&values); err != nil {
		return nil, &UsageError{fmt.Errorf("%s: %w", name, err)}
	}
	text, err := toml.Marshal(whole(values))
	if err != nil {
		return nil, &UsageError{fmt.Errorf("%s: %w", name, err)}
	}
	return Parse(name, text)
}

// whole makes numbers without a point whole numbers, everywhere in a value.
func whole(value any) any {
	switch v := value.(type) {
	case map[string]any:
		for key := range v {
			v[key] = whole(v[key])
		}
	case []any:
		for i := range v {
			v[i] = whole(v[i])
		}
	case json.Number:
		if n, err := v.Int64(); err == nil {
			return n
		}
		if x, err := v.Float64(); err == nil {
			return x
		}
		return v.String()
	}
	return value
}

// ToJSON writes the text of a settings file as the object that [FromJSON] reads.
// The text is checked as by [Parse].
func ToJSON(name string, text []byte) ([]byte, error) {
	if _, err := Parse(name, text); err != nil {
		return nil, err
	}
	var values map[string]any
	if err := toml.Unmarshal(bytes.TrimPrefix(text, []byte("\ufeff")), &values); err != nil {
		return nil, &UsageError{err}
	}
	for _, key := range []string{"closing_date", "deaths_complete_to"} {
		if day, ok := values[key].(toml.LocalDate); ok {
			values[key] = day.String()
		}
	}
	return json.Marshal(values)
}

// Value is one setting: its key under a section, which is "" for the settings
// that stand before all sections.
type Value struct {
	Section, Key string
	Value        any
}

// Values are the settings of single lines, as they are proposed: under the last
// head before them, with or without the mark of an alternative. Lines that say
// nothing are left out.
func Values(lines []string) []Value {
	var all []Value
	section := ""
	for _, line := range lines {
		line = strings.TrimSpace(strings.TrimPrefix(line, "# or:"))
		if head, ok := strings.CutPrefix(line, "["); ok {
			section = strings.TrimSuffix(head, "]")
			continue
		}
		var one map[string]any
		if err := toml.Unmarshal([]byte(line), &one); err != nil {
			continue
		}
		for key, value := range one {
			if day, ok := value.(toml.LocalDate); ok {
				value = day.String()
			}
			all = append(all, Value{section, key, value})
		}
	}
	return all
}
