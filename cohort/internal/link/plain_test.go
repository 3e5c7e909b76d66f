package link

import (
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort/internal/row"
)

// nearlyPlain are rows of a patient of whom there is little to judge, or nothing: days
// before and after the closing date, today and each other, or on one day.
func nearlyPlain(r *rand.Rand, f *row.Facts) []row.Row {
	seldom := func() bool { return r.IntN(12) == 0 }
	f.Sides, f.Today = r.IntN(2) == 0, f.Closing+row.Day(r.IntN(300)-50)
	day := func(from row.Day) row.Day {
		switch {
		case seldom():
			return row.NoDay + row.Day(r.IntN(3))
		case r.IntN(4) > 0 || !from.Known():
			return row.NoDay
		}
		return from + []row.Day{0, 1, -1, row.Day(r.IntN(900))}[r.IntN(4)]
	}
	var death row.Day
	rows := make([]row.Row, 1+r.IntN(3)*r.IntN(4))
	for i := range rows {
		one := primary(int32(i), 1, f.Closing-row.Day(r.IntN(1200)-20))
		one.Table = int32(r.IntN(2))
		one.Joint, one.Side = row.Code(1+r.IntN(6)), row.Code(1+r.IntN(2))
		one.Revision, one.Seen = day(one.Operation), day(one.Operation)
		if i == 0 || seldom() {
			death = day(one.Operation)
		}
		one.Death = death
		if one.Age.Years = int16(40 + r.IntN(60)); one.Revision.Known() {
			one.Reason = row.Code(r.IntN(3))
		}
		if r.IntN(3) == 0 {
			one.Flags = row.FlagOperationTypePrimary
		}
		if r.IntN(3) == 0 {
			for _, says := range []struct {
				day     row.Day
				yes, no row.Flags
			}{{one.Revision, row.FlagRevisedYes, row.FlagRevisedNo}, {one.Death, row.FlagDeadYes, row.FlagDeadNo}} {
				if no := says.day == row.NoDay; no != seldom() {
					one.Flags |= says.no
				} else {
					one.Flags |= says.yes
				}
			}
		}
		if seldom() {
			[]func(){
				func() { one.Table = int32(r.IntN(4)) },
				func() {
					one.Age.Years = []int16{row.NoAge, row.Unborn, row.MinAge - 1, row.MinAge, row.MaxAge, row.MaxAge + 1}[r.IntN(6)]
				},
				func() { one.Age.Unreadable = row.ColumnAge },
				func() { one.Age.Disagrees = true },
				func() { one.Reason = 3 },
				func() { one.Joint = 0 },
				func() { one.Side, one.Flags = 0, one.Flags|row.FlagSideMissing },
				func() { one.Flags |= 1 << r.IntN(27) },
				func() { one.Operation = row.NoDay + row.Day(r.IntN(3)) },
			}[r.IntN(9)]()
		}
		if rows[i] = one; len(rows) > 1 || r.IntN(2) == 0 {
			continue
		}
		rows[i].Patient = 0
	}
	return rows
}

// A plain patient comes to the same if all rules are applied, and is judged alike by a
// linker that had others before.
func plainAlike(t *testing.T, seed uint64, patients int) (plain int) {
	r := rand.New(rand.NewPCG(seed, 3))
	var short, long Linker
	changes := Changes()
	for range patients {
		f := facts()
		rows := nearlyPlain(r, f)
		short.Crowd = r.IntN(50) == 0
		long.Crowd = short.Crowd
		got := *short.Patient(rows, f)
		if short.plain() {
			plain++
		}
		long.begin(rows, f)
		long.judgeAll()
		want := row.Linked{Fates: long.fates, Joints: long.joints, Nobodys: long.nobodys, OnList: long.linked.OnList, ListJoined: long.linked.ListJoined}
		if d := cmp.Diff(want, got); d != "" {
			t.Fatalf("seed %d, rows %+v, facts %+v: all rules −, short way +\n%s", seed, rows, f, d)
		}
		if r.IntN(10) > 0 {
			continue
		}
		for _, c := range changes {
			for way := range c.Ways() {
				var one, other Mended
				long.begin(rows, f)
				long.judgeAll()
				any := long.Mend(&c, way, &other)
				short.Patient(rows, f)
				if short.Mend(&c, way, &one) != any || any && !reflect.DeepEqual(one.Rows, other.Rows) {
					t.Fatalf("seed %d, rows %+v, facts %+v, %s: %+v, by all rules %+v", seed, rows, f, c.Problem, one.Rows, other.Rows)
				}
			}
		}
	}
	return plain
}

func TestPlainPatientsAreJudgedAlike(t *testing.T) {
	const patients = 50_000
	if plain := plainAlike(t, 1, patients); plain < patients/5 || plain > patients*4/5 {
		t.Errorf("%d of %d patients are plain: too many or too few to compare", plain, patients)
	}
}

func FuzzPlainPatients(f *testing.F) {
	f.Add(uint64(2))
	f.Fuzz(func(t *testing.T, seed uint64) { plainAlike(t, seed, 200) })
}
