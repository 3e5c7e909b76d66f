package columnar

import (
	"bytes"
	"math"
	"strconv"
	"time"
	"unicode/utf8"
)

// appendDate appends the ISO date of a day counted from 1970-01-01.
func appendDate(dst []byte, day int64) []byte {
	// Days to civil date by 400-year eras of 146,097 days, years starting in
	// March so that the leap day comes last.
	const era = 146097
	z := day + 719468 // from 0000-03-01
	e := floorDiv(z, era)
	doe := z - e*era
	yoe := (doe - doe/1460 + doe/36524 - doe/(era-1)) / 365
	y := yoe + e*400
	doy := doe - (365*yoe + yoe/4 - yoe/100)
	mp := (5*doy + 2) / 153
	d := doy - (153*mp+2)/5 + 1
	m := mp + 3
	if m > 12 {
		m -= 12
		y++
	}
	if y < 0 || y > 9999 {
		return append(strconv.AppendInt(dst, y, 10), '-', byte('0'+m/10), byte('0'+m%10), '-', byte('0'+d/10), byte('0'+d%10))
	}
	return append(dst,
		byte('0'+y/1000), byte('0'+y/100%10), byte('0'+y/10%10), byte('0'+y%10), '-',
		byte('0'+m/10), byte('0'+m%10), '-', byte('0'+d/10), byte('0'+d%10))
}

func dayText(dst []byte, day int32) []byte { return appendDate(dst, int64(day)) }

func wholeText(dst []byte, n int64) []byte { return strconv.AppendInt(dst, n, 10) }

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// appendMoment appends the date of a moment counted from 1970 in units of
// which perSecond make a second, in the zone, or as counted if zone is nil.
func appendMoment(dst []byte, v, perSecond int64, zone *time.Location) []byte {
	seconds := floorDiv(v, perSecond)
	if zone != nil {
		_, offset := time.Unix(seconds, 0).In(zone).Zone()
		seconds += int64(offset)
	}
	return appendDate(dst, floorDiv(seconds, 86400))
}

// appendTime appends a time of day as hh:mm:ss.
func appendTime(dst []byte, v, perSecond int64) []byte {
	s := v / perSecond
	two := func(dst []byte, n int64) []byte { return append(dst, byte('0'+n/10%10), byte('0'+n%10)) }
	dst = append(two(dst, s/3600), ':')
	dst = append(two(dst, s/60%60), ':')
	return two(dst, s%60)
}

// appendFloat appends the shortest text that gives v back; nothing for NaN.
func appendFloat(dst []byte, v float64, bits int) []byte {
	if math.IsNaN(v) {
		return dst
	}
	form := byte('f')
	if a := math.Abs(v); a != 0 && (a < 1e-6 || a >= 1e15) {
		form = 'g'
	}
	return strconv.AppendFloat(dst, v, form, -1, bits)
}

func appendBool(dst []byte, v bool) []byte {
	if v {
		return append(dst, "yes"...)
	}
	return append(dst, "no"...)
}

// appendScaled puts a decimal point into the whole number at the end of dst,
// which starts at from, scale digits from its end.
func appendScaled(dst []byte, from int, scale int) []byte {
	if scale <= 0 {
		for ; scale < 0; scale++ {
			dst = append(dst, '0')
		}
		return dst
	}
	if dst[from] == '-' {
		from++
	}
	for len(dst)-from <= scale {
		dst = append(dst, 0)
		copy(dst[from+1:], dst[from:])
		dst[from] = '0'
	}
	point := len(dst) - scale
	dst = append(dst, 0)
	copy(dst[point+1:], dst[point:])
	dst[point] = '.'
	return dst
}

// Valid returns text with bytes that are not UTF-8 replaced.
func Valid(text []byte) []byte {
	if utf8.Valid(text) {
		return text
	}
	return bytes.ToValidUTF8(text, []byte("\ufffd"))
}
