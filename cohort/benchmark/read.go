package benchmark

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// columns of a file of published figures, in the order in which Write writes
// them.
var columns = []string{
	"source", "joint", "procedure", "bearing", "fixation", "age_band", "sex",
	"years", "revision_pct", "lower_pct", "upper_pct", "level", "joints",
	"estimand", "period_from", "period_to", "covers", "citation", "seen_at", "seen_on",
}

var needed = []string{"source", "joint", "years", "revision_pct", "estimand", "citation"}

// mostNamed is how many headings are named in a message.
const mostNamed = 30

// maxFile is a size no table of published figures reaches.
const maxFile = 64 << 20

// Read reads a file of published figures: CSV in UTF-8, separated by commas, or
// by semicolons and then with decimal commas allowed. Lines that start with #
// may stand above the headings. The package documentation lists the columns.
//
// Series come in the order in which they first appear, their figures by years.
// Every problem found is reported, joined, each as a [*RowError]; there are no
// series then. Warnings name unknown words and columns that were kept or passed
// over. name is the file's name in messages.
func Read(r io.Reader, name string) ([]*Series, []Warning, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxFile+1))
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	p := &reader{file: name, seen: map[seriesKey]*open{}, warned: map[[2]string]bool{}, words: map[[2]string]string{}}
	p.read(data)
	if len(p.errs) == 0 && len(p.series) == 0 {
		p.fail(0, "", errors.New("no published figure in it"))
	}
	if len(p.errs) > 0 {
		return nil, p.warnings, errors.Join(p.errs...)
	}
	return p.series, p.warnings, nil
}

type reader struct {
	file         string
	decimalComma bool
	at           map[string]int // heading to field number
	heading      int            // line of the headings
	series       []*Series
	seen         map[seriesKey]*open
	warned       map[[2]string]bool
	words        map[[2]string]string // by column and cell
	warnings     []Warning
	errs         []error
}

// seriesKey is what the figures of one series have in common.
type seriesKey struct {
	source, joint, procedure, bearing, fixation, sex string
	age                                              AgeInterval
	estimand                                         Estimand
	from, to                                         int
}

// open is a series with the row of each of its figures.
type open struct {
	*Series
	first int // row of the first figure
	rows  map[float64]int
}

func (p *reader) fail(row int, column string, err error) {
	p.errs = append(p.errs, &RowError{File: p.file, Row: row, Column: column, Err: err})
}

// warn once for each column and subject.
func (p *reader) warn(row int, column, subject, text string) {
	if key := [2]string{column, subject}; !p.warned[key] {
		p.warned[key] = true
		p.warnings = append(p.warnings, Warning{File: p.file, Row: row, Column: column, Text: text})
	}
}

func (p *reader) read(data []byte) {
	if len(data) > maxFile {
		p.fail(0, "", fmt.Errorf("larger than %d MB", maxFile>>20))
		return
	}
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if !p.isText(data) {
		return
	}
	body, above := belowComments(data)
	heading, _, _ := bytes.Cut(body, []byte("\n"))
	delimiter := separator(heading)
	p.decimalComma = delimiter == ';'

	in := csv.NewReader(bytes.NewReader(body))
	in.Comma = delimiter
	in.FieldsPerRecord = -1
	in.TrimLeadingSpace = true
	in.ReuseRecord = true
	headed := false
	for {
		cells, err := in.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			// What follows a broken quotation mark can't be told apart.
			row := 0
			if pe, ok := errors.AsType[*csv.ParseError](err); ok {
				row, err = pe.StartLine+above, pe.Err
			}
			p.fail(row, "", err)
			break
		}
		line, _ := in.FieldPos(0)
		line += above
		switch {
		case !headed:
			headed = true
			if !p.headings(cells, line) {
				return
			}
		case !blank(cells):
			p.row(cells, line)
		}
	}
	if !headed && len(p.errs) == 0 {
		p.fail(0, "", errors.New("empty: no headings"))
	}
	p.finish()
}

// isText refuses what is not UTF-8 text.
func (p *reader) isText(data []byte) bool {
	line := 1
	for len(data) > 0 {
		c, size := utf8.DecodeRune(data)
		switch {
		case c == utf8.RuneError && size == 1, c == 0:
			p.fail(line, "", errors.New("not UTF-8 text"))
			return false
		case c == '\n':
			line++
		}
		data = data[size:]
	}
	return true
}

// belowComments is the text below the blank and comment lines at the top, and
// the number of those lines. A spreadsheet may have put a comment in quotation
// marks.
func belowComments(data []byte) (body []byte, above int) {
	for len(data) > 0 {
		line, rest, _ := bytes.Cut(data, []byte("\n"))
		text := bytes.Trim(line, " \t\r,;")
		if len(text) > 0 && text[0] != '#' && !bytes.HasPrefix(text, []byte(`"#`)) {
			break
		}
		data = rest
		above++
	}
	return data, above
}

// separator of a heading line: the more frequent of comma and semicolon.
func separator(heading []byte) rune {
	if bytes.Count(heading, []byte(";")) > bytes.Count(heading, []byte(",")) {
		return ';'
	}
	return ','
}

func blank(cells []string) bool {
	for _, cell := range cells {
		if strings.TrimSpace(cell) != "" {
			return false
		}
	}
	return true
}

// headings finds the columns by name.
func (p *reader) headings(cells []string, line int) bool {
	p.at, p.heading = map[string]int{}, line
	var found []string
	ok, unknown := true, 0
	for i, cell := range cells {
		name := strings.ReplaceAll(strings.ReplaceAll(fold(cell), " ", "_"), "-", "_")
		if name == "" {
			continue
		}
		found = append(found, quote(cell))
		if !slices.Contains(columns, name) {
			if unknown++; unknown <= mostNamed {
				p.warn(line, quote(cell), "", "not a column known here; passed over")
			}
			continue
		}
		if _, twice := p.at[name]; twice {
			p.fail(line, name, fmt.Errorf("%w: two columns of this name", ErrColumn))
			ok = false
			continue
		}
		p.at[name] = i
	}
	if unknown > mostNamed {
		p.warn(line, "", "", fmt.Sprintf("%d more columns not known here; passed over", unknown-mostNamed))
	}
	if len(found) > mostNamed {
		found = append(found[:mostNamed], fmt.Sprintf("and %d more", len(found)-mostNamed))
	}
	if len(p.at) == 0 {
		// Perhaps somebody's outcomes table: none of it is repeated here.
		p.warnings = nil
		p.fail(line, "", fmt.Errorf("%w: this is not a table of published figures: none of its headings is known; needed are %s", ErrColumn, strings.Join(needed, ", ")))
		return false
	}
	for _, name := range needed {
		if _, there := p.at[name]; !there {
			p.fail(line, name, fmt.Errorf("%w: needed column missing; found %s", ErrColumn, strings.Join(found, ", ")))
			ok = false
		}
	}
	p.at[""] = len(cells) // the number of fields
	return ok
}

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

// text of a cell; "" where there is no such column.
func (l *line) text(column string) string {
	if i, ok := l.at[column]; ok {
		return l.cells[i]
	}
	return ""
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

// proportion is a cell in percent; NaN where empty.
func (l *line) proportion(column string) float64 {
	text, ok := l.decimal(column)
	if !ok {
		return nan
	}
	// Moving the decimal point before rounding keeps 8.1 % at .081.
	x, err := strconv.ParseFloat(text+"e-2", 64)
	if err != nil || !(x <= 1) {
		l.wrong(column, "%s is not a percentage from 0 to 100", quote(text))
		return nan
	}
	return x
}

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
	text := l.text(column)
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
	word := strings.Join(p.alternatives, "|")
	for _, s := range p.strangers(column) {
		l.warn(l.number, column, s, fmt.Sprintf("%s is none of the words known here (%s); it meets only a table that uses it",
			quote(s), strings.Join(knownWords[column], ", ")))
		word = text // as typed
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
	for _, column := range columns {
		i, ok := p.at[column]
		if !ok {
			continue
		}
		cells[i] = clean(cells[i])
		if strings.ContainsFunc(cells[i], unicode.IsControl) {
			l.wrong(column, "a control character in it")
		}
	}
	if l.bad {
		return
	}
	s := &Series{
		Source:    l.text("source"),
		Joint:     l.word("joint"),
		Procedure: l.word("procedure"),
		Bearing:   l.word("bearing"),
		Fixation:  l.word("fixation"),
		Sex:       l.word("sex"),
		Citation:  l.text("citation"),
		User:      true,
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
	if s.Estimand, err = ParseEstimand(l.text("estimand")); err != nil {
		l.wrong("estimand", "%w", err)
	}
	s.PeriodFrom = l.whole("period_from", 1900, 2100, "a calendar year")
	s.PeriodTo = l.whole("period_to", 1900, 2100, "a calendar year")
	if s.PeriodFrom != 0 && s.PeriodTo != 0 && s.PeriodTo < s.PeriodFrom {
		l.wrong("period_to", "the period ends before it begins")
	}
	f := l.figure(s.Estimand)
	if !l.bad {
		p.add(s, f, number)
	}
}

// figure reads the numbers of a row.
func (l *line) figure(e Estimand) Figure {
	f := Figure{Covers: l.text("covers"), SeenAt: l.text("seen_at"), SeenOn: l.text("seen_on")}
	l.needed("years", l.text("years"))
	l.needed("revision_pct", l.text("revision_pct"))
	f.Years = l.number64("years", 100, "a number of years above 0, up to 100")
	before := len(l.errs)
	f.Revision = l.proportion("revision_pct")
	f.Lower = l.proportion("lower_pct")
	f.Upper = l.proportion("upper_pct")
	if len(l.errs) == before && f.Revision == f.Revision {
		l.limits(&f, e)
	}
	f.Joints = l.whole("joints", 1, 1e9, "a number of joints")
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
	return f
}

// limits checks those of a figure.
func (l *line) limits(f *Figure, e Estimand) {
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

// add puts a figure into its series.
func (p *reader) add(s *Series, f Figure, row int) {
	key := seriesKey{s.Source, fold(s.Joint), fold(s.Procedure), fold(s.Bearing), fold(s.Fixation), fold(s.Sex),
		s.Age, s.Estimand, s.PeriodFrom, s.PeriodTo}
	o := p.seen[key]
	if o == nil {
		s.order = len(p.series)
		o = &open{Series: s, first: row, rows: map[float64]int{}}
		p.seen[key] = o
		p.series = append(p.series, s)
	}
	if o.Citation != s.Citation {
		p.fail(row, "citation", fmt.Errorf("not as in row %d, which is of the same series; another paper needs a source key of its own", o.first))
	}
	if before, twice := o.rows[f.Years]; twice {
		p.fail(row, "years", fmt.Errorf("the same figure as in row %d: same source, population, estimand and years", before))
		return
	}
	o.rows[f.Years] = row
	o.Figures = append(o.Figures, f)
}

// finish sorts and checks the series as wholes.
func (p *reader) finish() {
	for _, o := range p.seen {
		slices.SortFunc(o.Figures, func(a, b Figure) int { return cmp.Compare(a.Years, b.Years) })
		for i := 1; i < len(o.Figures); i++ {
			before, f := o.Figures[i-1], o.Figures[i]
			if f.Revision < before.Revision {
				p.fail(o.rows[f.Years], "revision_pct", fmt.Errorf("lower than at %v years in row %d of the same series; cumulative revision never falls",
					before.Years, o.rows[before.Years]))
			}
		}
	}
	slices.SortStableFunc(p.errs, func(a, b error) int {
		return cmp.Compare(a.(*RowError).Row, b.(*RowError).Row)
	})
}
