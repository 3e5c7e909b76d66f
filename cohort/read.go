package cohort

import (
	"context"
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"math"
	"runtime"
	"slices"
	"sort"
	"strings"
	"sync"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/words"
)

// ErrNoUsableRow says that every row of the tables was set aside, or that they
// have none.
var ErrNoUsableRow = errors.New("no row can be used")

// Source is one table to read.
type Source struct {
	Name   string    // as it is to be named in messages
	Reader io.Reader // nil: the file called Name
	Sheet  string    // of a workbook; "" is each of Options.Sheets for primaries, and else found
}

// Read reads and checks tables. The rows are streamed: memory grows by about
// 60 bytes a row. Errors are about the tables as wholes (no such file, not
// decodable, no usable row, a needed column missing, [*MissingColumnError],
// [*TwoColumnsError], [*DateOrderError]) or about the options ([*OptionError],
// [*UnknownFieldError]); what is wrong with single rows is in the result. Two of
// these errors come with a cohort, so that what is wrong can be listed: a
// [*NoUsableRowError], and, with Options.EveryColumn, a [*MissingColumnError] of
// a table of which some heading is known.
func Read(ctx context.Context, sources []Source, o Options) (*Cohort, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	if len(sources) == 0 {
		return nil, errors.New("no table to read")
	}
	r := &reading{options: o, has: make(map[string]int), cohort: &Cohort{base: &base{store: new(store.Store), bands: AgeBands(o.AgeBands), present: make(map[string]bool), headed: make(map[string]string)}}}
	if err := r.prepare(); err != nil {
		return nil, err
	}
	for _, list := range []struct {
		holds   row.Role
		sources []Source
	}{{row.Primaries, sources}, {row.Revisions, o.Revisions}, {row.Deaths, o.DeathLists}} {
		for _, s := range list.sources {
			err := r.source(ctx, s, list.holds)
			if lacks, ok := errors.AsType[*MissingColumnError](err); ok && r.lacking {
				return r.lacksColumn(lacks)
			}
			if err != nil {
				return nil, err
			}
		}
	}
	for _, assumed := range r.cohort.Assumed {
		if r.has[assumed.Column] == r.tables {
			return nil, badOption("%s has a column %q, so that a value can't be assumed for %s: assume none, or leave that heading out with %q = \"\" under [columns] of a settings file",
				r.cohort.Files[0].Title(), r.cohort.headed[assumed.Column], assumed.Column, r.cohort.headed[assumed.Column])
		}
	}
	return r.finish()
}

// reading is the state of one Read.
type reading struct {
	options Options
	cohort  *Cohort // what has been read so far
	in      *interpreter
	tables  int            // of primaries
	asked   []string       // fields beside the core ones that rows are to be grouped or selected by
	has     map[string]int // how many of them have a column for which a value is assumed
	lacking bool           // the table read last lacks a needed column, and can be described all the same
}

// prepare makes the vocabularies and fields.
func (r *reading) prepare() error {
	c, o := r.cohort, r.options
	in := &interpreter{seed: maphash.MakeSeed(), missing: make(map[string]bool)}
	for _, w := range o.Missing {
		in.missing[words.Fold(w)] = true
	}
	if o.Pivot != nil {
		in.dates = dates.Options{PivotSet: true, Pivot: *o.Pivot}
	}
	explain := func(v *vocabulary) *vocabulary {
		v.means, v.missing = make(map[string]string), in.missing
		for typed, value := range o.Words[v.column] {
			v.means[words.Fold(typed)] = value
		}
		return v
	}
	vocabulary := func(column string) *vocabulary {
		v := explain(newVocabulary(column))
		c.words = append(c.words, v)
		return v
	}
	for i, column := range signatureColumns {
		in.signature[i] = vocabulary(column)
		if value, ok := o.Assume[column]; ok {
			in.assumed[i] = in.signature[i].numberOf(value)
			in.signature[i].assumed = in.assumed[i]
		}
	}
	for i, name := range coreFields {
		in.core[i] = newField(name, nil)
	}
	c.core = in.core
	in.revised, in.dead = vocabulary("revised"), vocabulary("dead")

	extra, err := r.extraNames()
	if err != nil {
		return err
	}
	for _, name := range extra {
		in.extra = append(in.extra, newField(name, o.Bands[name]))
		v := explain(newVocabulary(name))
		if !slices.Contains(signatureColumns[:], name) { // those are listed already
			c.words = append(c.words, v)
		}
		in.extraWords = append(in.extraWords, v)
		n := uint32(0)
		if value, ok := o.Assume[name]; ok {
			n = v.numberOf(value)
			v.assumed = n
		}
		in.assumedExtra = append(in.assumedExtra, n)
	}
	c.extra = in.extra
	for column, value := range o.Assume {
		c.present[column] = true
		c.Assumed = append(c.Assumed, Condition{column, value})
	}
	sort.Slice(c.Assumed, func(i, j int) bool { return c.Assumed[i].Column < c.Assumed[j].Column })
	r.in = in
	return nil
}

// extraNames are the fields kept beside the core ones: sex and the reason
// always, the others when asked for or needed for the scope.
func (r *reading) extraNames() ([]string, error) {
	names := []string{extraSex: "sex", extraReason: "revision_reason"}
	wanted := slices.Clone(r.options.Keep)
	for _, w := range r.options.Where {
		wanted = append(wanted, w.Column)
	}
	for name := range r.options.Assume {
		wanted = append(wanted, name)
	}
	asked := len(wanted)
	if r.options.EveryColumn {
		wanted = append(wanted, column.With(column.Grouping)...)
	}
	for i, name := range wanted {
		if i == asked {
			r.asked = slices.Clone(names[extraReason+1:])
		}
		if known := r.options.column(name); known != "" {
			name = known
		}
		switch {
		case column.Identifying(name):
			return nil, badOption("column %s identifies patients: it is no column to group by or to select rows by", name)
		case slices.Contains(coreFields[:], name), plainColumn(name) == fieldOperationYear:
			continue
		}
		if plainColumn(name) == fieldAgeBand {
			name = fieldAgeBand // a table's own, where it has no ages
		}
		if _, ok := fieldNamed(names, name); !ok {
			names = append(names, name)
		}
	}
	if asked == len(wanted) {
		r.asked = slices.Clone(names[extraReason+1:])
	}
	sort.Strings(names[2:])
	return names, nil
}

// source reads a source's table, or the tables on each of the sheets asked for.
func (r *reading) source(ctx context.Context, s Source, holds row.Role) error {
	sheets := []string{s.Sheet}
	if holds == row.Primaries && s.Sheet == "" && len(r.options.Sheets) > 0 {
		sheets = r.options.Sheets
	}
	for i, sheet := range sheets {
		if i > 0 && s.Reader != nil {
			again, ok := s.Reader.(io.Seeker)
			if !ok {
				return badOption("%s can't be read twice, as several sheets need: save it as a file", s.Name)
			}
			if _, err := again.Seek(0, io.SeekStart); err != nil {
				return err
			}
		}
		s.Sheet = sheet
		if err := r.table(ctx, s, holds); err != nil {
			return err
		}
		if holds == row.Primaries {
			r.tables++
		}
		if r.cohort.Files[len(r.cohort.Files)-1].Sheet == "" { // no workbook
			break
		}
	}
	return nil
}

// table reads one table into blocks of rows.
func (r *reading) table(ctx context.Context, s Source, holds row.Role) error {
	c, o := r.cohort, r.options
	t, err := sheet.Open(ctx, s.Name, s.Reader, sheet.Options{
		Delimiter: o.Delimiter, Encoding: o.Encoding, Sheet: s.Sheet,
		IsHeadings: func(cells []string) bool { return isHeadings(cells, o, holds) },
		Hide:       words.HeadingMayIdentify,
	})
	if errors.Is(err, sheet.ErrOption) {
		return &OptionError{err}
	}
	if err != nil {
		return err
	}
	defer t.Close()
	name := title(s.Name, t.Sheet, len(t.Sheets) > 1)
	headings, err := matchHeadings(name, inTwoRows(t.Headings, t.Upper, o), o, holds)
	lacks, lacking := errors.AsType[*MissingColumnError](err)
	if lacking {
		lacks.OtherSheets = slices.DeleteFunc(slices.Clone(t.Sheets), func(s string) bool { return s == t.Sheet })
	}
	r.lacking = lacking && lacks.Known > 0 && o.EveryColumn
	if err != nil && !r.lacking {
		return err
	}
	l := newLayout(headings, fieldNames(r.in.extra), o.EveryColumn)
	r.notePresent(headings, l, holds)
	t.Select(l.cells())
	hideHeadings(headings)
	file := len(c.Files)
	c.Files = append(c.Files, File{Name: s.Name, Holds: holds.String(), HeadingRow: t.HeadingRow, Preamble: t.Comments, Headings: headings})

	decoders, blocks, err := r.decodeAll(ctx, t, file, l)
	if err != nil {
		return err
	}
	f := &c.Files[file]
	f.Format, f.Notes = t.Format(), t.Notes()
	f.Sheet, f.cell = t.Sheet, t.Cell
	for _, other := range t.Sheets {
		if other != t.Sheet {
			f.OtherSheets = append(f.OtherSheets, other)
		}
	}
	if err := r.add(name, file, l, holds, decoders, blocks); err != nil && !lacking {
		return err
	}
	if lacking {
		return lacks
	}
	return nil
}

// notePresent notes which columns a table has.
func (r *reading) notePresent(headings []Heading, l layout, holds row.Role) {
	c := r.cohort
	for _, h := range headings {
		if holds == row.Revisions && h.Column == "revision_reason" { // joined to the primaries
			c.present[h.Column] = true
			c.headed[h.Column] = h.Typed
		}
		if h.Column == "" || holds != row.Primaries {
			continue
		}
		if _, ok := r.options.Assume[h.Column]; ok {
			r.has[h.Column]++
		}
		c.present[h.Column] = true
		c.headed[h.Column] = h.Typed
	}
	for i, at := range l.extra {
		if at >= 0 && holds == row.Primaries {
			c.present[r.in.extra[i].name] = true
		}
	}
}

// add adds the rows of a table, with what they say together. An error is that
// of the order of day and month, without which no date can be read.
func (r *reading) add(name string, file int, l layout, holds row.Role, decoders []*decoder, blocks []*store.Block) error {
	c := r.cohort
	f := &c.Files[file]
	read := merge(decoders)
	for _, b := range blocks {
		f.Rows += b.Len()
	}
	for i := range read.missing {
		if !slices.Contains(l.cells(), i) {
			read.missing[i] = -1
		}
	}
	c.values, c.missing = append(c.values, read.values), append(c.missing, read.missing)
	if read.shortYears > 0 {
		f.Notes = append(f.Notes, shortYears)
	}
	if said := placeholders(read.placeholders); said != "" {
		f.Notes = append(f.Notes, said)
	}
	var heading [store.DateCount]string
	for i, at := range l.dates {
		if at >= 0 {
			heading[i] = f.Headings[at].Typed
		}
	}
	t := &store.Table{File: file, Columns: l.columns(), Table: row.Table{Role: holds, Patients: l.patient >= 0, Operations: l.signature[sigOperationType] >= 0,
		BareAside: bareAside(f.Headings, read.missing, f.Rows, read.bareRows)}}
	var err error
	t.Orders, f.DateOrders, err = settleOrders(name, read.evidence, heading, r.options.DateOrder)
	for _, d := range decoders {
		for _, words := range d.counted() {
			words.count(t.BareAside)
		}
	}
	c.store.Add(t, blocks)
	return err
}

// placeholders is the note on a table with days that stand for none.
func placeholders(found [store.DateCount]int) string {
	var where []string
	for i, n := range found {
		if n > 0 {
			where = append(where, fmt.Sprintf("%d in %s", n, dateColumns[i]))
		}
	}
	if where == nil {
		return ""
	}
	return "days that databases write where there is none, such as 1900-01-01 or 9999-12-31, read as empty: " + strings.Join(where, ", ")
}

// merge puts together what the decoders of a table found out about it as a
// whole; the result is the first of them.
func merge(decoders []*decoder) *decoder {
	all := decoders[0]
	for _, d := range decoders[1:] {
		for i := range all.evidence {
			all.evidence[i].merge(d.evidence[i])
		}
		for i, n := range d.missing {
			all.missing[i] += n
		}
		for i, v := range d.values {
			if v != nil {
				all.values[i].merge(v)
			}
		}
		all.bareRows += d.bareRows
		all.shortYears += d.shortYears
		for i, n := range d.placeholders {
			all.placeholders[i] += n
		}
	}
	return all
}

// shortYears is the note on a table with two-digit years and no pivot.
const shortYears = "dates with two-digit years are not read; say from which year on they mean 19yy, with --pivot 30 for example"

// bareAside says whether rows with an operation date and nothing else are taken
// for no joints: at least two of the columns that tell joints apart are filled
// in four fifths of the other rows, of which there are four times as many, or
// more than one or two. Where more rows have nothing else, the table may begin
// with years of which little was written down.
func bareAside(headings []Heading, missing []int, rows, bare int) bool {
	filled := 0
	for i, h := range headings {
		switch h.Column {
		case "patient", "joint", "side", "procedure", "operation_type", "bearing", "head", "fixation", "cup_fixation", "tibia_fixation", "age", "birth_date", "birth_year", "sex":
			if missing[i] >= 0 && 5*(rows-missing[i]) >= 4*(rows-bare) {
				filled++
			}
		}
	}
	others := rows - bare
	return filled >= 2 && (others >= 4*bare || bare <= 2 && others > bare)
}

// count adds a decoder's words to the vocabulary, less those of rows that are no
// joints.
func (t *typedWords) count(bareAside bool) {
	for n, rows := range t.rows {
		if bareAside && n < len(t.bare) {
			rows -= t.bare[n]
		}
		t.shared.words[n].Rows += rows
	}
}

func (d *decoder) counted() []*typedWords {
	all := []*typedWords{&d.revised, &d.dead}
	for i := range d.typed {
		all = append(all, &d.typed[i])
	}
	for i := range d.extra {
		all = append(all, &d.extra[i])
	}
	return all
}

// finish settles what needs all rows of all tables, and links them.
func (r *reading) finish() (*Cohort, error) {
	c, o := r.cohort, r.options
	total := 0
	for _, f := range c.Files {
		total += f.Rows
	}
	if total == 0 {
		return nil, fmt.Errorf("%s: %w: there are headings, and no rows below them", c.Files[0].Title(), ErrNoUsableRow)
	}
	for i, f := range append(slices.Clone(c.core[:]), c.extra...) {
		// Nobody may have asked to group by the others' words; whoever does is refused then.
		if f.full && (i < store.CoreCount || slices.Contains(r.asked, f.name)) {
			return nil, f.tooMany()
		}
	}
	if err := c.close(o); err != nil {
		return nil, err
	}
	r.link()
	c, err := c.Where(o.Where...)
	if err != nil {
		return nil, err
	}
	if a := c.Account(); a.Used == 0 {
		said := ""
		if slices.ContainsFunc(c.Files, func(f File) bool { return slices.Contains(f.Notes, shortYears) }) {
			said = shortYears
		}
		return c, &NoUsableRowError{Account: a, said: said}
	}
	return c, nil
}

// link makes the facts and links all rows.
func (r *reading) link() {
	c, o := r.cohort, r.options
	if d := o.DeathsCompleteTo; d != nil && *d < c.Closing.Day {
		c.Closing.Day, c.Closing.DeathsEnd = *d, true
	}
	c.hideNames()
	c.present["age"] = c.present["age"] || c.present["birth_date"] || c.present["birth_year"]
	c.facts = row.Facts{Today: row.Day(o.Today), Closing: row.Day(c.Closing.Day), LostAfter: int32(o.LostAfter), Sides: c.hasCore("side")}
	for _, t := range c.store.Tables {
		c.facts.Tables = append(c.facts.Tables, t.Table)
	}
	c.facts.Left, c.facts.Right = c.core[store.Side].known(words.Left, math.MaxUint16), c.core[store.Side].known(words.Right, math.MaxUint16-1)
	c.store.Index()
	c.linked = c.base.link()
	c.linked.deathList.CompleteTo = o.DeathsCompleteTo
	c.remembering()
}

// lacksColumn is what can be said of the tables up to one that lacks a needed
// column.
func (r *reading) lacksColumn(lacks *MissingColumnError) (*Cohort, error) {
	if r.cohort.close(r.options) != nil { // of no date at all
		r.cohort.Closing = Closing{Day: r.options.Today}
	}
	r.link()
	return r.cohort, lacks
}

// NoUsableRowError says why no row is left. It wraps [ErrNoUsableRow].
type NoUsableRowError struct {
	Account Account
	said    string // what may be done about it; "" for nothing
}

func (e *NoUsableRowError) Error() string {
	var why []string
	for _, r := range e.Account.Reasons {
		why = append(why, fmt.Sprintf("%s: %d", r.Reason, r.Rows))
	}
	said := fmt.Sprintf("%v: all %d rows are set aside (%s)", ErrNoUsableRow, e.Account.Read, strings.Join(why, "; "))
	if e.said != "" {
		said += ": " + e.said
	}
	return said
}

// Unwrap returns ErrNoUsableRow.
func (e *NoUsableRowError) Unwrap() error { return ErrNoUsableRow }

// decodeAll runs one producer and as many decoders as there are processors.
func (r *reading) decodeAll(ctx context.Context, t *sheet.Table, file int, l layout) ([]*decoder, []*store.Block, error) {
	workers := runtime.GOMAXPROCS(0)
	batches := make(chan *sheet.Batch, workers)
	decoders := make([]*decoder, workers)
	var mu sync.Mutex
	var blocks []*store.Block
	var wg sync.WaitGroup
	for w := range workers {
		d := newDecoder(r.in, l, r.cohort.Files[file].Headings)
		decoders[w] = d
		wg.Go(func() {
			for b := range batches {
				c := d.decode(b)
				seq := b.Seq
				b.Release()
				mu.Lock()
				for len(blocks) <= seq {
					blocks = append(blocks, nil)
				}
				blocks[seq] = c
				mu.Unlock()
			}
		})
	}
	var err error
	for {
		var b *sheet.Batch
		if err = ctx.Err(); err != nil {
			break
		}
		if b, err = t.Next(); err != nil {
			break
		}
		if r.options.Progress != nil {
			r.options.Progress(t.Read(), t.Size)
		}
		batches <- b
	}
	close(batches)
	wg.Wait()
	if err != nil && err != io.EOF {
		return nil, nil, err
	}
	return decoders, slices.DeleteFunc(blocks, func(b *store.Block) bool { return b == nil || b.Len() == 0 }), nil
}

func fieldNames(fields []*field) []string {
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.name
	}
	return names
}
