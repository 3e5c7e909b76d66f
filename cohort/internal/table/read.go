package table

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"sync/atomic"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/words"
)

// Options say how tables are understood; those of package cohort of the same
// names say what they mean.
type Options struct {
	Columns     map[string]string
	Words       map[string]map[string]string
	Missing     []string
	Assume      map[string]string
	Bands       map[string][]float64
	DateOrder   dates.Order // OrderUnknown settles it from each table's own dates
	Pivot       *int
	Today       row.Day
	EveryColumn bool
	Delimiter   rune
	Encoding    string
	Progress    func(Progress)
	Copy        func(name string) io.Writer // takes the bytes of each file read

	Memory    int64    // bytes there are for rows; 0 if nobody knows
	Bytes     int64    // that all tables take up together, about; 0 if nobody knows
	Extra     []string // the fields beside the core ones, sex and reason first
	Asked     []string // of these, those that rows are to be grouped or selected by
	Revisions bool     // some are recorded in tables of their own
	Joined    bool     // tables are joined to the primaries
	Several   bool     // there are several tables of primaries

	PatientsByTable bool // each of them numbers its own patients

	asText bool // for tests: each value is had from the text of its cell by itself, on no shorter way
}

// Progress is how far a reading has come: so many Rows kept, and of all tables together so many
// bytes Read of a Total, which is 0 where nobody knows it.
type Progress struct{ Rows, Read, Total int64 }

// ErrOption is the error of a delimiter, an encoding or a sheet that a table
// can't have.
var ErrOption = sheet.ErrOption

// ErrChanged is the error of a file that was changed while it was read and copied.
var ErrChanged = sheet.ErrChanged

// ErrDirectory is the error of a folder that is no table.
var ErrDirectory = sheet.ErrDirectory

// Source is one table to read: its name, the file itself unless it is the one of
// that name, and the sheet of a workbook, found if it is not said. Of a file of a folder
// that is read as one, there are the folder's name and what it says of the file's rows:
// columns, each with its value.
type Source struct {
	Name   string
	Reader io.Reader
	Sheet  string
	Folder string
	Fixed  [][2]string
}

// File is one table and how it was understood.
type File struct {
	Name        string
	Folder      string // that is read as one, of whose files it is; "" if it was named itself
	Format      string
	Notes       []string // about the file as a whole, such as its encoding
	HeadingRow  int
	Preamble    []string // comment lines above the headings
	Headings    []Heading
	DateOrders  []ColumnOrder
	Rows        int
	Holds       string   // primaries, revisions or deaths
	Sheet       string   // of a workbook
	OtherSheets []string // of the workbook, not read
	Changed     bool     // while it was read
	SeenEarly   string   // why its days last seen may all be four years early; "" if nothing says so

	path    string        // as it was given
	missing []int         // by heading; −1: not counted
	values  []*valueCount // by heading; nil for those that are understood
}

// Title tells a table from others in a message: its name, and its sheet if the
// workbook has several.
func (f File) Title() string { return title(f.Name, f.Sheet, len(f.OtherSheets) > 0) }

// Invented says whether the comment lines call the rows invented.
func (f File) Invented() bool {
	return strings.Contains(strings.ToLower(strings.Join(f.Preamble, " ")), "invented")
}

func title(name, sheet string, several bool) string {
	if !several {
		return name
	}
	return fmt.Sprintf("%s, sheet %q", name, sheet)
}

// IsOf says whether a table is of a file and sheet that another is of.
func (f File) IsOf(other File) bool {
	return f.path != "-" && filepath.Clean(f.path) == filepath.Clean(other.path) && f.Sheet == other.Sheet
}

// ShownName is the name of a file as it may be shown: as it was given, or without
// what may be about a patient.
func ShownName(name string) string {
	if words.FileMayIdentify(filepath.Base(name)) {
		return "(name not shown)" + filepath.Ext(name)
	}
	return name
}

// Has says whether a table has a column.
func (f File) Has(column string) bool { return f.heading(column) >= 0 }

func (f File) heading(column string) int {
	return slices.IndexFunc(f.Headings, func(h Heading) bool { return h.Column == column })
}

// Cell is how a spreadsheet names a cell of a line, such as "Sheet1!C17"; "" for a
// table that is no workbook, or lacks the column.
func (f File) Cell(line int, column string) string {
	return sheet.CellName(f.Sheet, line, f.heading(column))
}

// Missing is in how many rows there is nothing under a heading; −1 if it was not
// counted.
func (f File) Missing(heading int) int { return f.missing[heading] }

// Text is how the words and headings of all tables were understood.
type Text struct {
	Core    [store.CoreCount]*Field
	Extra   []*Field
	Words   []*Vocabulary
	Present map[string]bool   // columns that at least one table has, or assumed
	Headed  map[string]string // the heading of a column
}

// Reader reads the tables of one cohort, one after another.
type Reader struct {
	Text
	Store *store.Store
	Files []File

	options   Options
	bytes     int64 // of the tables before the one in hand
	in        *interpreter
	rows      atomic.Int64    // kept so far
	before    int64           // of these, of the tables before the one in hand
	batches   atomic.Int64    // of that one, understood
	tables    int             // of primaries
	unread    bool            // some table of primaries was not read
	suspected []suspected     // by table
	met       map[string]bool // headings of any table, plain
	has       map[string]int  // how many of them have a column for which a value is assumed
}

// NewReader makes the vocabularies and fields.
func NewReader(o Options) *Reader {
	in := &interpreter{seed: maphash.MakeSeed(), missing: make(map[string]bool), asText: o.asText, most: mostWordings}
	for _, w := range o.Missing {
		in.missing[words.Fold(w)] = true
	}
	in.missingDays, in.comingYear = daysAmong(o.Missing), newYear(yearOf(o.Today)+1)
	if o.Pivot != nil {
		in.dates = dates.Options{PivotSet: true, Pivot: *o.Pivot}
	}
	r := &Reader{Store: store.New(o.Bytes), options: o, in: in, has: make(map[string]int), met: make(map[string]bool)}
	r.Present, r.Headed = make(map[string]bool), make(map[string]string)
	for i, name := range SignatureColumns {
		in.signature[i], in.assumed[i] = r.vocabulary(name)
		r.Words = append(r.Words, in.signature[i])
	}
	for i, name := range CoreFields {
		in.core[i] = newField(name, nil)
		in.core[i].stop = &in.full
	}
	in.revised, _ = r.vocabulary("revised")
	in.dead, _ = r.vocabulary("dead")
	r.Words = append(r.Words, in.revised, in.dead)
	for _, name := range o.Extra {
		v, assumed := r.vocabulary(name)
		if !slices.Contains(SignatureColumns[:], name) { // those are listed already
			r.Words = append(r.Words, v)
		}
		f := newField(name, o.Bands[name])
		if slices.Contains(o.Asked, name) {
			f.stop = &in.full
		}
		in.extra = append(in.extra, f)
		in.extraWords, in.assumedExtra = append(in.extraWords, v), append(in.assumedExtra, assumed)
	}
	r.Core, r.Extra = in.core, in.extra
	for name := range o.Assume {
		r.Present[name] = true
	}
	return r
}

// vocabulary is a new one for a column, and the number of the word that is
// assumed for it.
func (r *Reader) vocabulary(name string) (*Vocabulary, uint32) {
	v := newVocabulary(name)
	v.missing, v.explains = r.in.missing, r.options.Words[name]
	for typed, value := range r.options.Words[name] {
		v.means[words.Fold(typed)] = value
	}
	if value, ok := r.options.Assume[name]; ok {
		v.Assumed = v.numberOf(value)
	}
	return v, v.Assumed
}

// HasAll says whether every table of primaries read has a column for which a
// value is assumed.
func (r *Reader) HasAll(name string) bool { return r.has[name] == r.tables }

// Read reads one table into blocks of the store. Where every column is asked for, a
// [*MissingColumnError] of a table of which some heading is known, a
// [*TwoColumnsError] and a [*DateOrderError] come after its rows are read, joined if
// there are several: what else can be said of it can then be said.
func (r *Reader) Read(ctx context.Context, s Source, holds row.Role) error {
	o := &r.options
	shown := ShownName(s.Name)
	t, err := r.open(ctx, s, holds, shown)
	if err != nil {
		return err
	}
	defer t.Close()
	name := title(shown, t.Sheet, len(t.Sheets) > 1)
	others := slices.DeleteFunc(slices.Clone(t.Sheets), func(s string) bool { return s == t.Sheet })
	headings, by, twice := matchHeadings(name, inTwoRows(t.Headings, t.Upper, o), o)
	if twice != nil && !o.EveryColumn {
		return twice
	}
	if t.Holds() == sheet.HoldsJoints {
		clearHeadings(headings)
	}
	for _, h := range headings {
		r.met[column.Plain(h.Typed)] = true
	}
	if holds == row.Deaths {
		settleDeaths(headings, by)
	}
	first, err := settleHeadings(t, headings, by, func(h []Heading) []int {
		l := newLayout(h, r.in.extra, o.EveryColumn, o.Joined)
		return l.cells()
	})
	if err != nil {
		return err
	}
	lacks := r.missing(name, headings, by, holds)
	if lacks != nil {
		lacks.Sheet, lacks.OtherSheets = t.Sheet, others
		if !lacks.Described {
			r.unread = r.unread || holds == row.Primaries
			for name := range by {
				r.Present[name] = r.Present[name] || holds == row.Primaries
			}
			return lacks
		}
	}
	l := newLayout(headings, r.in.extra, o.EveryColumn, o.Joined)
	l.text = t.Sheet == "" && t.HeadingRow > 0
	l.apart = r.ownNumbers(t, holds)
	r.notePresent(headings, l, holds)
	if first == nil {
		t.Select(l.cells())
	}
	hideHeadings(headings)
	f := File{Name: shown, path: s.Name, Folder: ShownName(s.Folder), Holds: holds.String(), HeadingRow: t.HeadingRow, Preamble: t.Comments, Headings: headings}
	decoders, err := r.decodeAll(ctx, t, first, l, headings, holds)
	if err != nil {
		return err
	}
	if r.in.full.Load() {
		at := slices.MinFunc(decoders, func(a, b *decoder) int { return cmp.Compare(uint(a.fullAt-1), uint(b.fullAt-1)) })
		return r.tooMany(name, at.fullAt, headings)
	}
	f.Format, f.Notes, f.Sheet, f.OtherSheets = t.Format(), t.Notes(), t.Sheet, others
	f.Changed = t.Changed()
	err = r.add(name, &f, l, holds, decoders)
	r.Files = append(r.Files, f)
	if holds == row.Primaries {
		r.tables++
	}
	if lacks != nil {
		return together(twice, lacks, err)
	}
	return together(twice, err)
}

// ownNumbers is what tells the patients of a table that numbers its own, as a
// checked cohort does, from those of other tables. It is nil of any other table, and
// of the only one.
func (r *Reader) ownNumbers(t *sheet.Table, holds row.Role) []byte {
	if !r.options.Several || holds != row.Primaries || t.Holds() != sheet.HoldsJoints && !r.options.PatientsByTable {
		return nil
	}
	return fmt.Appendf(nil, "%d of this table: ", len(r.Files))
}

// open opens a table, which is called by a name that may be shown.
func (r *Reader) open(ctx context.Context, s Source, holds row.Role, shown string) (*sheet.Table, error) {
	o := &r.options
	so := sheet.Options{
		Delimiter: o.Delimiter, Encoding: o.Encoding, Sheet: s.Sheet,
		IsHeadings: func(cells []string) bool { return isHeadings(cells, o, holds) },
		Hide:       words.HeadingMayIdentify,
		Fixed:      s.Fixed,
	}
	if o.Copy != nil {
		so.Copy = o.Copy(s.Name)
	}
	t, err := sheet.Open(ctx, s.Name, s.Reader, so)
	if wrong, ok := errors.AsType[*sheet.Error](err); ok {
		wrong.File = shown
	}
	if err != nil {
		return nil, err
	}
	t.Name = shown
	return t, nil
}

// together are several errors as one; nil for none.
func together(errs ...error) error {
	errs = slices.DeleteFunc(errs, func(err error) bool { return err == nil })
	if len(errs) == 1 {
		return errs[0]
	}
	return errors.Join(errs...)
}

// notePresent notes which columns a table has.
func (r *Reader) notePresent(headings []Heading, l layout, holds row.Role) {
	for _, h := range headings {
		if holds == row.Revisions && h.Column == "revision_reason" { // joined to the primaries
			r.Present[h.Column] = true
			r.Headed[h.Column] = h.Typed
		}
		if h.Column == "" || holds != row.Primaries {
			continue
		}
		if _, ok := r.options.Assume[h.Column]; ok {
			r.has[h.Column]++
		}
		r.Present[h.Column] = true
		r.Headed[h.Column] = h.Typed
	}
	for i, at := range l.extra {
		if at >= 0 && holds == row.Primaries {
			r.Present[r.in.extra[i].Name] = true
		}
	}
}

// decodeAll runs as many decoders as there are processors, each of which fetches its
// batches itself: what it has just read is still near its processor.
func (r *Reader) decodeAll(ctx context.Context, t *sheet.Table, first *sheet.Batch, l layout, headings []Heading, holds row.Role) ([]*decoder, error) {
	onlyJoint := row.Code(0)
	if holds == row.Revisions {
		onlyJoint = r.onlyJoint()
	}
	r.before = r.rows.Load()
	r.batches.Store(0)
	f := &fetcher{Reader: r, ctx: ctx, table: t, layout: l, first: first}
	decoders := make([]*decoder, runtime.GOMAXPROCS(0))
	var wg sync.WaitGroup
	for w := range decoders {
		d := newDecoder(r.in, l, headings, r.Store.NewWriter(l.columns()))
		d.aside.deaths = holds == row.Deaths
		d.onlyJoint, d.named.list, d.named.patients = onlyJoint, holds != row.Primaries, r.Store.HasPatients()
		decoders[w] = d
		wg.Go(func() {
			for b := f.next(); b != nil; b = f.next() {
				r.rows.Add(d.decode(b))
				r.batches.Add(1)
				b.Release()
			}
			d.countAll()
		})
	}
	wg.Wait()
	r.bytes += t.Size
	if f.err == io.EOF {
		f.err = r.roomFor(t, l, r.rows.Load(), false)
	}
	return decoders, f.err
}

// fetcher gives the decoders of a table its batches, one after another.
type fetcher struct {
	*Reader
	ctx    context.Context
	table  *sheet.Table
	layout layout

	mu     sync.Mutex
	first  *sheet.Batch // was read for the headings; nil for none
	handed int64
	err    error // why there is no other batch; io.EOF at the end
}

// next is nil when there is no other, or none is needed.
func (f *fetcher) next() *sheet.Batch {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.err == nil {
		f.err = f.ctx.Err()
	}
	if f.err != nil || f.in.full.Load() {
		return nil
	}
	b := f.first
	if f.first = nil; b == nil {
		if b, f.err = f.table.Next(); f.err != nil {
			return nil
		}
	}
	f.handed++
	if f.err = f.room(f.table, f.layout, f.handed); f.err != nil {
		return nil
	}
	f.tell(f.table)
	return b
}

// tell tells how far the reading of a table, and with it of all, has come.
func (r *Reader) tell(t *sheet.Table) {
	if r.options.Progress == nil {
		return
	}
	p := Progress{Rows: r.rows.Load(), Read: r.bytes + t.Read()}
	if t.Size > 0 {
		p.Total = max(r.options.Bytes, r.bytes+t.Size)
	}
	r.options.Progress(p)
}

// SheetsError says that several sheets of a workbook have the headings of an
// outcomes table, and none was named.
type SheetsError = sheet.SheetsError
