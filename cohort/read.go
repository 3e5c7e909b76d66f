package cohort

import (
	"context"
	"errors"
	"hash/maphash"
	"io"
	"runtime"
	"slices"
	"sort"
	"sync"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/rows"
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
// [*UnknownFieldError]); what is wrong with single rows is in the result.
func Read(ctx context.Context, sources []Source, o Options) (*Cohort, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	if len(sources) == 0 {
		return nil, errors.New("no table to read")
	}
	r := &reading{options: o, has: make(map[string]int), cohort: &Cohort{bands: AgeBands(o.AgeBands), present: make(map[string]bool), headed: make(map[string]string)}}
	if err := r.prepare(); err != nil {
		return nil, err
	}
	for _, list := range []struct {
		holds   role
		sources []Source
	}{{primaries, sources}, {revisions, o.Revisions}, {deaths, o.DeathLists}} {
		for _, s := range list.sources {
			if err := r.source(ctx, s, list.holds); err != nil {
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
	cohort  *Cohort
	in      *interpreter
	tables  int            // of primaries
	asked   []string       // fields beside the core ones that rows are to be grouped or selected by
	has     map[string]int // how many of them have a column for which a value is assumed
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
		in.core[i] = newField(name)
	}
	c.core = in.core
	in.revised, in.dead = vocabulary("revised"), vocabulary("dead")

	extra, err := r.extraNames()
	if err != nil {
		return err
	}
	for _, name := range extra {
		in.extra = append(in.extra, newField(name))
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
	for column := range r.options.Assume {
		wanted = append(wanted, column)
	}
	asked := len(wanted)
	if r.options.EveryColumn {
		wanted = append(wanted, "diagnosis", "surgeon", "hospital", "polyethylene")
	}
	for i, name := range wanted {
		if i == asked {
			r.asked = slices.Clone(names[extraReason+1:])
		}
		if column := r.options.column(name); column != "" {
			name = column
		}
		switch {
		case words.Identifying(name):
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
func (r *reading) source(ctx context.Context, s Source, holds role) error {
	sheets := []string{s.Sheet}
	if holds == primaries && s.Sheet == "" && len(r.options.Sheets) > 0 {
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
		if holds == primaries {
			r.tables++
		}
		if r.cohort.Files[len(r.cohort.Files)-1].Sheet == "" { // no workbook
			break
		}
	}
	return nil
}

// table reads one table into chunks.
func (r *reading) table(ctx context.Context, s Source, holds role) error {
	c, o := r.cohort, r.options
	t, err := rows.Open(ctx, s.Name, s.Reader, rows.Options{
		Delimiter: o.Delimiter, Encoding: o.Encoding, Sheet: s.Sheet,
		IsHeadings: func(cells []string) bool { return isHeadings(cells, o, holds) },
		Hide:       words.HeadingMayIdentify,
	})
	if errors.Is(err, rows.ErrOption) {
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
	if err != nil && !(lacking && lacks.Known > 0 && o.EveryColumn) {
		return err
	}
	for _, h := range headings {
		if holds == revisions && h.Column == "revision_reason" { // joined to the primaries
			c.present[h.Column] = true
			c.headed[h.Column] = h.Typed
		}
		if h.Column == "" || holds != primaries {
			continue
		}
		if _, ok := o.Assume[h.Column]; ok {
			r.has[h.Column]++
		}
		c.present[h.Column] = true
		c.headed[h.Column] = h.Typed
	}
	l := newLayout(headings, fieldNames(r.in.extra), o.EveryColumn)
	for i, at := range l.extra {
		if at >= 0 && holds == primaries {
			c.present[r.in.extra[i].name] = true
		}
	}
	t.Select(l.cells())
	hideHeadings(headings)
	file := len(c.Files)
	c.Files = append(c.Files, File{Name: s.Name, Holds: holds.String(), HeadingRow: t.HeadingRow, Preamble: t.Comments, Headings: headings})

	decoders, chunks, err := r.decodeAll(ctx, t, file, l)
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
	var found [dateColumnCount]evidence
	missing := make([]int, len(headings))
	for _, d := range decoders {
		for i := range found {
			found[i].merge(d.evidence[i])
		}
		for i, n := range d.missing {
			missing[i] += n
		}
	}
	values := decoders[0].values
	for _, d := range decoders[1:] {
		for i, v := range d.values {
			if v != nil {
				values[i].merge(v)
			}
		}
	}
	c.values = append(c.values, values)
	cells := l.cells()
	for i := range missing {
		if !slices.Contains(cells, i) {
			missing[i] = -1
		}
	}
	c.missing = append(c.missing, missing)
	var heading [dateColumnCount]string
	for i, at := range l.dates {
		if at >= 0 {
			heading[i] = headings[at].Typed
		}
	}
	var orders [dateColumnCount]dates.Order
	if orders, f.DateOrders, err = settleOrders(name, found, heading, o.DateOrder); err != nil && !lacking {
		return err
	}
	parallel(len(chunks), func(i int) { chunks[i].settle(orders) })
	bare, read := 0, 0
	for _, ch := range chunks {
		bare += ch.bare
		read += ch.len()
	}
	aside := bareAside(headings, missing, read, bare)
	for _, d := range decoders {
		for _, t := range d.counted() {
			t.count(aside)
		}
	}
	short := 0
	for _, ch := range chunks {
		ch.role, ch.bareAside = holds, aside
		f.Rows += ch.len()
		short += ch.shortYears
	}
	if short > 0 {
		f.Notes = append(f.Notes, shortYears)
	}
	c.all = append(c.all, chunks...)
	if holds == primaries {
		c.chunks = c.all
	}
	if lacking {
		lacks.Cohort = c
		return lacks
	}
	return nil
}

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

// decodeAll runs one producer and as many decoders as there are processors.
func (r *reading) decodeAll(ctx context.Context, t *rows.Table, file int, l layout) ([]*decoder, []*chunk, error) {
	workers := runtime.GOMAXPROCS(0)
	batches := make(chan *rows.Batch, workers)
	decoders := make([]*decoder, workers)
	var mu sync.Mutex
	var chunks []*chunk
	var wg sync.WaitGroup
	for w := range workers {
		d := newDecoder(r.in, l, r.cohort.Files[file].Headings)
		decoders[w] = d
		wg.Go(func() {
			for b := range batches {
				c := d.decode(file, b)
				seq := b.Seq
				b.Release()
				mu.Lock()
				for len(chunks) <= seq {
					chunks = append(chunks, nil)
				}
				chunks[seq] = c
				mu.Unlock()
			}
		})
	}
	var err error
	for {
		var b *rows.Batch
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
	chunks = slices.DeleteFunc(chunks, func(c *chunk) bool { return c == nil || c.len() == 0 })
	return decoders, chunks, nil
}

// parallel runs f for 0 to n−1 on all processors.
func parallel(n int, f func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		for i := range n {
			f(i)
		}
		return
	}
	next := make(chan int)
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := range next {
				f(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
}

func fieldNames(fields []*field) []string {
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.name
	}
	return names
}
