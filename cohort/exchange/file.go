package exchange

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash"
	"io"
	"os"
	"slices"
	"strconv"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/survival/tally"
)

// The names of a tally's columns that are no dimensions of a cohort.
const (
	agesName  = "age"
	reachName = "possible_years"
	daysName  = "days"
	endedName = "ended"
	countName = "joints"
)

// dataColumns are names that no field grouped by may have.
var dataColumns = []string{agesName, reachName, daysName, endedName, countName, cohort.AtomReach}

// dimensionNames are those of the header's cells, in order.
func (h *header) dimensionNames() []string { return slices.Concat(fixed, h.extra(), h.Further) }

// rowColumns are the columns of a tally with a header's dimensions.
func (h *header) rowColumns() []field {
	var all []field
	add := func(name string, t sheet.Type, unit, help string, values ...string) {
		all = append(all, field{sheet.Field{Name: name, Type: t, Help: help}, unit, values})
	}
	for _, d := range h.dimensionNames() {
		switch d {
		case cohort.AtomAge:
			add(agesName, sheet.Text, "years", "completed years at the operation, between the header's bounds", h.levels(d, nil)...)
		case cohort.AtomReach:
			add(reachName, sheet.Fraction, "years", "the last of the header's years since the operation that the closing date reaches; 0 for none")
		case column.OperationYear:
			add(d, sheet.Whole, "", "calendar year of the operation")
		default:
			add(d, sheet.Text, "", "the "+cohort.Title(d)+", as understood; "+cohort.NotRecorded+" for a missing value")
		}
	}
	add(daysName, sheet.Whole, "days", "followed")
	var ends []string
	for _, e := range cohort.Ends() {
		if e != cohort.EndOther || len(h.Reasons) > 0 {
			ends = append(ends, e.String())
		}
	}
	add(endedName, sheet.Text, "", "how follow-up ended: the endpoint, death, another revision, or censored: at the closing date; there, but assumed; when last seen; lost, last seen long before", ends...)
	add(countName, sheet.Whole, "joints", "how many joints")
	return all
}

// field is a column of a tally.
type field struct {
	sheet.Field
	unit   string
	values []string
}

// TallyColumns are the columns of a tally that is grouped by what every tally holds.
// Others have a column more for each further field, before days.
func TallyColumns() []Column {
	h := header{AgesAs: "years", Ages: cohort.DefaultAgeBands()}
	return h.described()
}

func (h *header) described() []Column {
	var all []Column
	for _, c := range h.rowColumns() {
		all = append(all, Column{c.Name, typeNames[c.Type], c.unit, c.Help, c.values})
	}
	return all
}

// sum is the checksum of a header and rows of cells.
type sum struct {
	hash.Hash
	buffer []byte
}

func (s *sum) row(cells []string) {
	s.buffer = s.buffer[:0]
	for _, c := range cells {
		s.buffer = append(append(s.buffer, c...), 0x1f)
	}
	s.Write(append(s.buffer, '\n'))
}

func newSum(h header) (*sum, error) {
	h.Checksum = ""
	text, err := h.text()
	s := &sum{Hash: sha256.New()}
	s.row([]string{text})
	return s, err
}

// rows gives the rows of the cells as text, in order.
func (t *Tally) rows(yield func(cells []string) error) error {
	ends := cohort.Ends()
	var cells []string
	for key, counts := range t.cells.All() {
		cells = cells[:0]
		for i, d := range t.cells.Dimensions {
			cells = append(cells, d.Levels[key.Level(i)])
		}
		of := len(cells)
		for e := range counts.Exits() {
			cells = append(cells[:of], strconv.Itoa(int(e.Day)), ends[e.Cause].String(), strconv.FormatInt(e.Subjects, 10))
			if err := yield(cells); err != nil {
				return err
			}
		}
	}
	return nil
}

// Write writes the tally as Parquet, with its header under [AboutKey].
func (t *Tally) Write(w io.Writer) error {
	h := t.header
	h.Columns = h.described()
	s, err := newSum(h)
	if err != nil {
		return err
	}
	if err := t.rows(func(cells []string) error { s.row(cells); return nil }); err != nil {
		return err
	}
	h.Checksum = hex.EncodeToString(s.Sum(nil))
	text, err := h.text()
	if err != nil {
		return err
	}
	var fields []sheet.Field
	for _, c := range h.rowColumns() {
		fields = append(fields, c.Field)
	}
	out, err := create(w, sheet.Parquet, fields, sheet.Pair{Key: AboutKey, Value: text})
	if err != nil {
		return err
	}
	err = t.rows(func(cells []string) error {
		for i, c := range cells {
			if err := put(&out.values[i], fields[i].Type, c); err != nil {
				return err
			}
		}
		return out.next()
	})
	if err != nil {
		return err
	}
	return out.close()
}

// put appends a cell to the values of a type.
func put(v *sheet.Values, t sheet.Type, cell string) error {
	switch t {
	case sheet.Whole:
		n, err := strconv.ParseInt(cell, 10, 32)
		v.Wholes = append(v.Wholes, int32(n))
		return err
	case sheet.Fraction:
		x, err := strconv.ParseFloat(cell, 64)
		v.Fractions = append(v.Fractions, x)
		return err
	}
	v.Texts = append(v.Texts, cell)
	return nil
}

// IsTally says whether a file is a tally.
func IsTally(name string) bool {
	f, err := os.Open(name)
	if err != nil {
		return false
	}
	defer f.Close()
	magic := make([]byte, 4)
	if _, err := io.ReadFull(f, magic); err != nil || string(magic) != "PAR1" {
		return false
	}
	t, err := sheet.Open(context.Background(), name, nil, sheet.Options{})
	if err != nil {
		return false
	}
	defer t.Close()
	text, ok := t.About(AboutKey)
	if !ok {
		return false
	}
	h, err := readHeader(text)
	return err == nil && h.Holds == HoldsTally
}

// Read reads a tally. One that was cut short, changed or damaged is an [ErrDamaged]. If bytes
// is not nil, it takes those of the file.
func Read(ctx context.Context, name string, bytes io.Writer) (*Tally, error) {
	t, err := readFile(ctx, name, bytes)
	if err != nil && ctx.Err() == nil {
		err = fmt.Errorf("%s: %w", name, err)
	}
	return t, err
}

func readFile(ctx context.Context, name string, bytes io.Writer) (*Tally, error) {
	file, err := sheet.Open(ctx, name, nil, sheet.Options{Copy: bytes})
	if err != nil {
		return nil, err
	}
	defer file.Close()
	text, ok := file.About(AboutKey)
	if !ok {
		return nil, fmt.Errorf("no tally: a tally is made with holdfast tally")
	}
	h, err := readHeader(text)
	if err != nil {
		return nil, err
	}
	checked := *h
	s, err := newSum(checked)
	if err != nil {
		return nil, err
	}
	r := newRows(h)
	var names []string
	for _, c := range h.rowColumns() {
		names = append(names, c.Name)
	}
	if !slices.Equal(file.Headings, names) {
		return nil, fmt.Errorf("%w: its columns are not those of its header", ErrDamaged)
	}
	if err := r.read(file, s); err != nil {
		return nil, err
	}
	if hex.EncodeToString(s.Sum(nil)) != h.Checksum {
		return nil, fmt.Errorf("%w: its checksum is another", ErrDamaged)
	}
	if _, err := h.about(name); err != nil {
		return nil, err
	}
	t := &Tally{Name: name, header: *h}
	t.cells, err = r.ordered()
	return t, err
}

// rows are those of a tally as they are read.
type rows struct {
	header *header
	found  *tally.Set
	levels []map[string]int // by dimension
	ends   map[string]int
	last   []string
	counts *tally.Counts
}

func endNames() []string {
	var names []string
	for _, e := range cohort.Ends()[1:] {
		names = append(names, e.String())
	}
	return names
}

func newRows(h *header) *rows {
	r := &rows{header: h, ends: make(map[string]int)}
	var dimensions []tally.Dimension
	for _, name := range h.dimensionNames() {
		dimensions, r.levels = append(dimensions, tally.Dimension{Name: name}), append(r.levels, make(map[string]int))
	}
	r.found = tally.NewSet(dimensions, endNames())
	for _, e := range cohort.Ends() {
		if e != cohort.EndOther || len(h.Reasons) > 0 {
			r.ends[e.String()] = int(e)
		}
	}
	return r
}

// read adds all rows of a file, to a checksum too.
func (r *rows) read(file *sheet.Table, to *sum) error {
	cells := make([]string, len(file.Headings))
	for {
		b, err := file.Next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		b.Rows(func(record *sheet.Record) bool {
			if err = record.Err; err != nil {
				return false
			}
			for i := range record.Len() {
				cells[i] = string(record.Cell(i))
			}
			to.row(cells)
			if err = r.add(cells); err != nil {
				err = fmt.Errorf("%w: %v", ErrDamaged, err)
			}
			return err == nil
		})
		b.Release()
		if err != nil {
			return err
		}
	}
}

// add adds a row.
func (r *rows) add(cells []string) error {
	n := len(r.levels)
	if r.counts == nil || !slices.Equal(r.last, cells[:n]) {
		levels := make([]int, n)
		for i, word := range cells[:n] {
			l, known := r.levels[i][word]
			if !known {
				if !r.header.fits(r.found.Dimensions[i].Name, word) {
					return fmt.Errorf("%q in column %s", word, r.found.Dimensions[i].Name)
				}
				l = len(r.levels[i])
				r.levels[i][word] = l
				r.found.Dimensions[i].Levels = append(r.found.Dimensions[i].Levels, word)
			}
			levels[i] = l
		}
		r.last, r.counts = slices.Clone(cells[:n]), r.found.Group(tally.NewKey(levels...))
	}
	day, errDay := strconv.ParseInt(cells[n], 10, 32)
	end, known := r.ends[cells[n+1]]
	joints, err := strconv.ParseInt(cells[n+2], 10, 32)
	if errDay != nil || err != nil || !known || joints < 1 {
		return fmt.Errorf("%q joints that ended as %q on day %q", cells[n+2], cells[n+1], cells[n])
	}
	return r.counts.AddExit(tally.Exit{Day: int32(day), Cause: end, Subjects: joints})
}

// fits says whether a word can stand in a dimension.
func (h *header) fits(dimension, word string) bool {
	switch dimension {
	case cohort.AtomAge, cohort.AtomReach:
		return slices.Contains(h.levels(dimension, nil), word)
	case column.OperationYear:
		y, err := strconv.Atoi(word)
		return err == nil && y >= dates.MinYear && y <= dates.MaxYear
	}
	return word != ""
}

// ordered are the cells read, with the levels in the order in which groups are listed.
func (r *rows) ordered() (*tally.Set, error) {
	var subjects int64
	for _, c := range r.found.All() {
		subjects += c.Subjects()
	}
	if subjects != int64(r.header.Account.Used) {
		return nil, fmt.Errorf("%w: it holds %s, and its header says %d", ErrDamaged, fmt.Sprint(subjects, " joints"), r.header.Account.Used)
	}
	return r.header.order(r.found)
}

// order is sets together, the levels in the order in which groups are listed.
func (h *header) order(sets ...*tally.Set) (*tally.Set, error) {
	var dimensions []tally.Dimension
	for i, d := range sets[0].Dimensions {
		occur := make(map[string]bool)
		for _, s := range sets {
			for _, l := range s.Dimensions[i].Levels {
				occur[l] = true
			}
		}
		dimensions = append(dimensions, tally.Dimension{Name: d.Name, Levels: h.levels(d.Name, occur)})
	}
	ordered := tally.NewSet(dimensions, sets[0].Causes)
	return ordered, ordered.Merge(sets...)
}
