package link

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort/internal/row"
)

// Rows with identifiers 7 and 007, and of lists. A row's number of zeros is what
// tells them apart; row 0 is always 007.
func TestHoldersOf(t *testing.T) {
	// one is a row of the primaries with so many zeros, on a side of its own.
	one := func(zeros uint8, change func(*row.Holder)) row.Holder {
		h := row.Holder{Zeros: zeros, Operation: row.Day(1000 + int32(zeros)), Birth: row.NoDay, Joint: 1, Side: row.Code(1 + zeros)}
		if change != nil {
			change(&h)
		}
		return h
	}
	born := func(day row.Day) func(*row.Holder) {
		return func(h *row.Holder) { h.Birth, h.BornAt, h.BornBy = day, 1950, 1950 }
	}
	year := func(from, to int16, sex row.Code) func(*row.Holder) {
		return func(h *row.Holder) { h.BornAt, h.BornBy, h.Sex = from, to, sex }
	}
	sex := func(code row.Code) func(*row.Holder) { return func(h *row.Holder) { h.Sex = code } }
	list := func(role row.Role, zeros uint8, side row.Code) row.Holder {
		return row.Holder{Role: role, Zeros: zeros, Operation: row.NoDay, Birth: row.NoDay, Joint: 1, Side: side}
	}
	for _, test := range []struct {
		name string
		rows []row.Holder
		want row.Holders
	}{
		{"nothing tells", []row.Holder{one(3, nil), one(1, nil), one(1, nil)},
			row.Holders{Of: []int32{0, 1, 1}, Apart: []row.Pair{{At: 1, Of: 0}, {At: 2, Of: 0}}}},
		{"born on one day", []row.Holder{one(3, born(-9000)), one(1, born(-9000))}, row.Holders{Of: []int32{0, 0}}},
		{"born on two days", []row.Holder{one(3, born(-9000)), one(1, born(-9001))}, row.Holders{Of: []int32{0, 1}}},
		{"born in one year, of one sex", []row.Holder{one(3, year(1950, 1950, 1)), one(1, year(1950, 1950, 1))}, row.Holders{Of: []int32{0, 0}}},
		{"born in one year, of two sexes", []row.Holder{one(3, year(1950, 1950, 1)), one(1, year(1950, 1950, 2))}, row.Holders{Of: []int32{0, 1}}},
		{"born in one year, the sex not known", []row.Holder{one(3, year(1950, 1950, 1)), one(1, year(1950, 1950, 0))},
			row.Holders{Of: []int32{0, 1}, Apart: []row.Pair{{At: 1, Of: 0}}}},
		{"ages that agree are no evidence", []row.Holder{one(3, year(1949, 1950, 1)), one(1, year(1949, 1950, 1))},
			row.Holders{Of: []int32{0, 1}, Apart: []row.Pair{{At: 1, Of: 0}}}},
		{"ages that contradict are", []row.Holder{one(3, year(1949, 1950, 1)), one(1, year(1951, 1952, 1))}, row.Holders{Of: []int32{0, 1}}},
		{"of two sexes", []row.Holder{one(3, sex(1)), one(1, sex(2))}, row.Holders{Of: []int32{0, 1}}},
		{"one operation", []row.Holder{one(3, nil), one(1, func(h *row.Holder) { h.Side, h.Operation = 4, 1003 })}, row.Holders{Of: []int32{0, 0}}},
		{"one operation, of two sexes", []row.Holder{one(3, sex(1)), one(1, func(h *row.Holder) { h.Side, h.Operation, h.Sex = 4, 1003, 2 })}, row.Holders{Of: []int32{0, 1}}},
		{"one day, another side", []row.Holder{one(3, nil), one(1, func(h *row.Holder) { h.Operation = 1003 })},
			row.Holders{Of: []int32{0, 1}, Apart: []row.Pair{{At: 1, Of: 0}}}},
		{"three forms, the third like the first", []row.Holder{one(3, born(-9000)), one(1, born(-9001)), one(2, born(-9000))}, row.Holders{Of: []int32{0, 1, 0}}},
		{"two patients joined by a third form", []row.Holder{one(3, sex(1)), one(1, born(-9000)), one(2, func(h *row.Holder) { h.Side, h.Operation, h.Birth = 4, 1003, -9000 })},
			row.Holders{Of: []int32{0, 0, 0}}},
		{"two that contradict are not joined by a third", []row.Holder{one(3, sex(1)), one(1, func(h *row.Holder) { h.Birth, h.Sex = -9000, 2 }),
			one(2, func(h *row.Holder) { h.Side, h.Operation, h.Birth = 4, 1003, -9000 })}, row.Holders{Of: []int32{0, 1, 0}, Apart: []row.Pair{{At: 2, Of: 1}}}},
		{"a death under the only form there is", []row.Holder{one(3, nil), one(3, func(h *row.Holder) { h.Side = 9 }), list(row.Deaths, 1, 0)},
			row.Holders{Of: []int32{0, 0, 0}, Joined: []row.Pair{{At: 0, Of: 2}, {At: 1, Of: 2}}}},
		{"a revision bears on its own joint", []row.Holder{one(3, nil), one(3, func(h *row.Holder) { h.Side = 9 }), list(row.Revisions, 1, 9)},
			row.Holders{Of: []int32{0, 0, 0}, Joined: []row.Pair{{At: 1, Of: 2}}}},
		{"a list's own form goes before", []row.Holder{one(3, born(-9000)), one(1, born(-9001)), list(row.Deaths, 1, 0)}, row.Holders{Of: []int32{0, 1, 1}}},
		{"a list's form that may be of two", []row.Holder{one(3, born(-9000)), one(1, born(-9001)), list(row.Deaths, 2, 0)}, row.Holders{Of: []int32{0, 1, 2}}},
		{"a list's form of another sex", []row.Holder{one(3, sex(1)), func() row.Holder { h := list(row.Deaths, 1, 0); h.Sex = 2; return h }()},
			row.Holders{Of: []int32{0, 1}}},
		{"lists alone", []row.Holder{list(row.Deaths, 3, 0), list(row.Revisions, 1, 1)}, row.Holders{Of: []int32{0, 1}}},
	} {
		if d := cmp.Diff(test.want, HoldersOf(test.rows)); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
	}
}
