package table

import (
	"slices"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/store"
)

// DateColumns are the names of the date columns, in the order of their cells.
var DateColumns = [store.DateCount]string{store.Operation: "operation_date", store.Revision: "revision_date", store.Death: "death_date", store.Seen: "last_seen_date", store.Birth: "birth_date"}

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

var SignatureColumns = [signatureLength]string{"joint", "side", "procedure", "operation_type", "bearing", "head", "liner", "polyethylene",
	"fixation", "cup_fixation", "stem_fixation", "tibia_fixation", "femur_fixation"}

// signature is the typed words of those columns, numbered by vocabulary.
type signature [signatureLength]uint32

// CoreFields are the fields that every cohort has.
var CoreFields = [store.CoreCount]string{store.Joint: "joint", store.Procedure: "procedure", store.Bearing: "bearing", store.Fixation: "fixation", store.Side: "side"}

// The fields that every cohort has too, first among the extra ones.
const (
	ExtraSex = iota
	ExtraReason
)

// layout says in which cell of a table's rows each column stands; −1: nowhere.
type layout struct {
	headings  int
	text      bool // rows have as many cells as they are written with
	dates     [store.DateCount]int
	age       int
	birthYear int
	revised   int
	dead      int
	patient   int
	apart     []byte // before its patients' numbers, which are of this table alone; nil where they are not
	initials  int
	name      int // of the joint, where it joins tables
	signature [signatureLength]int
	extra     []int
	again     []bool // by extra: the cell is read for another column too, which counts the missing
	others    []int  // cells of no known column, whose completeness is asked for
	worded    []int  // cells of words, but for those of extra fields
}

func newLayout(headings []Heading, extra []*Field, everyColumn, names bool) layout {
	at := func(column string) int {
		return slices.IndexFunc(headings, func(h Heading) bool { return h.Column == column })
	}
	l := layout{headings: len(headings), age: at("age"), birthYear: at("birth_year"), revised: at("revised"), dead: at("dead"), patient: at("patient"), initials: at("initials"), name: -1}
	if names {
		l.name = at(column.JointID)
	}
	for i, c := range DateColumns {
		l.dates[i] = at(c)
	}
	for i, c := range SignatureColumns {
		l.signature[i] = at(c)
	}
	for _, i := range append(l.signature[:], l.revised, l.dead) {
		if i >= 0 {
			l.worded = append(l.worded, i)
		}
	}
	read := l.cells()
	for _, f := range extra {
		i := at(f.Name)
		if i < 0 {
			i = slices.IndexFunc(headings, func(h Heading) bool {
				return h.Column == "" && h.How != LeftOut && column.Plain(h.Typed) == column.Plain(f.Name)
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
	cells := append([]int{l.age, l.birthYear, l.revised, l.dead, l.patient, l.initials, l.name}, l.extra...)
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

// columns are those of the layout's table for which rows need room.
func (l *layout) columns() store.Columns {
	c := store.Columns{Patient: l.patient >= 0, Initials: l.initials >= 0, Names: l.name >= 0, Fields: store.CoreCount + len(l.extra)}
	for i, at := range l.dates {
		c.Dates[i] = at >= 0
	}
	return c
}
