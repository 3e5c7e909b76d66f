package command

import (
	"context"
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cmd/internal/settings"
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
	byTable        bool
	sheets         []string
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
	s.StringVar(&f.dateOrder, "date-order", "", "`ORDER` of 3/4/2019: day-first or month-first (default: settled by the table)")
	s.IntVar(&f.pivot, "pivot", 0, "read two-digit years: below this `NUMBER` as 20yy, else as 19yy (default: refused)")
	s.StringVar(&f.delimiter, "delimiter", "", "`CHARACTER` between cells, or tab (default: found from the file)")
	s.StringArrayVar(&f.revisions, "revisions", nil, "`FILE` of revisions, joined to the primaries by patient, joint and side; repeatable")
	s.StringArrayVar(&f.deaths, "deaths", nil, "`FILE` of deaths (patient, death_date), joined by patient; repeatable")
	s.StringVar(&f.deathsTo, "deaths-complete-to", "", "`DAY` up to which deaths are known; follow-up ends there if the closing date is later")
	s.BoolVar(&f.byTable, "patients-by-table", false, "each of several tables numbers its own patients: the same number in another is somebody else")
	s.StringArrayVar(&f.sheets, "sheet", nil, "`NAME` of the workbook's sheet (default: the only one with such headings); again for another, pooled; all for every one with such headings")
	s.StringVar(&f.revisionsSheet, "revisions-sheet", "", "`NAME` of the sheet of the same workbook that holds the revisions")
	s.StringVar(&f.deathsSheet, "deaths-sheet", "", "`NAME` of the sheet of the same workbook that holds the deaths")
	s.Float64Var(&f.lostAfter, "lost-after", 2, "`YEARS` before the closing date from which a joint last seen counts as lost")
	s.StringVar(&f.encoding, "encoding", "", "text encoding `NAME`, such as utf-8 or windows-1252 (default: found from the file)")
}

// lay lays the flags given over the settings read: what is then in force. The
// settings read stay as they are.
func (f *readingFlags) lay(flags *pflag.FlagSet, read *settings.Settings) (*settings.Settings, error) {
	in := *read
	in.Given = make(map[string]bool)
	flags.Visit(func(flag *pflag.Flag) { in.Given[flag.Name] = true })
	for _, text := range []struct {
		flag, value string
		setting     *string
	}{
		{"date-order", f.dateOrder, &in.DateOrder}, {"delimiter", f.delimiter, &in.Delimiter}, {"encoding", f.encoding, &in.Encoding},
		{"revisions-sheet", f.revisionsSheet, &in.RevisionsSheet}, {"deaths-sheet", f.deathsSheet, &in.DeathsSheet},
	} {
		if in.Given[text.flag] {
			*text.setting = text.value
		}
	}
	for _, files := range []struct {
		flag    string
		value   []string
		setting *[]string
	}{{"revisions", f.revisions, &in.Revisions}, {"deaths", f.deaths, &in.Deaths}} {
		if in.Given[files.flag] {
			*files.setting = files.value
		}
	}
	for _, d := range []struct {
		flag, value string
		setting     *any
	}{{"closing-date", f.closingDate, &in.ClosingDate}, {"deaths-complete-to", f.deathsTo, &in.DeathsCompleteTo}} {
		if in.Given[d.flag] {
			*d.setting = nil
			if d.value != "" {
				*d.setting = d.value
			}
		}
	}
	if in.Given["sheet"] {
		in.Sheet = nil
		if named := slices.DeleteFunc(slices.Clone(f.sheets), func(s string) bool { return s == "" }); len(named) > 0 {
			in.Sheet = named
		}
	}
	if in.Given["pivot"] {
		in.Pivot = &f.pivot
	}
	if in.Given["patients-by-table"] {
		in.PatientsByTable = &f.byTable
	}
	if in.Given["lost-after"] {
		in.LostAfterYears = &f.lostAfter
	}
	if err := f.layColumns(&in, read); err != nil {
		return nil, err
	}
	return &in, nil
}

// layColumns lays what the flags say of single columns over the settings read.
func (f *readingFlags) layColumns(in, read *settings.Settings) error {
	if in.Given["age-bands"] {
		bands, err := numbers(f.ageBands)
		if err != nil || slices.ContainsFunc(bands, func(b float64) bool { return b != math.Trunc(b) }) {
			return usage("--age-bands %q: want whole ages such as 55,65,75", f.ageBands)
		}
		in.AgeBands = nil
		for _, b := range bands {
			in.AgeBands = append(in.AgeBands, int(b))
		}
	}
	if in.Given["where"] {
		in.Where = make(map[string][]string)
		for _, w := range f.where {
			column, value, ok := selection(w)
			if !ok {
				return usage("--where %q: want column=value, such as surgeon=A, or a range of ages such as age<55", w)
			}
			in.Where[column] = append(in.Where[column], value)
		}
	}
	in.Assume = make(map[string]string)
	maps.Copy(in.Assume, read.Assume)
	for _, a := range f.assume {
		column, value, ok := condition(a)
		if !ok {
			return usage("--assume %q: want column=value, such as joint=hip", a)
		}
		in.Assume[column] = value
	}
	return nil
}

// condition parts column=value.
func condition(s string) (column, value string, ok bool) {
	column, value, ok = strings.Cut(s, "=")
	column, value = strings.TrimSpace(column), strings.TrimSpace(value)
	return column, value, ok && column != "" && value != ""
}

// selection parts column=value, and age<55, which is of the age bands.
func selection(s string) (column, value string, ok bool) {
	if at := strings.IndexAny(s, "<>"); at > 0 {
		switch strings.TrimSpace(s[:at]) {
		case "age", "age_band":
			return "age_band", strings.TrimSpace(s[at:]), true
		}
	}
	return condition(s)
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

// standardInput is what the table read from standard input is called.
const standardInput = "standard input"

// read reads the tables; "-" is standard input.
func (a *app) read(ctx context.Context, names []string, o cohort.Options) (*cohort.Cohort, error) {
	if err := settings.NameLists(names, o); err != nil {
		return nil, err
	}
	if err := noRows(names); err != nil {
		return nil, err
	}
	var sources []cohort.Source
	for i, name := range names {
		s := cohort.Source{Name: name}
		if name == "-" {
			if slices.Contains(names[:i], "-") {
				return nil, usage("standard input can be read once")
			}
			s = cohort.Source{Name: standardInput, Reader: interruptible(ctx, a.stdin)}
		} else if slices.ContainsFunc(names[:i], func(other string) bool { return sameTable(name, other) }) {
			return nil, usage("%s is named twice: its joints would be counted twice", name)
		}
		sources = append(sources, s)
	}
	p := a.progress()
	o.Memory, o.Copy = memoryLeft(), a.digests.of
	collect := sync.OnceFunc(collectNow)
	o.Progress = func(so cohort.Progress) {
		if so.Read >= much {
			collect()
		}
		p.report(so)
	}
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
