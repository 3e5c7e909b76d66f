package cohort

import (
	"bytes"
	"hash/maphash"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
	"example.org/holdfast/cohort/internal/words"
)

// dateColumns are the names of the date columns, in the order of their cells.
var dateColumns = [store.DateCount]string{store.Operation: "operation_date", store.Revision: "revision_date", store.Death: "death_date", store.Seen: "last_seen_date", store.Birth: "birth_date"}

// The columns whose words are understood together: the joint decides what a
// bearing or a component means.
const (
	sigJoint = iota
	sigSide
	sigProcedure
	sigOperationType
	sigBearing
	sigHead
	sigLiner
	sigPolyethylene
	sigFixation
	sigCup
	sigStem
	sigTibia
	sigFemur
	signatureLength
)

var signatureColumns = [signatureLength]string{"joint", "side", "procedure", "operation_type", "bearing", "head", "liner", "polyethylene",
	"fixation", "cup_fixation", "stem_fixation", "tibia_fixation", "femur_fixation"}

// signature is the typed words of those columns, numbered by vocabulary.
type signature [signatureLength]uint32

// coreFields are the fields that every cohort has.
var coreFields = [store.CoreCount]string{store.Joint: "joint", store.Procedure: "procedure", store.Bearing: "bearing", store.Fixation: "fixation", store.Side: "side"}

// The fields that every cohort has too, first among the extra ones.
const (
	extraSex = iota
	extraReason
)

// layout says in which cell of a table's rows each column stands; −1: nowhere.
type layout struct {
	headings  int
	dates     [store.DateCount]int
	age       int
	birthYear int
	revised   int
	dead      int
	patient   int
	initials  int
	signature [signatureLength]int
	extra     []int
	again     []bool // by extra: the cell is read for another column too, which counts the missing
	others    []int  // cells of no known column, whose completeness is asked for
}

func newLayout(headings []Heading, extra []string, everyColumn bool) layout {
	at := func(column string) int {
		return slices.IndexFunc(headings, func(h Heading) bool { return h.Column == column })
	}
	l := layout{headings: len(headings), age: at("age"), birthYear: at("birth_year"), revised: at("revised"), dead: at("dead"), patient: at("patient"), initials: at("initials")}
	for i, c := range dateColumns {
		l.dates[i] = at(c)
	}
	for i, c := range signatureColumns {
		l.signature[i] = at(c)
	}
	read := l.cells()
	for _, name := range extra {
		i := at(name)
		if i < 0 {
			i = slices.IndexFunc(headings, func(h Heading) bool {
				return h.Column == "" && h.How != LeftOut && plain(h.Typed) == plain(name)
			})
		}
		l.again = append(l.again, slices.Contains(read, i) || slices.Contains(l.extra, i))
		l.extra = append(l.extra, i)
	}
	if everyColumn {
		for i := range headings {
			if !slices.Contains(l.cells(), i) {
				l.others = append(l.others, i)
			}
		}
	}
	return l
}

// cells lists the cells that are read.
func (l *layout) cells() []int {
	cells := append([]int{l.age, l.birthYear, l.revised, l.dead, l.patient, l.initials}, l.extra...)
	cells = append(cells, l.dates[:]...)
	cells = append(cells, l.signature[:]...)
	cells = append(cells, l.others...)
	slices.Sort(cells)
	cells = slices.Compact(cells)
	if len(cells) > 0 && cells[0] < 0 {
		cells = cells[1:]
	}
	return cells
}

// interpreter is what all decoders of a reading share.
type interpreter struct {
	seed         maphash.Seed
	dates        dates.Options
	missing      map[string]bool // folded words that stand for a missing value
	signature    [signatureLength]*vocabulary
	core         [store.CoreCount]*field
	revised      *vocabulary
	dead         *vocabulary
	extra        []*field
	extraWords   []*vocabulary
	assumed      [signatureLength]uint32
	assumedExtra []uint32
}

// typedWords is one decoder's copy of a vocabulary's numbers.
type typedWords struct {
	shared *vocabulary
	number map[string]uint32
	rows   []int       // by number
	bare   []int       // by number, those of rows that may be no joints; nil if there are none
	flags  []row.Flags // by number, in columns of yes and no; 0: not yet understood
	recent [64]recentWord
}

// recentWord is a short word met a moment ago. A column of a large table has
// few different words, and most are found here, without hashing.
type recentWord struct {
	text   [23]byte
	length uint8 // 0: none
	number uint32
}

func (t *typedWords) of(cell []byte) uint32 {
	n := uint32(0)
	if length := len(cell); length > 0 {
		var r *recentWord
		if length <= len(r.text) {
			r = &t.recent[(uint(cell[0])*5+uint(cell[length-1])*3+uint(length))%uint(len(t.recent))]
		}
		if r != nil && int(r.length) == length && string(r.text[:length]) == string(cell) {
			n = r.number
		} else {
			n = t.lookUp(cell)
			if r != nil {
				copy(r.text[:], cell)
				r.length, r.number = uint8(length), n
			}
		}
	}
	for int(n) >= len(t.rows) {
		t.rows = append(t.rows, 0)
	}
	t.rows[n]++
	return n
}

// leaveOut takes a word of a row that is no joint out of the count; of a row
// that may be none, it is counted apart.
func (t *typedWords) leaveOut(n uint32, perhaps bool) {
	if n == 0 {
		return
	}
	if !perhaps {
		t.rows[n]--
		return
	}
	for int(n) >= len(t.bare) {
		t.bare = append(t.bare, 0)
	}
	t.bare[n]++
}

func (t *typedWords) lookUp(cell []byte) uint32 {
	n, ok := t.number[string(cell)]
	if !ok {
		n = t.shared.numberOf(string(cell))
		t.number[string(cell)] = n
	}
	return n
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
	row       store.Record               // in hand

	bareRows     int
	shortYears   int                  // dates refused for a two-digit year
	placeholders [store.DateCount]int // days that stand for none
}

func newDecoder(in *interpreter, l layout, headings []Heading) *decoder {
	d := &decoder{interpreter: in, layout: l, resolved: make(map[signature]resolved), notValues: make(map[string]map[string]bool), missing: make([]int, l.headings)}
	fold := words.Fold
	words := func(v *vocabulary) typedWords { return typedWords{shared: v, number: make(map[string]uint32)} }
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
	return d
}

// cell i of a record, without surrounding space; empty if the record is short.
func cell(r *sheet.Record, i int) []byte {
	if i < 0 || i >= len(r.Cells) {
		return nil
	}
	c := r.Cells[i]
	if len(c) > 0 && (c[0] <= ' ' || c[len(c)-1] <= ' ' || c[0] >= 0x80 || c[len(c)-1] >= 0x80) {
		c = bytes.TrimSpace(c)
	}
	return c
}

// plainCell is cell i of a record without an apostrophe before it, which people and
// programs type to keep a spreadsheet from working on a number or a date. Names
// may begin with one, so words keep it.
func plainCell(r *sheet.Record, i int) []byte {
	c := cell(r, i)
	if len(c) > 1 && c[0] == '\'' {
		c = bytes.TrimSpace(c[1:])
	}
	return c
}

// columns are those of the layout's table for which rows need room.
func (l *layout) columns() store.Columns {
	c := store.Columns{Patient: l.patient >= 0, Initials: l.initials >= 0, Fields: store.CoreCount + len(l.extra)}
	for i, at := range l.dates {
		c.Dates[i] = at >= 0
	}
	return c
}

// decode reads one batch.
func (d *decoder) decode(batch *sheet.Batch) *store.Block {
	b := store.NewBlock(d.layout.columns(), batch.MaxRows())
	for r := range batch.Rows {
		d.record(r)
		b.Add(&d.row)
	}
	return b
}

// manyLines is how many lines a row may take up before it is warned of.
const manyLines = 20

// record understands one row, and counts its words.
func (d *decoder) record(r *sheet.Record) {
	s, l := &d.row, &d.layout
	s.Line, s.Flags, s.Codes = int32(r.Row), d.shape(r), s.Codes[:0]
	for i, at := range l.dates {
		if at >= 0 {
			s.Dates[i] = d.date(i, at, r)
		}
	}

	var sig signature
	for i, at := range l.signature {
		if at < 0 {
			sig[i] = d.assumed[i]
			continue
		}
		if sig[i] = d.typed[i].of(cell(r, at)); sig[i] == 0 {
			d.missing[at]++
		}
	}
	res, ok := d.resolved[sig]
	if !ok {
		res = d.resolve(sig, &l.signature)
		d.resolved[sig] = res
	}
	s.Flags |= res.flags
	s.Codes = append(s.Codes, res.core[:]...)

	s.Flags |= d.yesNo(&d.revised, l.revised, r, row.FlagRevisedYes, row.FlagRevisedNo, row.FlagRevisedUnclear)
	s.Flags |= d.yesNo(&d.dead, l.dead, r, row.FlagDeadYes, row.FlagDeadNo, row.FlagDeadUnclear)

	var unreadable row.Flags
	s.Age, unreadable = d.age(r)
	s.Flags |= unreadable

	for i, at := range l.extra {
		n := d.assumedExtra[i]
		if at >= 0 {
			if n = d.extra[i].of(d.extraCell(i, r)); n == 0 && !l.again[i] {
				d.missing[at]++
			}
		}
		s.Codes = append(s.Codes, d.extraOf(i, n))
	}
	s.Patient, s.Initials = d.patientOf(r), d.initialsOf(r)
	for _, at := range l.others {
		switch c := cell(r, at); {
		case len(c) == 0 || d.isMissing("", c):
			d.missing[at]++
		case d.values[at] != nil:
			d.values[at].add(c)
		}
	}
	if op := s.Dates[store.Operation]; res.bareUndated && (op == dates.Missing || res.bare) || op.Bad() {
		d.bare(r, res)
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
	if len(r.Cells) > d.layout.headings {
		for _, c := range r.Cells[d.layout.headings:] {
			if len(bytes.TrimSpace(c)) > 0 {
				f |= row.FlagExtraCells
			}
		}
	}
	return f
}

// patientOf is the hash of a row's patient, 0 if there is none.
func (d *decoder) patientOf(r *sheet.Record) uint64 {
	at := d.layout.patient
	if at < 0 {
		return 0
	}
	c := plainCell(r, at)
	if !d.isPatient(c) {
		d.missing[at]++
		return 0
	}
	d.patient = foldPatient(d.patient[:0], c)
	return maphash.Bytes(d.seed, d.patient) | 1
}

// initialsOf is the hash of a row's initials, 0 if there are none.
func (d *decoder) initialsOf(r *sheet.Record) uint64 {
	at := d.layout.initials
	if at < 0 {
		return 0
	}
	initials := words.Fold(string(cell(r, at)))
	if initials == "" || d.isMissing("initials", cell(r, at)) {
		d.missing[at]++
		return 0
	}
	return maphash.String(d.seed, strings.ReplaceAll(initials, " ", "")) | 1
}

// bare marks the row in hand as bare if it is a line of totals, a note, a
// repetition of the headings or the like: its words say nothing about a joint,
// it has no date but perhaps that of the operation, no sex and no age, and, if
// it has that date, no patient. The words of such a row are left out of the
// count.
func (d *decoder) bare(r *sheet.Record, res resolved) {
	s, l := &d.row, &d.layout
	op := s.Dates[store.Operation]
	again := d.repeatsHeadings(r)
	label := l.patient >= 0 && words.Label(string(cell(r, l.patient)))  // in the patient's place
	total := label && op == dates.Missing && l.signature[sigJoint] >= 0 // though it has a date: of a table of revisions
	if !again && !d.saysNothing(r, res, label, total) {
		return
	}
	s.Flags |= row.FlagBare
	d.bareRows++
	perhaps := !again && op != dates.Missing
	if !perhaps {
		clear(s.Codes[:store.CoreCount])
	}
	if again { // it has no date, rather than an impossible one
		s.Dates[store.Operation] = dates.Missing
	}
	if op != dates.Missing || total {
		s.Patient = 0
	}
	leaveOut := func(t *typedWords, c []byte) { t.leaveOut(t.lookUp(c), perhaps) }
	for k, at := range l.signature {
		leaveOut(&d.typed[k], cell(r, at))
	}
	leaveOut(&d.revised, cell(r, l.revised))
	leaveOut(&d.dead, cell(r, l.dead))
	for k := range l.extra {
		leaveOut(&d.extra[k], d.extraCell(k, r))
	}
}

// saysNothing says whether the row in hand tells of no joint; label, that the
// patient's place has the label of a line of totals, and total, that it is one
// though there is a date.
func (d *decoder) saysNothing(r *sheet.Record, res resolved, label, total bool) bool {
	s, l := &d.row, &d.layout
	op := s.Dates[store.Operation]
	if !res.bare && !(op == dates.Missing && res.bareUndated) {
		return false
	}
	for k := store.Revision; k <= store.Birth; k++ {
		if !s.Dates[k].Bad() && s.Dates[k] != dates.Missing && !total {
			return false
		}
	}
	if op != dates.Missing && s.Patient != 0 && !label {
		return false
	}
	tells := l.extra[extraSex] >= 0 && s.Codes[store.Sex] != 0 || s.Age != row.NoAge
	return !tells || d.labelled(r)
}

// labelled says whether a cell of a row begins like a line of totals.
func (d *decoder) labelled(r *sheet.Record) bool {
	return slices.ContainsFunc(r.Cells[:min(len(r.Cells), d.layout.headings)], func(c []byte) bool {
		return len(c) > 0 && words.Label(string(c))
	})
}

// repeatsHeadings says whether a row has the heading of the operation date under
// that heading, and another's under another.
func (d *decoder) repeatsHeadings(r *sheet.Record) bool {
	at := d.layout.dates[store.Operation]
	if at < 0 || !d.row.Dates[store.Operation].Bad() || words.Fold(string(cell(r, at))) != d.headings[at] {
		return false
	}
	for i := range min(len(r.Cells), len(d.headings)) {
		if i != at && d.headings[i] != "" && words.Fold(string(cell(r, i))) == d.headings[i] {
			return true
		}
	}
	return false
}

// foldPatient is an identifier in the form in which it is compared: without
// spaces, and in lower case. It is written to a buffer.
func foldPatient(to, c []byte) []byte {
	for _, b := range c {
		switch {
		case b >= utf8.RuneSelf:
			to = to[:0]
			for _, r := range norm.NFKC.String(string(c)) {
				if !unicode.IsSpace(r) && !unicode.Is(unicode.Cf, r) {
					to = utf8.AppendRune(to, unicode.ToLower(r))
				}
			}
			return to
		case b == ' ' || b == '\t' || b == '\n' || b == '\r':
		case b >= 'A' && b <= 'Z':
			to = append(to, b|0x20)
		default:
			to = append(to, b)
		}
	}
	return to
}

// age is the age as typed, or the birth year.
func (d *decoder) age(r *sheet.Record) (age int16, unreadable row.Flags) {
	number := func(at int, column string, flag row.Flags) (n int, ok bool) {
		if at < 0 {
			return 0, false
		}
		c := plainCell(r, at)
		if len(c) == 0 {
			d.missing[at]++
			return 0, false
		}
		if n, ok = wholeNumber(c); ok && n > 0 {
			return n, true
		}
		if d.isMissing(column, c) || ok {
			d.missing[at]++
		} else {
			unreadable |= flag
		}
		return 0, false
	}
	years, isAge := number(d.layout.age, "age", row.FlagAgeUnreadable)
	year, isYear := number(d.layout.birthYear, "birth_year", row.FlagBirthYearUnreadable)
	if isYear && year < 100 && d.dates.PivotSet && !isAge {
		return store.BirthYear(dates.Century(year, d.dates), true), unreadable
	}
	switch {
	case isAge:
		return int16(min(years, 999)), unreadable
	case isYear && (year < dates.MinYear-100 || year > dates.MaxYear):
		return row.NoAge, unreadable | row.FlagBirthYearUnreadable
	case isYear:
		return store.BirthYear(year, false), unreadable
	}
	return row.NoAge, unreadable
}

// takesPlaceholders says whether a column may hold days that stand for none, as
// databases export them.
func takesPlaceholders(column int) bool {
	return column == store.Revision || column == store.Death || column == store.Seen
}

// date reads a date cell and notes what it says about the column's order.
func (d *decoder) date(column, at int, r *sheet.Record) dates.Raw {
	c := plainCell(r, at)
	raw := dates.Parse(c, d.dates)
	if raw == dates.Missing {
		d.missing[at]++
		return raw
	}
	if takesPlaceholders(column) && dates.Placeholder(c, raw) {
		d.placeholders[column]++
		d.missing[at]++
		return dates.Missing
	}
	if e := raw.Evidence(); e != dates.None {
		d.evidence[column].add(e, r.Row)
		return raw
	}
	switch _, err := raw.Day(dates.DayFirst); {
	case err == dates.ErrTwoDigitYear:
		d.shortYears++
	case err == dates.ErrNotADate && d.isMissing(dateColumns[column], c):
		d.missing[at]++
		return dates.Missing
	}
	return raw
}

// isMissing says whether a cell that is no value stands for a missing one. It
// remembers the words met, up to a number.
func (d *decoder) isMissing(name string, c []byte) bool {
	if len(c) > 32 {
		return false
	}
	memo := d.notValues[name]
	missing, ok := memo[string(c)]
	if !ok {
		missing = column.Missing(name, string(c)) || d.interpreter.missing[words.Fold(string(c))]
		if memo == nil {
			memo = make(map[string]bool)
			d.notValues[name] = memo
		}
		if len(memo) < 4096 {
			memo[string(c)] = missing
		}
	}
	return missing
}

// isPatient says whether a cell holds an identifier. Anything of two digits or
// more does.
func (d *decoder) isPatient(c []byte) bool {
	digits := 0
	for _, b := range c {
		if b >= '0' && b <= '9' {
			digits++
		}
	}
	return digits >= 2 || len(c) > 0 && !column.Missing(column.Patient, string(c)) && !d.interpreter.missing[words.Fold(string(c))]
}

func (d *decoder) yesNo(t *typedWords, at int, r *sheet.Record, yes, no, unclear row.Flags) row.Flags {
	if at < 0 {
		return 0
	}
	n := t.of(cell(r, at))
	if n == 0 {
		d.missing[at]++
		return 0
	}
	if n < uint32(len(t.flags)) && t.flags[n] != 0 {
		return t.flags[n]
	}
	for n >= uint32(len(t.flags)) {
		t.flags = append(t.flags, 0)
	}
	m := column.Understand(t.shared.column, t.shared.typed(n))
	t.shared.understood(n, m)
	switch {
	case m.Known && m.Value == words.Yes:
		t.flags[n] = yes
	case m.Known && m.Value == words.No:
		t.flags[n] = no
	default:
		t.flags[n] = unclear
	}
	return t.flags[n]
}

// extraCell is the cell of extra field i, or the band of its number; nothing of
// one that is impossible, which is noted.
func (d *decoder) extraCell(i int, r *sheet.Record) []byte {
	c := cell(r, d.layout.extra[i])
	if len(c) == 0 || !d.interpreter.extra[i].reader.Numbers() {
		return c
	}
	c, impossible := d.interpreter.extra[i].reader.Shorten(c)
	if impossible {
		d.row.Flags |= row.FlagBMIImpossible
	}
	return c
}

// extraOf is the code of a typed word in extra field i.
func (d *decoder) extraOf(i int, n uint32) uint16 {
	if n == 0 {
		return 0
	}
	known := d.extraCode[i]
	if int(n) < len(known) && known[n] != 0 {
		return known[n]
	}
	for int(n) >= len(known) {
		known = append(known, 0)
	}
	v := d.extraWords[i]
	f := d.interpreter.extra[i]
	m := f.reader.Understand(v.typed(n))
	v.understood(n, m)
	known[n] = f.code(m.Value)
	d.extraCode[i] = known
	return known[n]
}

// wholeNumber reads a number such as 67, 67.0 or 67,8, without its fraction.
func wholeNumber(c []byte) (int, bool) {
	n, digits := 0, 0
	for digits < len(c) && c[digits] >= '0' && c[digits] <= '9' {
		if digits == 6 {
			return 0, false
		}
		n = n*10 + int(c[digits]-'0')
		digits++
	}
	if digits == 0 {
		return 0, false
	}
	if rest := c[digits:]; len(rest) > 0 {
		if rest[0] != '.' && rest[0] != ',' {
			return 0, false
		}
		for _, b := range rest[1:] {
			if b < '0' || b > '9' {
				return 0, false
			}
		}
	}
	return n, true
}
