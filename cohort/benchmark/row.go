package benchmark

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// line is one row being read: it collects what is wrong with it.
type line struct {
	*reader
	cells  []string
	number int
	bad    bool
}

func (l *line) wrong(column string, format string, args ...any) {
	l.bad = true
	l.fail(l.number, column, fmt.Errorf(format, args...))
}

// text of a cell; where it is empty or there is no such column, what a line
// above the headings says.
func (l *line) text(column string) string {
	if i, ok := l.at[column]; ok && l.cells[i] != "" {
		return l.cells[i]
	}
	return l.fixed[column]
}

// clean is the text of a cell with single spaces.
func clean(cell string) string {
	cell = strings.Join(strings.Fields(cell), " ")
	if len(cell) > 1 && cell[0] == '\'' && strings.IndexByte("=+-@", cell[1]) >= 0 {
		return cell[1:] // written so that no spreadsheet takes it for a formula
	}
	return cell
}

// decimal is a cell as the text of a number without sign or exponent, with a
// decimal point.
func (l *line) decimal(column string) (text string, ok bool) {
	text = l.text(column)
	if text == "" {
		return "", false
	}
	number := text
	if l.decimalComma && !strings.Contains(number, ".") {
		number = strings.Replace(number, ",", ".", 1)
	}
	if strings.Trim(number, "0123456789.") != "" || strings.Count(number, ".") > 1 || number == "." {
		l.wrong(column, "%s is not a plain number such as 4.5", quote(text))
		return "", false
	}
	return number, true
}

// mostYears is longer than any hip or knee has been followed from its operation; what is
// more was counted in months.
const mostYears = 40

// number above 0 and up to most; 0 where empty.
func (l *line) number64(column string, most float64, what string) float64 {
	text, ok := l.decimal(column)
	if !ok {
		return 0
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !(x > 0 && x <= most) {
		l.wrong(column, "%s is not %s", quote(text), what)
		return 0
	}
	return x
}

// whole number from least to most; 0 where empty.
func (l *line) whole(column string, least, most int, what string) int {
	return l.wholeOf(column, strings.ReplaceAll(l.text(column), ",", ""), least, most, what)
}

func (l *line) year(column, text string) int {
	return l.wholeOf(column, text, 1900, 2100, "a calendar year")
}

func (l *line) wholeOf(column, text string, least, most int, what string) int {
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < least || n > most || text[0] == '+' {
		l.wrong(column, "%s is not %s", quote(text), what)
		return 0
	}
	return n
}

// word is a canonical word or a pattern; "" where the attribute is open.
func (l *line) word(column string) string {
	text := l.text(column)
	if word, done := l.words[[2]string{column, text}]; done {
		return word
	}
	p, err := parsePattern(text)
	if err != nil {
		l.wrong(column, "%w", err)
		return ""
	}
	strange := p.understand(column, fold(l.text("joint")))
	word := p.String()
	for _, s := range strange {
		l.warn(l.number, column, s, fmt.Sprintf("%s is none of the words known here (%s); it meets only a table that uses it",
			quote(s), strings.Join(known(column), ", ")))
		if len(p.alternatives) == 1 {
			word = text // as typed
		}
	}
	l.words[[2]string{column, text}] = word
	return word
}

func (l *line) needed(column, value string) {
	if value == "" {
		l.wrong(column, "empty")
	}
}

// row reads one figure.
func (p *reader) row(cells []string, number int) {
	l := &line{reader: p, cells: cells, number: number}
	if want := p.at[""]; len(cells) != want {
		l.wrong("", "%d cells, and %d headings", len(cells), want)
		return
	}
	for _, column := range slices.Concat(columns, otherColumns) {
		if i, ok := p.at[column]; ok {
			l.clean(i, column)
		}
	}
	for _, w := range p.wide {
		l.clean(w.at, w.heading)
	}
	if l.bad {
		return
	}
	s := l.series()
	if len(p.wide) == 0 {
		if f := l.figure(s.Estimand); !l.bad {
			p.add(s, f, number)
		}
		return
	}
	for _, w := range p.wide {
		if cells[w.at] == "" {
			continue
		}
		own := *s
		if f := l.wideFigure(s.Estimand, w); !l.bad {
			p.add(&own, f, number)
		}
	}
}

// clean tidies a cell and refuses control characters.
func (l *line) clean(i int, column string) {
	l.cells[i] = clean(l.cells[i])
	if strings.ContainsFunc(l.cells[i], unicode.IsControl) {
		l.wrong(column, "a control character in it")
	}
}

// series reads what a row says of its population and publication.
func (l *line) series() *Series {
	s := &Series{
		Source:       l.text("source"),
		Joint:        l.word("joint"),
		Procedure:    l.word("procedure"),
		Bearing:      l.word("bearing"),
		Polyethylene: l.word("polyethylene"),
		Fixation:     l.word("fixation"),
		Sex:          l.word("sex"),
		Diagnosis:    l.word("diagnosis"),
		Country:      l.text("country"),
		Register:     l.text("register"),
		Subset:       l.text("subset"),
		Citation:     l.text("citation"),
		User:         true,
	}
	l.needed("source", s.Source)
	l.needed("joint", l.text("joint"))
	if strings.HasPrefix(s.Source, "#") {
		l.wrong("source", "a comment may stand only above the headings")
	}
	if s.Citation == "" {
		l.wrong("citation", "empty: a figure needs a citation")
	}
	var err error
	if s.Age, err = ParseAge(l.text("age_band")); err != nil {
		l.wrong("age_band", "%s: %w", quote(l.text("age_band")), err)
	}
	if s.Estimand, err = ParseMeasure(l.text("estimand")); err != nil {
		l.wrong("estimand", "%w", err)
	}
	if s.Setting, err = ParseSetting(l.text("setting")); err != nil {
		l.wrong("setting", "%w", err)
	}
	l.period(s)
	if s.PeriodFrom != 0 && s.PeriodTo != 0 && s.PeriodTo < s.PeriodFrom {
		l.wrong("period_to", "the period ends before it begins")
	}
	if s.Polyethylene == "conventional" && strings.Contains(s.Bearing, "crosslinked") {
		l.wrong("polyethylene", "conventional contradicts the bearing %s", quote(s.Bearing))
	}
	return s
}

// period reads the calendar years of operation, from two columns or from one
// such as 2003-2023.
func (l *line) period(s *Series) {
	first, last := "period_from", "period_to"
	if text := l.text("period"); text != "" && l.text(first) == "" && l.text(last) == "" {
		from, to, ok := strings.Cut(dashes.Replace(text), "-")
		if !ok {
			to = from
		}
		s.PeriodFrom = l.year("period", strings.TrimSpace(from))
		s.PeriodTo = l.year("period", strings.TrimSpace(to))
		return
	}
	s.PeriodFrom, s.PeriodTo = l.year(first, l.text(first)), l.year(last, l.text(last))
}

// figure reads the numbers of a row.
func (l *line) figure(e Measure) Figure {
	f := Figure{Covers: l.text("covers"), SeenAt: l.text("seen_at"), SeenOn: l.text("seen_on")}
	column := "revision_pct"
	if _, ok := l.at["survival_pct"]; ok {
		column = "survival_pct"
	}
	l.needed("years", l.text("years"))
	l.needed(column, l.text(column))
	f.Years = l.number64("years", mostYears, "a number of years above 0, up to 40: are these months?")
	before := len(l.errs)
	c := l.printed(column, l.text(column))
	if lower, ok := l.at["lower_pct"]; ok && l.cells[lower] != "" {
		c.lower = l.printed("lower_pct", l.cells[lower]).value
	}
	if upper, ok := l.at["upper_pct"]; ok && l.cells[upper] != "" {
		c.upper = l.printed("upper_pct", l.cells[upper]).value
	}
	l.set(&f, c, e, before, l.survival || column == "survival_pct")
	l.rest(&f)
	return f
}

// wideFigure reads a cell of a column that is a year.
func (l *line) wideFigure(e Measure, w wideColumn) Figure {
	f := Figure{Years: w.years, Covers: l.text("covers"), SeenAt: l.text("seen_at"), SeenOn: l.text("seen_on")}
	before := len(l.errs)
	l.set(&f, l.printed(w.heading, l.cells[w.at]), e, before, l.survival)
	l.rest(&f)
	return f
}

// set turns a cell into a figure, and survival over.
func (l *line) set(f *Figure, c printedCell, e Measure, errs int, survival bool) {
	v, lower, upper := c.value, c.lower, c.upper
	if survival {
		v, lower, upper = v.turned(), c.upper.turned(), c.lower.turned()
	}
	f.Revision, f.Lower, f.Upper, f.Rounding = v.proportion, lower.proportion, upper.proportion, v.half
	if len(l.errs) == errs && f.Revision == f.Revision {
		l.limits(f, e)
		f.centre(min(lower.half, upper.half))
	}
}

// rest reads what stands beside the figure.
func (l *line) rest(f *Figure) {
	f.Joints = l.whole("joints", 1, 1e9, "a number of joints")
	f.AtRisk = l.whole("at_risk", 1, 1e9, "a number at risk")
	f.Level = defaultLevel
	if text, ok := l.decimal("level"); ok {
		level, err := strconv.ParseFloat(text, 64)
		switch {
		case err == nil && level > 1 && level < 100:
			l.wrong("level", "%s: a level is written as a proportion, as 0.95 for 95 %%", quote(text))
		case err != nil || !(level > 0 && level < 1):
			l.wrong("level", "%s is not a confidence level between 0 and 1, such as 0.95", quote(text))
		}
		f.Level = level
	}
}

// limits checks those of a figure.
func (l *line) limits(f *Figure, e Measure) {
	hasLower, hasUpper := f.Lower == f.Lower, f.Upper == f.Upper
	switch {
	case !hasLower && !hasUpper:
	case e == Threshold:
		l.wrong("lower_pct", "a threshold has no limits")
	case !hasLower:
		l.wrong("lower_pct", "empty beside an upper limit; give both or neither")
	case !hasUpper:
		l.wrong("upper_pct", "empty beside a lower limit; give both or neither")
	case f.Lower > f.Revision:
		l.wrong("lower_pct", "the lower limit lies above the figure")
	case f.Upper < f.Revision:
		l.wrong("upper_pct", "the upper limit lies below the figure")
	case roundedAway(*f):
		f.Notes |= LimitsRounded
		f.PrintedLower, f.PrintedUpper = f.Lower, f.Upper
		f.Lower, f.Upper = nan, nan
	}
}

// roundedAway reports whether a limit equals its figure, other than at 0 and
// 1, where a limit may.
func roundedAway(f Figure) bool {
	return f.Lower == f.Upper || f.Lower == f.Revision && f.Revision > 0 || f.Upper == f.Revision && f.Revision < 1
}
