package exchange

import (
	"bytes"
	"encoding/json"

	"example.org/holdfast/cohort/internal/sheet"
)

// AboutKey is the key of the metadata of a file of this package.
const AboutKey = sheet.AboutKey

// HoldsJoints is what a checked cohort holds.
const HoldsJoints = sheet.HoldsJoints

// About is what a checked cohort, or a file of life tables or curves, says of itself, as
// JSON under [AboutKey].
type About struct {
	Holds       string   `json:"holds"`
	Version     int      `json:"version"`
	Closing     string   `json:"closing_date"` // the day to which follow-up is complete
	Endpoint    string   `json:"endpoint"`
	LostAfter   int      `json:"lost_after_days"`
	DaysPerYear float64  `json:"days_per_year"`
	Scope       []string `json:"narrowed_to,omitempty"` // column=value
	Assumed     []string `json:"assumed,omitempty"`
	Interval    string   `json:"interval,omitempty"` // of curves: the method of their limits,
	Level       float64  `json:"level,omitempty"`    // their level,
	Variance    string   `json:"variance,omitempty"` // and the formula of their errors
	Definitions []string `json:"definitions"`
	Account     string   `json:"account"`
	Columns     []Column `json:"columns"`
}

// json is the text of something, in the order of its fields.
func (a *About) json() (string, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(a); err != nil {
		return "", err
	}
	return string(bytes.TrimSpace(b.Bytes())), nil
}
