package dates

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

var epoch = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)

// at counts days with package time, which shares nothing with this package.
func at(y, m, d int) int32 {
	return int32(time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC).Sub(epoch) / (24 * time.Hour))
}

// The expected dates are read off the cells by hand; day numbers come from
// package time.
func TestParseSettled(t *testing.T) {
	april3 := at(2019, 4, 3)
	for _, test := range []struct {
		cell string
		want int32
	}{
		{"2019-04-03", april3},
		{" 2019-04-03\t", april3},
		{"\u00a02019-04-03\u00a0", april3},
		{"\u202f2019-04-03\u202f", april3},
		{"2019-4-3", april3},
		{"2019-04-3", april3},
		{"2019/04/03", april3},
		{"2019.04.03", april3},
		{"2019 - 04 - 03", april3},
		{"20190403", april3},
		{"20190403.0", april3},
		{"20190403T101500", april3},
		{"2019-04-03T00:00:00", april3},
		{"2019-04-03T23:59:59.999Z", april3},
		{"2019-04-03T23:59:59,999+02:00", april3},
		{"2019-04-03 00:00", april3},
		{"2019-04-03 00:00:00 UTC", april3},
		{"2019-04-03 00:00:00 +0100", april3},
		{"2019-04-03 00:00:00-05", april3},
		{"2019-04-03 11:00 PM", april3},
		{"2019-04-03 11:00pm CET", april3},
		{"3-Apr-2019", april3},
		{"03-APR-2019", april3},
		{"3 April 2019", april3},
		{"3\u00a0April\u00a02019", april3},
		{"3. April 2019", april3},
		{"3/Apr/2019", april3},
		{"3rd April 2019", april3},
		{"3RD APRIL 2019", april3},
		{"Apr 3, 2019", april3},
		{"3 de abril de 2019", april3},
		{"3 abril de 2019", april3},
		{"April 3 2019", april3},
		{"April 3rd, 2019", april3},
		{"Apr. 3, 2019", april3},
		{"03Apr2019", april3},
		{"3 Apr 2019 14:05", april3},
		{"2019-Apr-03", april3},
		{"2019 April 3", april3},
		{"Wednesday, 3 April 2019", april3},
		{"Wed 3 Apr 2019", april3},
		{"3 avril 2019", april3},
		{"1st Sept 2020", at(2020, 9, 1)},
		{"2nd March 2020", at(2020, 3, 2)},
		{"3. März 2019", at(2019, 3, 3)},
		{"3. MÄRZ 2019", at(2019, 3, 3)},
		{"1 août 2019", at(2019, 8, 1)},
		{"1. desember 2019", at(2019, 12, 1)},
		{"5/5/2019", at(2019, 5, 5)},
		{"05.05.2019", at(2019, 5, 5)},
		{"29 Feb 2020", at(2020, 2, 29)},
		{"1900-01-01", at(1900, 1, 1)},
		{"2199-12-31", at(2199, 12, 31)},
		// The 1900 system counts 1970-01-01 as 25569; 43558 is 17989 days on.
		{"43558", april3},
		{"43558.0", april3},
		{"43558.75", april3},
		{"43558,75", april3},
		{"43558.", april3},
		{"10000", at(1927, 5, 18)},
		{"109574", at(2199, 12, 31)},
	} {
		raw := Parse([]byte(test.cell), Options{})
		for _, o := range []Order{OrderUnknown, DayFirst, MonthFirst} {
			got, err := raw.Day(o)
			if err != nil || got != test.want {
				t.Errorf("%q, %v: got %s, %v; want %s", test.cell, o, ISO(got), err, ISO(test.want))
			}
		}
		if e := raw.Evidence(); e != None {
			t.Errorf("%q: evidence %v, want none", test.cell, e)
		}
		if raw.Bad() {
			t.Errorf("%q: Bad", test.cell)
		}
		if raw != Of(test.want) {
			t.Errorf("%q: differs from Of(%d)", test.cell, test.want)
		}
	}
}

func TestParseOpenOrder(t *testing.T) {
	const bad = math.MinInt32
	pivot := Options{PivotSet: true, Pivot: 30}
	for _, test := range []struct {
		cell                 string
		options              Options
		evidence             Evidence
		dayFirst, monthFirst int32 // bad: no such day
	}{
		{"3/4/2019", Options{}, Either, at(2019, 4, 3), at(2019, 3, 4)},
		{"03.04.2019", Options{}, Either, at(2019, 4, 3), at(2019, 3, 4)},
		{"03-04-2019", Options{}, Either, at(2019, 4, 3), at(2019, 3, 4)},
		{"3. 4. 2019", Options{}, Either, at(2019, 4, 3), at(2019, 3, 4)},
		{"3/4/2019 00:00", Options{}, Either, at(2019, 4, 3), at(2019, 3, 4)},
		{"3/4/2019 12:00:00 AM", Options{}, Either, at(2019, 4, 3), at(2019, 3, 4)},
		{"12/11/2019", Options{}, Either, at(2019, 11, 12), at(2019, 12, 11)},
		{"13/4/2019", Options{}, OnlyDayFirst, at(2019, 4, 13), bad},
		{"4/13/2019", Options{}, OnlyMonthFirst, bad, at(2019, 4, 13)},
		{"29/2/2020", Options{}, OnlyDayFirst, at(2020, 2, 29), bad},
		{"2/29/2020", Options{}, OnlyMonthFirst, bad, at(2020, 2, 29)},
		{"31/12/2199", Options{}, OnlyDayFirst, at(2199, 12, 31), bad},
		{"3/4/19", pivot, Either, at(2019, 4, 3), at(2019, 3, 4)},
		{"3/4/29", pivot, Either, at(2029, 4, 3), at(2029, 3, 4)},
		{"3/4/30", pivot, Either, at(1930, 4, 3), at(1930, 3, 4)},
		{"3/4/99", Options{PivotSet: true}, Either, at(1999, 4, 3), at(1999, 3, 4)},
		{"3/4/99", Options{PivotSet: true, Pivot: 100}, Either, at(2099, 4, 3), at(2099, 3, 4)},
	} {
		raw := Parse([]byte(test.cell), test.options)
		if got := raw.Evidence(); got != test.evidence {
			t.Errorf("%q: evidence %v, want %v", test.cell, got, test.evidence)
		}
		if _, err := raw.Day(OrderUnknown); err != ErrOrderUnknown {
			t.Errorf("%q without an order: %v, want %v", test.cell, err, ErrOrderUnknown)
		}
		for o, want := range map[Order]int32{DayFirst: test.dayFirst, MonthFirst: test.monthFirst} {
			got, err := raw.Day(o)
			if want == bad {
				if err != ErrImpossible || got != 0 {
					t.Errorf("%q, %v: got %d, %v; want %v", test.cell, o, got, err, ErrImpossible)
				}
			} else if err != nil || got != want {
				t.Errorf("%q, %v: got %s, %v; want %s", test.cell, o, ISO(got), err, ISO(want))
			}
		}
	}
}

func TestParseTwoDigitNamed(t *testing.T) {
	pivot := Options{PivotSet: true, Pivot: 30}
	for cell, want := range map[string]int32{
		"3-Apr-19":    at(2019, 4, 3),
		"3-Apr-29":    at(2029, 4, 3),
		"Apr 3, 30":   at(1930, 4, 3),
		"03Apr99":     at(1999, 4, 3),
		"3 April '19": 0, // an apostrophe is not read
	} {
		got, err := Parse([]byte(cell), pivot).Day(OrderUnknown)
		if want == 0 {
			if err != ErrNotADate {
				t.Errorf("%q: %v, want %v", cell, err, ErrNotADate)
			}
		} else if err != nil || got != want {
			t.Errorf("%q: got %s, %v; want %s", cell, ISO(got), err, ISO(want))
		}
	}
}

func TestParseRefused(t *testing.T) {
	for _, test := range []struct {
		want  error
		cells []string
	}{
		{ErrMissing, []string{"", " ", "\t\r\n", "\u00a0", " \u00a0\u202f"}},
		{ErrNotADate, []string{
			"2019", "19", "3", "April 2019", "Apr 19", "2019-04", "3/4", "04/2019", "April", "Wednesday",
			"65", "999", "9999", "09999", "109575", "200000", "043558", "1234567", "123456789", "12345678", "99999999999999999999999",
			"43558.7x", "43558x", "43558-1", "-43558", "43558.5.5", "4.3558e4", "03042019", "190403x",
			"2019-04-03x", "2019-04-03 left", "2019-04-03 ?", "2019-04-03 to 2019-05-03", "2019-04-03T", "2019-04-03 24:00",
			"2019-04-03 1", "2019-04-03 10:60", "2019-04-03 10:5", "2019-04-03 10:00:61", "2019-04-03 10:00 LEFT", "2019-04-03 10:00+15:00",
			"2019-04/03", "3/4-2019", "3/4/2019/5", "3/4/019", "3/4/9", "3/4/02019", "123/4/2019", "3/123/2019", "2019/04/003",
			"3 4 2019", "3 Apl 2019", "3 April", "3 April 2019 x", "3 Apr Apr 2019", "3 April 2019 April", "April May 2019",
			"3 Wed April 2019", "-3 Apr 2019", "333 April 2019", "3 April 019", "12345 April 2019", "3 Aprilaprilaprilapril 2019",
			"n/a", "unknown", "none", "?", "-", ".", "/", "//", "- -", "about 2019-04-03", "\x00", "\xff\xfe", "\xc2", "3\xc2", "3 \xc3 2019",
		}},
		{ErrImpossible, []string{
			"2019-02-31", "2019-13-01", "2019-00-10", "2019-10-00", "2019-02-29", "2100-02-29", "1900-02-29",
			"31/2/2019", "2/31/2019", "13/13/2019", "0/5/2019", "5/0/2019", "0/0/2019", "29/2/2019", "32/1/2019", "99/99/2019",
			"31 Feb 2019", "31 April 2019", "0 April 2019", "20190231", "20191301", "99/99/99", "31/2/19", "31-Feb-19",
			"2019/13/04",
		}},
		{ErrTwoDigitYear, []string{"3/4/19", "13/4/19", "03.04.19", "19-04-03", "3-Apr-19", "03Apr19", "Apr 3, 19", "29/2/19"}},
		{ErrOutOfRange, []string{"1899-12-31", "2200-01-01", "0219-04-03", "9999-12-31", "3/4/1066", "13/4/2919", "3 April 1066", "0000-00-00"}},
	} {
		for _, cell := range test.cells {
			raw := Parse([]byte(cell), Options{})
			for _, o := range []Order{OrderUnknown, DayFirst, MonthFirst} {
				if got, err := raw.Day(o); err != test.want || got != 0 {
					t.Errorf("%q, %v: got %d, %v; want %v", cell, o, got, err, test.want)
				}
			}
			if e := raw.Evidence(); e != None {
				t.Errorf("%q: evidence %v, want none", cell, e)
			}
			if raw.Bad() == (test.want == ErrMissing) {
				t.Errorf("%q: Bad is %v", cell, raw.Bad())
			}
			if (raw == Missing) != (test.want == ErrMissing) {
				t.Errorf("%q: missing is %v", cell, raw == Missing)
			}
		}
	}
}

func TestEveryDay(t *testing.T) {
	for day := int32(minDay); day <= maxDay; day++ {
		want := epoch.AddDate(0, 0, int(day))
		y, m, d := YMD(day)
		if y != want.Year() || m != int(want.Month()) || d != want.Day() {
			t.Fatalf("YMD(%d) = %d-%d-%d, package time says %s", day, y, m, d, want.Format(time.DateOnly))
		}
		if got, ok := FromYMD(y, m, d); !ok || got != day {
			t.Fatalf("FromYMD(%d, %d, %d) = %d, %v, want %d", y, m, d, got, ok, day)
		}
		iso := ISO(day)
		if iso != want.Format(time.DateOnly) {
			t.Fatalf("ISO(%d) = %s, package time says %s", day, iso, want.Format(time.DateOnly))
		}
		if got, err := Parse([]byte(iso), Options{}).Day(OrderUnknown); err != nil || got != day {
			t.Fatalf("Parse(%s) = %d, %v, want %d", iso, got, err, day)
		}
	}
}

func TestBounds(t *testing.T) {
	if at(MinYear, 1, 1) != minDay || at(MaxYear, 12, 31) != maxDay {
		t.Errorf("bounds are %d to %d, package time says %d to %d", minDay, maxDay, at(MinYear, 1, 1), at(MaxYear, 12, 31))
	}
	for _, day := range []int32{minDay - 1, maxDay + 1, math.MinInt32, math.MaxInt32} {
		if got, err := Of(day).Day(DayFirst); err != ErrOutOfRange || got != 0 {
			t.Errorf("Of(%d).Day = %d, %v, want %v", day, got, err, ErrOutOfRange)
		}
	}
	for _, ymd := range [][3]int{{1899, 12, 31}, {2200, 1, 1}, {2019, 0, 1}, {2019, 13, 1}, {2019, 1, 0}, {2019, 1, 32}, {2019, 2, 29}, {2019, -1, -1}} {
		if day, ok := FromYMD(ymd[0], ymd[1], ymd[2]); ok || day != 0 {
			t.Errorf("FromYMD(%v) = %d, %v, want 0, false", ymd, day, ok)
		}
	}
}

// Every day for a thousand years before and after is of one March year, by whichever way
// it is found.
func TestMarchYear(t *testing.T) {
	for day := int32(-365_000); day < 365_000; day++ {
		y, d := marchYear(day)
		if year, of := anyMarchYear(day); year != y || of != d {
			t.Fatalf("day %d: year %d, day %d; by eras year %d, day %d", day, y, d, year, of)
		}
	}
}

// Far days are compared with package time, which knows them too.
func TestISOFarDays(t *testing.T) {
	for _, day := range []int32{math.MinInt32, -719529, -719528, -719469, -719468, 2932896, 2932897, math.MaxInt32} {
		want := epoch.AddDate(0, 0, int(day))
		y, m, d := YMD(day)
		if y != want.Year() || m != int(want.Month()) || d != want.Day() {
			t.Errorf("YMD(%d) = %d-%d-%d, package time says %v", day, y, m, d, want)
		}
	}
	for day, want := range map[int32]string{-719528: "0000-01-01", 2932896: "9999-12-31", 2932897: "10000-01-01", -719529: "-1-12-31"} {
		if got := ISO(day); got != want {
			t.Errorf("ISO(%d) = %s, want %s", day, got, want)
		}
	}
	if got := string(AppendISO([]byte("on "), 0)); got != "on 1970-01-01" {
		t.Errorf("AppendISO gave %q", got)
	}
}

// Counted by hand.
func TestCompletedYears(t *testing.T) {
	for _, test := range []struct {
		from, to string
		want     int
	}{
		{"1950-06-15", "2015-06-14", 64},
		{"1950-06-15", "2015-06-15", 65},
		{"1950-06-15", "2015-06-16", 65},
		{"1950-06-15", "1950-06-15", 0},
		{"1950-06-15", "1951-06-14", 0},
		{"1950-06-15", "1950-06-14", -1},
		{"1950-06-15", "1949-06-15", -1},
		{"1950-06-15", "1949-06-14", -2},
		{"1948-02-29", "2015-02-28", 66},
		{"1948-02-29", "2015-03-01", 67},
		{"1948-02-29", "2016-02-28", 67},
		{"1948-02-29", "2016-02-29", 68},
		{"1948-02-28", "2015-02-28", 67},
		{"1948-03-01", "2016-02-29", 67},
	} {
		from, err1 := Parse([]byte(test.from), Options{}).Day(OrderUnknown)
		to, err2 := Parse([]byte(test.to), Options{}).Day(OrderUnknown)
		if err := errors.Join(err1, err2); err != nil {
			t.Fatal(err)
		}
		if got := CompletedYears(from, to); got != test.want {
			t.Errorf("CompletedYears(%s, %s) = %d, want %d", test.from, test.to, got, test.want)
		}
	}
}

// Years are counted as the calendar's months and days tell.
func TestCompletedYearsByCalendar(t *testing.T) {
	r := rand.New(rand.NewPCG(19, 48))
	for range 100_000 {
		from, to := r.Int32N(150_000)-60_000, r.Int32N(150_000)-60_000
		y1, m1, d1 := YMD(from)
		y2, m2, d2 := YMD(to)
		want := y2 - y1
		if m2 < m1 || m2 == m1 && d2 < d1 {
			want--
		}
		if got := CompletedYears(from, to); got != want {
			t.Fatalf("CompletedYears(%s, %s) = %d, want %d", ISO(from), ISO(to), got, want)
		}
	}
}

// Any Raw, even one that Parse never makes, answers without a panic.
func TestAnyRaw(t *testing.T) {
	for i := int64(math.MinInt32); i <= math.MaxInt32; i += 9973 {
		r := Raw(i)
		for _, o := range []Order{OrderUnknown, DayFirst, MonthFirst, 9} {
			if day, err := r.Day(o); err != nil && day != 0 {
				t.Fatalf("Raw %d, %v: day %d with error %v", i, o, day, err)
			}
		}
		if e := r.Evidence(); e > Either {
			t.Fatalf("Raw %d: evidence %d", i, e)
		}
	}
}

func TestParseAllocates(t *testing.T) {
	for _, cell := range []string{"2019-04-03", "2019-04-03T00:00:00Z", "13/4/2019", "3rd April 2019", "43558.5", "n/a", ""} {
		c := []byte(cell)
		if n := testing.AllocsPerRun(100, func() { Parse(c, Options{}) }); n != 0 {
			t.Errorf("%q: %v allocations, want none", cell, n)
		}
	}
}

// An ISO cell is read as package time reads it; whatever day a cell gives is
// inside the bounds and comes back from its ISO form; space around a cell
// changes nothing; the evidence says which orders give a day.
func FuzzParse(f *testing.F) {
	for _, cell := range []string{
		"2019-04-03", "2019-02-29", "3/4/2019", "13/4/2019", "4/13/19", "3 April 2019", "Apr 3rd, 19", "20190403T1015",
		"43558.5", "2019-04-03T23:59:59.5+02:00", "\u00a03.4.2019 12:00 am", "31/2/2019", "99999999999", "Mon, 1 août 2019", "2019-04- 3", "",
	} {
		f.Add([]byte(cell), true, 30)
	}
	f.Fuzz(func(t *testing.T, cell []byte, pivotSet bool, pivot int) {
		o := Options{PivotSet: pivotSet, Pivot: pivot}
		raw := Parse(cell, o)
		if padded := Parse([]byte(" \u00a0"+string(cell)+"\t"), o); padded != raw {
			t.Errorf("%q: %x, with space around it %x", cell, raw, padded)
		}
		if again := raw.Pack().Raw(); again != raw {
			t.Errorf("%q: %x, packed %x", cell, raw, again)
		}
		day, errD := raw.Day(DayFirst)
		other, errM := raw.Day(MonthFirst)
		for _, got := range []struct {
			day int32
			err error
		}{{day, errD}, {other, errM}} {
			switch got.err {
			case nil:
				if again, err := Parse([]byte(ISO(got.day)), Options{}).Day(OrderUnknown); err != nil || again != got.day {
					t.Errorf("%q: %s comes back as %d, %v", cell, ISO(got.day), again, err)
				}
			case ErrMissing, ErrNotADate, ErrImpossible, ErrTwoDigitYear, ErrOutOfRange:
			default:
				t.Errorf("%q: unexpected error %v", cell, got.err)
			}
		}
		var want Evidence
		switch {
		case errD == nil && errM == nil && day != other:
			want = Either
		case errD == nil && errM != nil:
			want = OnlyDayFirst
		case errD != nil && errM == nil:
			want = OnlyMonthFirst
		}
		if got := raw.Evidence(); got != want {
			t.Errorf("%q: evidence %v, want %v", cell, got, want)
		}
		if len(cell) != 10 || cell[4] != '-' || cell[7] != '-' {
			return
		}
		when, err := time.Parse(time.DateOnly, string(cell))
		inRange := err == nil && when.Year() >= MinYear && when.Year() <= MaxYear
		if inRange && (errD != nil || day != at(when.Year(), int(when.Month()), when.Day())) {
			t.Errorf("%q: got %s, %v; package time says %v", cell, ISO(day), errD, when)
		}
		spaced := bytes.ContainsAny(cell, " \t\r\n\v\f") // 2019-04- 3 is accepted here only
		if !inRange && errD == nil && !spaced {
			t.Errorf("%q: got %s; package time says %v, %v", cell, ISO(day), when, err)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for _, bench := range []struct{ name, cell string }{
		{"iso", "2019-04-03"}, {"isotime", "2019-04-03T00:00:00"}, {"numeric", "13/04/2019"},
		{"named", "3-Apr-2019"}, {"serial", "43558"}, {"empty", ""},
	} {
		b.Run("cell="+bench.name, func(b *testing.B) {
			cell := []byte(bench.cell)
			b.ReportAllocs()
			for b.Loop() {
				sink = Parse(cell, Options{})
			}
		})
	}
}

func BenchmarkDay(b *testing.B) {
	for _, bench := range []struct{ name, cell string }{{"settled", "2019-04-03"}, {"pair", "13/04/2019"}} {
		b.Run("cell="+bench.name, func(b *testing.B) {
			raw := Parse([]byte(bench.cell), Options{})
			for b.Loop() {
				sinkDay, _ = raw.Day(DayFirst)
			}
		})
	}
}

var (
	sink    Raw
	sinkDay int32
)
