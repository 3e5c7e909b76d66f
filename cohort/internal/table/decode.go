package table

import (
	"hash/maphash"
	"slices"
	"strings"
	"sync/atomic"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/words"
)

// interpreter is what all decoders of a reading share.
type interpreter struct {
	seed         maphash.Seed
	dates        dates.Options
	missing      map[string]bool // folded words that stand for a missing value
	missingDays  map[int32]bool  // days that do; nil if there are none
	comingYear   int32           // its first day
	signature    [signatureLength]*Vocabulary
	core         [store.CoreCount]*Field
	revised      *Vocabulary
	dead         *Vocabulary
	extra        []*Field
	extraWords   []*Vocabulary
	assumed      [signatureLength]uint32
	assumedExtra []uint32
	full         atomic.Bool // a field that is asked for has too many values
	asText       bool        // see Options
	most         int         // wordings that are kept, see mostWordings
}

// decoder turns batches of one table into chunks. Each worker has its own.
type decoder struct {
	*interpreter
	layout    layout
	typed     [signatureLength]typedWords
	revised   typedWords
	dead      typedWords
	extra     []typedWords
	extraCode [][]uint16 // by typed number
	resolved  map[signature]resolved
	evidence  [store.DateCount]evidence
	notValues map[string]map[string]bool // by column, words met: is it one for missing?
	missing   []int                      // by heading
	headings  []string                   // folded, by heading
	values    []*valueCount              // by heading; nil for those that are not counted
	patient   []byte                     // scratch
	apart     []byte                     // scratch
	wordings  wordings
	written   written
	codes     []row.Code // room for those of wordings to come

	extraOfRow []uint32 // scratch

	kept  keptColumns  // of the batch in hand
	coded coded        // likewise
	row   store.Record // in hand
	rows  *store.Writer

	suspects     [store.DateCount]map[dates.Raw]int // days that may stand for none, and in how many rows
	serials      int                                // days last seen that are written as numbers
	cutRows      int
	bareRows     int
	named        named
	fullAt       int // the row at which a field was seen to be full
	aside        aside
	onlyJoint    row.Code             // of the primaries, for revisions that don't tell theirs; 0 for none
	shortYears   int                  // dates refused for a two-digit year
	placeholders [store.DateCount]int // days that stand for none
}

func newDecoder(in *interpreter, l layout, headings []Heading, rows *store.Writer) *decoder {
	d := &decoder{interpreter: in, layout: l, rows: rows, resolved: make(map[signature]resolved), notValues: make(map[string]map[string]bool), missing: make([]int, l.headings)}
	fold := words.Fold
	words := func(v *Vocabulary) typedWords { return typedWords{shared: v, number: make(map[string]uint32)} }
	for i, v := range in.signature {
		d.typed[i] = words(v)
	}
	d.values = make([]*valueCount, len(headings))
	for i, h := range headings {
		d.headings = append(d.headings, fold(h.Typed))
		if slices.Contains(l.others, i) && countsValues(h) {
			d.values[i] = newValueCount()
		}
	}
	d.revised, d.dead = words(in.revised), words(in.dead)
	d.extraCode = make([][]uint16, len(in.extra))
	for _, v := range in.extraWords {
		d.extra = append(d.extra, words(v))
	}
	d.wordings = d.newWordings()
	if !in.asText {
		d.written = newWritten(d.seed, d.wordings.columns, d.most)
	}
	return d
}

// decode reads one batch, and says how many of its rows are kept.
func (d *decoder) decode(batch *sheet.Batch) (rows int64) {
	if !d.asText {
		d.keep(batch)
	}
	for r := range batch.Rows {
		d.record(r)
		if d.fullAt == 0 && d.full.Load() {
			d.fullAt = r.Row
		}
		if d.row.Flags&(row.FlagUnreadable|row.FlagBare) != 0 && d.aside.take(&d.row) || d.named.list && d.named.take(&d.row) {
			continue
		}
		d.rows.Add(&d.row)
		rows++
	}
	return rows
}

// manyLines is how many lines a row may take up before it is warned of.
const manyLines = 20

// record understands one row, and counts its words.
func (d *decoder) record(r *sheet.Record) {
	s, l := &d.row, &d.layout
	w := d.wordingOf(r)
	s.Line, s.Flags = int32(r.Row), w.flags
	if r.Len() != l.headings || r.Err != nil || r.Lines > manyLines {
		s.Flags |= d.shape(r)
	}
	s.Codes, s.Words, s.Told = w.codes, w.words, w.flags
	for i, at := range l.dates {
		if at >= 0 {
			s.Dates[i] = d.date(i, at, r)
		}
	}
	var unreadable row.Flags
	s.Age, unreadable = d.age(r)
	s.Flags |= unreadable
	s.Patient = d.identifierOf(l.patient, d.kept.patient, r)
	if l.initials >= 0 {
		s.Initials = d.initialsOf(r)
	}
	if l.name >= 0 {
		if s.Name = d.identifierOf(l.name, nil, r); s.Name != 0 {
			s.Name |= row.NoNumber // however many zeros stand before it
		}
	}
	for _, at := range l.others {
		switch c := cell(r, at); {
		case len(c) == 0 || d.isMissing("", c):
			d.missing[at]++
		case d.values[at] != nil:
			d.values[at].add(c)
		}
	}
	if op := s.Dates[store.Operation]; w.bareUndated && (op == dates.Missing || w.bare) || op.Bad() {
		d.bare(r, w)
	}
}

// shape says what is unusual about a row's cells as such.
func (d *decoder) shape(r *sheet.Record) row.Flags {
	var f row.Flags
	if r.Err != nil {
		f |= row.FlagUnreadable
	}
	if r.Lines > manyLines {
		f |= row.FlagManyLines
	}
	if r.Err == nil && d.layout.text && r.Len() < d.layout.headings {
		f |= row.FlagCut
		d.cutRows++
	}
	if r.Len() > d.layout.headings {
		for i := d.layout.headings; i < r.Len(); i++ {
			if len(cell(r, i)) > 0 {
				f |= row.FlagExtraCells
			}
		}
	}
	return f
}

// identifierOf is the hash of a row's patient or of the name of its joint, 0 if
// there is none; kept is the column, if the file keeps it as text.
func (d *decoder) identifierOf(at int, kept *sheet.Texts, r *sheet.Record) uint64 {
	if at < 0 {
		return 0
	}
	var c []byte
	if kept != nil {
		text, _ := kept.At(r.Index)
		c = plain(sheet.Valid(text))
	} else {
		c = plainCell(r, at)
	}
	if !d.isPatient(c) {
		d.missing[at]++
		return 0
	}
	d.patient = foldPatient(d.patient, c)
	number, zeros := plainNumber(d.patient)
	if len(d.layout.apart) > 0 && at == d.layout.patient {
		d.apart = append(append(d.apart[:0], d.layout.apart...), number...)
		number = d.apart
	}
	return store.Identifier(maphash.Bytes(d.seed, number), zeros)
}

// initialsOf is the hash of a row's initials, 0 if there are none.
func (d *decoder) initialsOf(r *sheet.Record) uint64 {
	at := d.layout.initials
	initials := words.Fold(string(cell(r, at)))
	if initials == "" || d.isMissing("initials", cell(r, at)) {
		d.missing[at]++
		return 0
	}
	return maphash.String(d.seed, strings.ReplaceAll(initials, " ", "")) | 1
}
