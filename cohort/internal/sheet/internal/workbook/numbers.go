package workbook

import (
	"math"
	"strconv"
	"time"
)

// appendNumber appends a stored number as the shortest plain decimal that
// stands for the same value. What is no number is appended as it is.
func appendNumber(dst, v []byte) []byte {
	if plain(v) {
		return append(dst, v...)
	}
	f, ok := number(v)
	if !ok {
		return append(dst, v...)
	}
	return strconv.AppendFloat(dst, f, 'f', -1, 64)
}

// plain reports whether v is written as a number of up to 15 digits without
// anything that could be left out.
func plain(v []byte) bool {
	if len(v) == 0 || len(v) > 15 || v[0] == '0' && len(v) > 1 {
		return false
	}
	for _, c := range v {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

func number(v []byte) (float64, bool) {
	for _, c := range v {
		if (c < '0' || c > '9') && c != '.' && c != '-' && c != '+' && c != 'e' && c != 'E' {
			return 0, false // ParseFloat takes more
		}
	}
	f, err := strconv.ParseFloat(string(v), 64)
	if err != nil {
		return 0, false
	}
	if f == 0 {
		f = 0 // no -0
	}
	return f, true
}

// appendDay appends the day a number stands for as an ISO date, without the
// time of day. Numbers that stand for no day a spreadsheet shows are appended
// as numbers.
//
// In the 1900 system day 1 is 1900-01-01 and day 60 is 1900-02-29, which there
// never was; it is written so, since the spreadsheet shows it so.
func appendDay(dst, v []byte, since1904 bool) []byte {
	f, ok := number(v)
	if !ok {
		return append(dst, v...)
	}
	// A time of day computed to end at midnight may fall short by a rounding.
	day := math.Floor(f + 0.5/86_400_000)
	var t time.Time
	switch {
	case since1904 && day >= 0 && day <= lastDay1904:
		t = time.Date(1904, 1, 1+int(day), 0, 0, 0, 0, time.UTC)
	case since1904 || day < 1 || day > lastDay1900:
		return appendNumber(dst, v)
	case day == 60:
		return append(dst, "1900-02-29"...)
	case day < 60:
		t = time.Date(1899, 12, 31+int(day), 0, 0, 0, 0, time.UTC)
	default:
		t = time.Date(1899, 12, 30+int(day), 0, 0, 0, 0, time.UTC)
	}
	return t.AppendFormat(dst, time.DateOnly)
}

// The numbers of 9999-12-31.
const (
	lastDay1900 = 2_958_465
	lastDay1904 = lastDay1900 - 1462
)
