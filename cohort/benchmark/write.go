package benchmark

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// Write writes series as a file [Read] reads: CSV with commas, one row per
// figure. Numbers are written so that they are read back the same. Text that a
// spreadsheet would take for a formula gets a leading apostrophe, which Read
// takes off. Nothing is written if Read would refuse the result.
func Write(w io.Writer, series []*Series) error {
	var b bytes.Buffer
	out := csv.NewWriter(&b)
	out.Write(columns) // a Buffer takes everything
	for _, s := range series {
		for _, f := range s.Figures {
			out.Write(record(s, f))
		}
	}
	out.Flush()
	if _, _, err := Read(bytes.NewReader(b.Bytes()), "published figures"); err != nil {
		return fmt.Errorf("benchmark: not written: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

func record(s *Series, f Figure) []string {
	lower, upper := f.Lower, f.Upper
	if f.Notes&LimitsRounded != 0 {
		lower, upper = f.PrintedLower, f.PrintedUpper
	} else if !f.HasLimits() {
		lower, upper = nan, nan
	}
	joint := s.Joint
	if joint == "" {
		joint = "*" // the column is needed
	}
	return []string{
		guard(s.Source), guard(joint), guard(s.Procedure), guard(s.Bearing), guard(s.Polyethylene), guard(s.Fixation), s.Age.String(), guard(s.Sex),
		guard(s.Diagnosis), s.Setting.String(), guard(s.Country), guard(s.Register), guard(s.Subset),
		strconv.FormatFloat(f.Years, 'f', -1, 64),
		f.printed(), Percent(lower), Percent(upper),
		strconv.FormatFloat(f.level(), 'f', -1, 64),
		count(f.Joints), count(f.AtRisk),
		s.Estimand.String(),
		count(s.PeriodFrom), count(s.PeriodTo),
		guard(f.Covers), guard(s.Citation), guard(f.SeenAt), guard(f.SeenOn),
	}
}

// printed is the figure in per cent with the digits it was printed with.
func (f Figure) printed() string {
	text := Percent(f.Revision)
	if !(f.Rounding > 0) {
		return text
	}
	want := int(math.Round(-math.Log10(2*f.Rounding))) - 2
	whole, decimals, _ := strings.Cut(text, ".")
	if want <= len(decimals) {
		return text
	}
	return whole + "." + decimals + strings.Repeat("0", want-len(decimals))
}

func count(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// guard keeps a spreadsheet from reading text as a formula.
func guard(s string) string {
	if s != "" && strings.IndexByte("=+-@", s[0]) >= 0 {
		return "'" + s
	}
	return s
}

// Percent is a proportion in percent, in the fewest digits that give the same
// proportion when the decimal point is moved back: .081 is "8.1", where
// multiplying by 100 would leave 8.100000000000001. NaN is "".
func Percent(p float64) string { return string(AppendPercent(nil, p)) }

// AppendPercent adds what [Percent] gives.
func AppendPercent(to []byte, p float64) []byte {
	switch {
	case p != p:
		return to
	case p == 0:
		return append(to, '0')
	case math.IsInf(p, 0):
		return strconv.AppendFloat(to, p, 'f', -1, 64)
	}
	if p < 0 {
		to, p = append(to, '-'), -p
	}
	var room [32]byte
	whole, decimals, _ := bytes.Cut(strconv.AppendFloat(room[:0], p, 'f', -1, 64), []byte("."))
	for len(decimals) < 2 {
		decimals = append(decimals, '0')
	}
	whole = bytes.TrimLeft(append(whole, decimals[:2]...), "0") // over the point, and what stood after it
	if len(whole) == 0 {
		to = append(to, '0')
	}
	to = append(to, whole...)
	if len(decimals) > 2 {
		to = append(append(to, '.'), decimals[2:]...)
	}
	return to
}
