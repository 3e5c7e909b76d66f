package benchmark

import (
	"bytes"
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"example.org/holdfast/cohort/text"
)

// mostNamed is how many headings are named in a message.
const mostNamed = 30

// maxFile is a size no table of published figures reaches.
const maxFile = 64 << 20

// Read reads a file of published figures: CSV in UTF-8, separated by commas, or
// by semicolons and then with decimal commas allowed, long with a row for each
// figure, or wide with a column for each year. The package documentation says
// which columns there are and what may stand in lines above the headings.
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
	at           map[string]int    // heading to field number
	heading      int               // line of the headings
	fixed        map[string]string // by column, what a line above the headings says for the whole file
	wide         []wideColumn      // columns that are years
	unit         unit
	survival     bool // the figures are of survival
	figuresSaid  bool // whether of survival or revision has been said
	complete     bool // follow-up is complete
	timeSaid     bool // that time is in years has been said
	typed        []typedNumber
	series       []*Series
	seen         map[seriesKey]*open
	warned       map[[2]string]bool
	words        map[[2]string]string // by column and cell
	warnings     []Warning
	errs         []error
}

// seriesKey is what the figures of one series have in common.
type seriesKey struct {
	source, joint, procedure, bearing, polyethylene, fixation, sex, diagnosis string
	setting                                                                   Setting
	country, register, subset                                                 string
	age                                                                       AgeInterval
	estimand                                                                  Measure
	from, to                                                                  int
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
	p.directives(data[:len(data)-len(body)])
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
	p.askUnits()
	p.askTime()
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
		if fold(cell) == "" {
			continue
		}
		found = append(found, quote(cell))
		if years, ok := yearHeading(cell); ok {
			p.wide = append(p.wide, wideColumn{i, years, cell})
			continue
		}
		name := columnNamed(cell)
		if name == "" {
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
	if len(p.at) == 0 && len(p.wide) == 0 {
		// Perhaps somebody's outcomes table: none of it is repeated here.
		p.warnings = nil
		p.fail(line, "", fmt.Errorf("%w: this is not a table of published figures: none of its headings is known; needed are %s", ErrColumn, strings.Join(needed, ", ")))
		return false
	}
	for _, name := range needed {
		_, there := p.at[name]
		switch name {
		case "years":
			there = there != (len(p.wide) > 0)
		case "revision_pct":
			_, survival := p.at["survival_pct"]
			there = there != survival || len(p.wide) > 0 && !there
		default:
			there = there || p.fixed[name] != ""
		}
		if !there {
			p.fail(line, name, fmt.Errorf("%w: needed column missing; found %s", ErrColumn, strings.Join(found, ", ")))
			ok = false
		}
	}
	p.at[""] = len(cells) // the number of fields
	return ok
}

// add puts a figure into its series.
func (p *reader) add(s *Series, f Figure, row int) {
	key := seriesKey{s.Source, fold(s.Joint), fold(s.Procedure), fold(s.Bearing), fold(s.Polyethylene), fold(s.Fixation), fold(s.Sex),
		fold(s.Diagnosis), s.Setting, fold(s.Country), fold(s.Register), fold(s.Subset), s.Age, s.Estimand, s.PeriodFrom, s.PeriodTo}
	o := p.seen[key]
	if o == nil {
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
				p.fail(o.rows[f.Years], "revision_pct", fmt.Errorf("lower than at %s in row %d of the same series; cumulative revision never falls",
					text.InYears(before.Years), o.rows[before.Years]))
			}
		}
		o.Series.fromAtRisk(p.complete)
	}
	slices.SortStableFunc(p.errs, func(a, b error) int {
		return cmp.Compare(a.(*RowError).Row, b.(*RowError).Row)
	})
}
