package benchmark

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort/text"
)

// unit is that of the figures of a file.
type unit uint8

const (
	unitAsked unit = iota // not said: per cent, unless every figure is below 1
	perCent
	fraction
)

// directives reads the lines "# key: value" above the headings: what holds for
// the whole file. Other comments are passed over.
func (p *reader) directives(above []byte) {
	p.fixed = map[string]string{}
	row := 0
	for line := range bytes.Lines(above) {
		row++
		text := strings.Trim(strings.TrimSpace(string(line)), `",; `)
		key, value, ok := strings.Cut(strings.TrimSpace(strings.TrimPrefix(text, "#")), ":")
		if !ok || !strings.HasPrefix(text, "#") {
			continue
		}
		key = strings.TrimSpace(key)
		value = clean(value)
		choose := func(words ...string) int {
			for i, w := range words {
				if fold(value) == w {
					return i
				}
			}
			p.fail(row, "", fmt.Errorf("# %s: %s: want %s", key, quote(value), strings.Join(words, " or ")))
			return 0
		}
		switch fold(key) {
		case "unit", "units":
			p.unit = []unit{perCent, fraction}[choose("per cent", "fraction")]
		case "figures":
			p.survival = choose("revision", "survival") == 1
			p.figuresSaid = true
		case "time":
			choose("years")
			p.timeSaid = true
		case "follow-up", "follow up":
			p.complete = choose("complete", "not complete") == 0
		default:
			if name := statedColumn(key); name != "" && !slices.Contains(ofFigures, name) {
				p.fixed[name] = value
			}
		}
	}
}

var yearHeadings = regexp.MustCompile(`^(?:at )?([0-9]+(?:\.[0-9]+)?) ?-?(?:y|yr|yrs|year|years)\.?$`)

// wideColumn is a column that is a year.
type wideColumn struct {
	at      int
	years   float64
	heading string
}

// yearHeading reads "1 yr", "3 Years", "5y".
func yearHeading(cell string) (float64, bool) {
	m := yearHeadings.FindStringSubmatch(fold(cell))
	if m == nil {
		return 0, false
	}
	years, err := strconv.ParseFloat(m[1], 64)
	return years, err == nil && years > 0 && years <= mostYears
}

// printedValue is a number as printed.
type printedValue struct {
	proportion float64 // NaN where there is none
	half       float64 // half a unit of its last digit, as a proportion
}

var noValue = printedValue{nan, math.Inf(1)}

// turned is survival for revision and the other way round, without digits that
// were not printed.
func (v printedValue) turned() printedValue {
	if v.proportion == v.proportion {
		scale := 1 / (2 * v.half)
		v.proportion = math.Round((1-v.proportion)*scale) / scale
	}
	return v
}

// printedCell is a figure, perhaps with its limits: 4.0, 4.0 %, 4.0 (3.9–4.1).
type printedCell struct{ value, lower, upper printedValue }

// typedNumber is a figure as typed, by which units are asked about.
type typedNumber struct {
	value   float64
	percent bool // has a % sign
}

var (
	withPoints = regexp.MustCompile(`^([0-9.]+) ?(%?) ?(?:[(\[] ?(?:95 ?% ?)?(?:ci)?[:, ]*([0-9.]+) ?%? ?(?:-|to|,|;) ?([0-9.]+) ?%? ?[)\]])?$`)
	withCommas = regexp.MustCompile(`^([0-9]+(?:[.,][0-9]+)?) ?(%?) ?(?:[(\[] ?(?:95 ?% ?)?(?:ci)?[:, ]*([0-9]+(?:[.,][0-9]+)?) ?%? ?(?:-|to|,|;) ?([0-9]+(?:[.,][0-9]+)?) ?%? ?[)\]])?$`)
)

// printed reads a cell of figures.
func (l *line) printed(column, text string) printedCell {
	c := printedCell{noValue, noValue, noValue}
	if text == "" {
		return c
	}
	form := withPoints
	if l.decimalComma {
		form = withCommas
	}
	m := form.FindStringSubmatch(fold(text))
	if m == nil {
		l.wrong(column, "%s is not a plain number such as 4.5, or one with limits such as 4.5 (4.1-4.9)", quote(text))
		return c
	}
	c.value = l.value(column, m[1], m[2] == "%")
	if m[3] != "" {
		c.lower, c.upper = l.value(column, m[3], m[2] == "%"), l.value(column, m[4], m[2] == "%")
	}
	if x, err := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64); err == nil && (column != "lower_pct" && column != "upper_pct") {
		l.typed = append(l.typed, typedNumber{x, m[2] == "%"})
	}
	return c
}

// value is one number.
func (l *line) value(column, text string, percent bool) printedValue {
	number := strings.Replace(text, ",", ".", 1)
	exponent := -2
	if l.unit == fraction && !percent {
		exponent = 0
	}
	// Moving the decimal point before rounding keeps 8.1 % at .081.
	x, err := strconv.ParseFloat(fmt.Sprintf("%se%d", number, exponent), 64)
	switch {
	case err != nil:
		l.wrong(column, "%s is not a plain number such as 4.5", quote(text))
		return noValue
	case !(x <= 1) && exponent == 0:
		l.wrong(column, "%s is not a fraction from 0 to 1", quote(text))
		return noValue
	case !(x <= 1):
		l.wrong(column, "%s is not a percentage from 0 to 100", quote(text))
		return noValue
	}
	_, decimals, _ := strings.Cut(number, ".")
	half, _ := strconv.ParseFloat(fmt.Sprintf("5e%d", exponent-1-len(decimals)), 64)
	return printedValue{x, half}
}

// askUnits refuses figures that are fractions typed where per cent are wanted,
// or survival where revision is, unless the file says what they are.
func (p *reader) askUnits() {
	if len(p.errs) > 0 {
		return
	}
	below1, above50, some := true, len(p.typed) > 0 && !p.figuresSaid && !p.survival, false
	for _, t := range p.typed {
		below1 = below1 && t.value < 1 && !t.percent
		some = some || t.value > 0
		above50 = above50 && t.value > 50
	}
	if _, ok := p.at["survival_pct"]; ok {
		above50 = false
	}
	if below1 && some && p.unit == unitAsked {
		p.fail(0, "", errors.New(`every figure is below 1 and none has a % sign: are they per cent or fractions? Write "# unit: per cent" or "# unit: fraction" above the headings`))
	}
	if !below1 && p.unit == unitAsked {
		p.askFractions()
	}
	if above50 {
		p.fail(0, "", errors.New(`every figure is above 50: is it survival? Then call the column survival_pct, or write "# figures: survival" above the headings; if not, write "# figures: revision"`))
	}
}

// askFractions refuses a figure among others in per cent that is a fraction by the look of it: of no
// joint are fewer than 1 of 1,000 revised within three years (from memory).
func (p *reader) askFractions() {
	for _, o := range p.seen {
		for _, f := range o.Figures {
			if f.Years >= 3 && f.Revision > 0 && f.Revision < .001 {
				p.fail(o.rows[f.Years], "revision_pct", fmt.Errorf("below 0.1 %% at %s, in a file of figures in per cent: is it a fraction? Write it in per cent, or \"# unit: per cent\" above the headings if it is", text.InYears(f.Years)))
			}
		}
	}
}

// askTime refuses years that are months by the look of them, 12, 24 and 36, unless the file
// says what they are. Columns headed as years say so.
func (p *reader) askTime() {
	if len(p.errs) > 0 || p.timeSaid || len(p.wide) > 0 {
		return
	}
	var years []float64
	for _, s := range p.series {
		for _, f := range s.Figures {
			if math.Mod(f.Years, 12) != 0 {
				return
			}
			if !slices.Contains(years, f.Years) {
				years = append(years, f.Years)
			}
		}
	}
	if len(years) > 1 {
		p.fail(0, "years", errors.New(`every one is a multiple of 12: are these months? Give them in years, or write "# time: years" above the headings if they are`))
	}
}

// centre finds what a reading takes as the estimate where it is printed coarser
// than its limits, or lies off their centre by more than a quarter of its last
// digit: the centre of the limits on the scale of log(−log S),
//
//	1 − exp(−exp(½(ln(−ln(1−L)) + ln(−ln(1−U)))))
//
// kept within half a unit of what is printed.
func (f *Figure) centre(limits float64) {
	if !f.HasLimits() || !(f.Lower > 0 && f.Upper < 1) || f.Rounding == 0 {
		return
	}
	mean := float64(0.5 * (math.Log(-math.Log1p(-f.Lower)) + math.Log(-math.Log1p(-f.Upper))))
	c := -math.Expm1(-math.Exp(mean))
	if f.Rounding > limits*1.5 || math.Abs(c-f.Revision) > f.Rounding/2 {
		f.Centre = max(f.Revision-f.Rounding, min(f.Revision+f.Rounding, c))
	}
}

// ParseFigure reads a figure as it is printed, in per cent: 5, 4.0 %, 4.0 (3.9–4.1).
func ParseFigure(text string) (Figure, error) {
	l := &line{reader: &reader{unit: perCent}}
	f := Figure{Level: defaultLevel, Lower: nan, Upper: nan}
	c := l.printed("", text)
	if text == "" {
		l.wrong("", "empty")
	}
	l.set(&f, c, OneMinusKaplanMeier, 0, false)
	if len(l.errs) > 0 {
		return f, l.errs[0].(*RowError).Err
	}
	return f, nil
}
