package command

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cohort"
)

// readingFlags are the flags that say how tables are read. Audit and check
// share them.
type readingFlags struct {
	settings       string
	closingDate    string
	ageBands       string
	where          []string
	assume         []string
	dateOrder      string
	pivot          int
	delimiter      string
	encoding       string
	revisions      []string
	deaths         []string
	deathsTo       string
	lostAfter      float64
	sheet          string
	revisionsSheet string
	deathsSheet    string
}

func (f *readingFlags) add(c *cobra.Command) {
	s := c.Flags()
	s.StringVar(&f.settings, "settings", "", "settings `FILE` (TOML); flags come before it")
	s.StringVar(&f.closingDate, "closing-date", "", "`DAY` up to which follow-up is complete, such as 2024-12-31 (default: the table's latest date)")
	s.StringVar(&f.ageBands, "age-bands", "55,65,75", "lower `AGES` of the age bands after the first")
	s.StringArrayVar(&f.where, "where", nil, "only rows with `COLUMN=VALUE`; again for another value or column")
	s.StringArrayVar(&f.assume, "assume", nil, "`COLUMN=VALUE` for a column the table lacks, such as joint=hip")
	s.StringVar(&f.dateOrder, "date-order", "", "how 3/4/2019 is read: `day-first or month-first` (default: settled by the table)")
	s.IntVar(&f.pivot, "pivot", 0, "read two-digit years: below this `NUMBER` as 20yy, else as 19yy (default: refused)")
	s.StringVar(&f.delimiter, "delimiter", "", "`CHARACTER` between cells, or tab (default: found from the file)")
	s.StringArrayVar(&f.revisions, "revisions", nil, "`FILE` of revisions, joined to the primaries by patient, joint and side; repeatable")
	s.StringArrayVar(&f.deaths, "deaths", nil, "`FILE` of deaths (patient, death_date), joined by patient; repeatable")
	s.StringVar(&f.deathsTo, "deaths-complete-to", "", "`DAY` up to which deaths are known; follow-up ends there if the closing date is later")
	s.StringVar(&f.sheet, "sheet", "", "`NAME` of the workbook's sheet (default: the only one with such headings)")
	s.StringVar(&f.revisionsSheet, "revisions-sheet", "", "`NAME` of the sheet of the same workbook that holds the revisions")
	s.StringVar(&f.deathsSheet, "deaths-sheet", "", "`NAME` of the sheet of the same workbook that holds the deaths")
	s.Float64Var(&f.lostAfter, "lost-after", 2, "`YEARS` before the closing date from which a joint last seen counts as lost")
	s.StringVar(&f.encoding, "encoding", "", "text encoding `NAME`, such as utf-8 or windows-1252 (default: found from the file)")
}

// options checks the flags, once, with the settings beneath them.
func (f *readingFlags) options(flags *pflag.FlagSet, s *settings) (cohort.Options, error) {
	o := cohort.Options{Columns: s.Columns, Words: s.Words, Missing: s.Missing, Assume: make(map[string]string)}
	text := func(flag, value, setting string) string {
		if flags.Changed(flag) || setting == "" {
			return value
		}
		return setting
	}
	setting, err := day("closing_date", s.ClosingDate)
	if err != nil {
		return o, err
	}
	if day := text("closing-date", f.closingDate, setting); day != "" {
		d, err := cohort.ParseDay(day)
		if err != nil {
			return o, usage("--closing-date: %w", err)
		}
		o.ClosingDate = &d
	}
	bands, err := numbers(f.ageBands)
	if err != nil || slices.ContainsFunc(bands, func(b float64) bool { return b != math.Trunc(b) }) {
		return o, usage("--age-bands %q: want whole ages such as 55,65,75", f.ageBands)
	}
	for _, b := range bands {
		o.AgeBands = append(o.AgeBands, int(b))
	}
	if !flags.Changed("age-bands") && s.AgeBands != nil {
		o.AgeBands = s.AgeBands
	}
	for _, w := range f.where {
		column, value, ok := strings.Cut(w, "=")
		if !ok || column == "" || value == "" {
			return o, usage("--where %q: want column=value, such as surgeon=A", w)
		}
		o.Where = append(o.Where, cohort.Condition{Column: strings.TrimSpace(column), Value: strings.TrimSpace(value)})
	}
	if f.where == nil {
		for _, column := range slices.Sorted(keys(s.Where)) {
			for _, value := range s.Where[column] {
				o.Where = append(o.Where, cohort.Condition{Column: column, Value: value})
			}
		}
	}
	for column, value := range s.Assume {
		o.Assume[column] = value
	}
	for _, a := range f.assume {
		column, value, ok := strings.Cut(a, "=")
		if !ok || column == "" || value == "" {
			return o, usage("--assume %q: want column=value, such as joint=hip", a)
		}
		o.Assume[strings.TrimSpace(column)] = strings.TrimSpace(value)
	}
	switch order := text("date-order", f.dateOrder, s.DateOrder); order {
	case "":
	case "day-first":
		o.DateOrder = cohort.DayFirst
	case "month-first":
		o.DateOrder = cohort.MonthFirst
	default:
		return o, usage("--date-order %q: want day-first or month-first", order)
	}
	switch {
	case flags.Changed("pivot"):
		o.Pivot = &f.pivot
	case s.Pivot != nil:
		o.Pivot = s.Pivot
	}
	deathsTo, err := day("deaths_complete_to", s.DeathsCompleteTo)
	if err != nil {
		return o, err
	}
	if deathsTo = text("deaths-complete-to", f.deathsTo, deathsTo); deathsTo != "" {
		d, err := cohort.ParseDay(deathsTo)
		if err != nil {
			return o, usage("--deaths-complete-to: %w", err)
		}
		o.DeathsCompleteTo = &d
	}
	years := f.lostAfter
	if !flags.Changed("lost-after") && s.LostAfterYears != nil {
		years = *s.LostAfterYears
	}
	if !(years > 0 && years <= 100) {
		return o, usage("--lost-after %v: want a number of years above 0", years)
	}
	o.LostAfter = int(math.Round(years * 365))
	o.Revisions = sources(f.revisions, s.Revisions)
	o.DeathLists = sources(f.deaths, s.Deaths)
	if name := text("sheet", f.sheet, s.Sheet); name != "" {
		o.Sheets = []string{name}
	}
	if name := text("revisions-sheet", f.revisionsSheet, s.RevisionsSheet); name != "" {
		o.Revisions = append(o.Revisions, cohort.Source{Sheet: name})
	}
	if name := text("deaths-sheet", f.deathsSheet, s.DeathsSheet); name != "" {
		o.DeathLists = append(o.DeathLists, cohort.Source{Sheet: name})
	}
	o.Encoding = text("encoding", f.encoding, s.Encoding)
	switch d := text("delimiter", f.delimiter, s.Delimiter); {
	case d == "":
	case d == "tab":
		o.Delimiter = '\t'
	case len(d) == 1:
		o.Delimiter = rune(d[0])
	default:
		return o, usage("--delimiter %q: want one character, or tab", d)
	}
	return o, nil
}

// numbers reads a list such as 1,3,5.
func numbers(s string) ([]float64, error) {
	var list []float64
	for _, part := range strings.Split(s, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return nil, fmt.Errorf("%q is not a number", part)
		}
		list = append(list, x)
	}
	return list, nil
}

// read reads the tables; "-" is standard input.
func (a *app) read(ctx context.Context, names []string, o cohort.Options) (*cohort.Cohort, error) {
	for _, list := range [][]cohort.Source{o.Revisions, o.DeathLists} {
		for i := range list {
			if list[i].Name != "" {
				continue
			}
			if len(names) != 1 || names[0] == "-" {
				return nil, usage("a sheet of the same workbook can be named for one workbook only")
			}
			list[i].Name = names[0]
		}
	}
	var sources []cohort.Source
	for i, name := range names {
		s := cohort.Source{Name: name}
		if name == "-" {
			if slices.Contains(names[:i], "-") {
				return nil, usage("standard input can be read once")
			}
			s = cohort.Source{Name: "standard input", Reader: interruptible(ctx, a.stdin)}
		} else if slices.ContainsFunc(names[:i], func(other string) bool { return sameTable(name, other) }) {
			return nil, usage("%s is named twice: its joints would be counted twice", name)
		}
		sources = append(sources, s)
	}
	p := a.progress()
	o.Progress = p.report
	defer p.clear()
	return cohort.Read(ctx, sources, o)
}

// sameTable says whether two names are of one file that is there.
func sameTable(a, b string) bool {
	_, err := os.Stat(a)
	return err == nil && sameFile(a, b)
}

// interruptible gives up waiting for a pipe or a terminal when the context
// ends. A file never waits, and is left as it is: it can be read anywhere.
func interruptible(ctx context.Context, r io.Reader) io.Reader {
	if f, ok := r.(*os.File); ok {
		info, err := f.Stat()
		if err != nil || info.Mode()&(os.ModeNamedPipe|os.ModeCharDevice|os.ModeSocket) == 0 {
			return r
		}
	}
	return &waiting{ctx: ctx, r: r}
}

type waiting struct {
	ctx    context.Context
	r      io.Reader
	buffer []byte
}

func (w *waiting) Read(p []byte) (int, error) {
	if err := w.ctx.Err(); err != nil {
		return 0, err
	}
	if len(w.buffer) < len(p) {
		w.buffer = make([]byte, len(p))
	}
	type result struct {
		n   int
		err error
	}
	done := make(chan result, 1)
	go func() {
		n, err := w.r.Read(w.buffer[:len(p)])
		done <- result{n, err}
	}()
	select {
	case <-w.ctx.Done(): // the buffer is the other's from now on
		return 0, w.ctx.Err()
	case r := <-done:
		return copy(p, w.buffer[:r.n]), r.err
	}
}

// progress tells on a terminal how far a long read has come.
type progress struct {
	w       io.Writer
	started time.Time
	shown   time.Time
}

func (a *app) progress() *progress {
	p := &progress{started: time.Now()}
	if isTerminal(a.stderr) && os.Getenv("TERM") != "dumb" {
		p.w = a.stderr
	}
	return p
}

func (p *progress) report(read, total int64) {
	now := time.Now()
	if p.w == nil || now.Sub(p.started) < time.Second || now.Sub(p.shown) < 200*time.Millisecond {
		return
	}
	p.shown = now
	const mega = 1 << 20
	if total > 0 {
		fmt.Fprintf(p.w, "\r\x1b[Kreading: %d of %d MiB", read/mega, total/mega)
	} else {
		fmt.Fprintf(p.w, "\r\x1b[Kreading: %d MiB", read/mega)
	}
}

func (p *progress) clear() {
	if !p.shown.IsZero() {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}

// sources are the files of the flags, or else of the settings.
func sources(flags, settings []string) []cohort.Source {
	if flags == nil {
		flags = settings
	}
	var all []cohort.Source
	for _, name := range flags {
		all = append(all, cohort.Source{Name: name})
	}
	return all
}
