package link

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"example.org/holdfast/cohort/internal/row"
)

// facts are those of a table of operations, one of primaries, one of revisions
// and a list of deaths, closed on day 10,000.
func facts() *row.Facts {
	return &row.Facts{Today: 20_000, Closing: 10_000, LostAfter: 730, Sides: true, Left: 1, Right: 2, Tables: []row.Table{
		{Role: row.Primaries, Patients: true, Operations: true}, {Role: row.Primaries, Patients: true},
		{Role: row.Revisions, Patients: true}, {Role: row.Deaths, Patients: true},
	}}
}

// primary is a row of a table of primaries that says nothing but its operation.
func primary(line int32, side row.Code, op row.Day) row.Row {
	return row.Row{At: row.Place{Block: 1, Index: line}, Table: 1, Patient: 7, Operation: op, Revision: row.NoDay, Death: row.NoDay, Seen: row.NoDay, Birth: row.NoDay,
		Age: row.Age{Years: row.NoAge}, Joint: 1, Side: side}
}

func of(r row.Row, change func(*row.Row)) row.Row {
	change(&r)
	return r
}

// A death told by one joint holds for the other, and stands in neither's cell:
// it is a value with a source.
func TestDeathTakenHasASource(t *testing.T) {
	rows := []row.Row{primary(0, 1, 1000), of(primary(1, 2, 2000), func(r *row.Row) { r.Death = 3000 })}
	var l Linker
	got := l.Patient(rows, facts())
	want := []row.Fate{{Of: -1, RevisionFrom: -1, DeathFrom: 1, Warn: 1 << row.WarnDeathTaken}, {Of: -1, RevisionFrom: -1, DeathFrom: -1}}
	if d := cmp.Diff(want, got.Fates); d != "" {
		t.Error(d)
	}
	joints := []row.Joint{
		{Row: 0, Start: 1000, Revision: row.NoDay, Death: 3000, Again: row.NoDay, Seen: row.NoDay, Exit: 2000, Cause: row.Died, Dead: true},
		{Row: 1, Start: 2000, Revision: row.NoDay, Death: 3000, Again: row.NoDay, Seen: row.NoDay, Exit: 1000, Cause: row.Died, Dead: true},
	}
	if d := cmp.Diff(joints, got.Joints); d != "" {
		t.Error(d)
	}
	if rows[0].Death != row.NoDay {
		t.Errorf("the row as read has the death of %v", rows[0].Death)
	}
}

// A death that is taken away is taken away where it stands, and so from every
// joint that took it over.
func TestMendedWhereTheValueStands(t *testing.T) {
	rows := []row.Row{primary(0, 1, 1000), of(primary(1, 2, 2000), func(r *row.Row) { r.Death, r.Flags = 3000, row.FlagDeadNo })}
	var l, again Linker
	var m Mended
	l.Patient(rows, facts())
	for _, c := range Changes() {
		if c.Reasons[0] != row.AliveWithDeathDate {
			continue
		}
		if !l.Mend(&c, 0, &m) {
			t.Fatal("nothing to mend")
		}
		for _, j := range again.Patient(m.Rows, facts()).Joints {
			if j.Dead || j.Exit != int32(10_000-j.Start) {
				t.Errorf("%+v", j)
			}
		}
	}
}

// mess is any patient: rows of all tables, with what people leave out and get
// wrong.
func mess(r *rand.Rand) []row.Row {
	days := func(from int) row.Day {
		switch r.IntN(8) {
		case 0:
			return row.Impossible
		case 1:
			return row.ShortYear
		case 2, 3, 4:
			return row.NoDay
		}
		return row.Day(from + r.IntN(11_000))
	}
	var rows []row.Row
	patient := uint64(r.IntN(3))
	for table, n := range []int{r.IntN(3), r.IntN(12), r.IntN(3), r.IntN(3)} {
		for i := range n {
			one := row.Row{At: row.Place{Block: int32(table), Index: int32(i)}, Table: int32(table), Patient: patient,
				Operation: row.Day(r.IntN(9000)), Revision: days(0), Death: days(4000), Seen: days(2000), Birth: row.NoDay,
				Age: row.Age{Years: int16(r.IntN(120) - 1), Column: row.ColumnAge}, Joint: row.Code(r.IntN(3)), Side: row.Code(r.IntN(3)), Reason: row.Code(r.IntN(2))}
			if r.IntN(6) == 0 {
				one.Operation = days(0)
			}
			if r.IntN(2) == 0 {
				one.Flags = row.Flags(r.Uint32()) & (row.FlagBare<<1 - 1) & row.Flags(r.Uint32()) & row.Flags(r.Uint32())
			}
			rows = append(rows, one)
		}
	}
	if patient == 0 && len(rows) > 1 { // a row without a patient comes alone
		rows = rows[:1]
	}
	return rows
}

// Linking is a function of the rows: it changes none of them, hangs on nothing
// linked before, and gives every row one fate. Nor does a change supposed touch
// the rows.
func TestPure(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var used, one Linker
	var m Mended
	changes := Changes()
	patients := 20_000
	if testing.Short() {
		patients = 2000
	}
	for range patients {
		rows := mess(r)
		if len(rows) == 0 {
			continue
		}
		before, f := slices.Clone(rows), facts()
		got := used.Patient(rows, f)
		var fresh Linker
		if d := cmp.Diff(fresh.Patient(rows, f), got, cmpopts.EquateEmpty()); d != "" {
			t.Fatalf("linked before others: %s", d)
		}
		if len(got.Fates) != len(rows) {
			t.Fatalf("%d rows, %d fates", len(rows), len(got.Fates))
		}
		inUse := 0
		for i, fate := range got.Fates {
			if fate.Reason == row.Used && f.Tables[rows[i].Table].Role == row.Primaries {
				inUse++
			} else if fate.Warn != 0 {
				t.Errorf("warned of, and not in use: %+v", fate)
			}
		}
		if inUse != len(got.Joints) {
			t.Errorf("%d rows in use, %d joints", inUse, len(got.Joints))
		}
		for _, j := range got.Joints {
			if j.Exit < 0 || int64(j.Exit) > int64(f.Closing-j.Start) {
				t.Errorf("%+v", j)
			}
		}
		for c := range changes {
			for way := range changes[c].Ways() {
				if used.Mend(&changes[c], way, &m) {
					one.Patient(m.Rows, f)
				}
			}
		}
		if d := cmp.Diff(before, rows); d != "" {
			t.Fatalf("the rows given were changed: %s", d)
		}
		if d := cmp.Diff(facts(), f); d != "" {
			t.Fatalf("the facts given were changed: %s", d)
		}
	}
}

// An identifier typed in rows of more operations than anybody has is nobody's:
// each row is linked as if it had none.
func TestNobodys(t *testing.T) {
	var rows []row.Row
	for i := range int32(8) {
		rows = append(rows, primary(i, 1, row.Day(1000+i)))
	}
	rows[7].Death = 5000
	var l Linker
	got := l.Patient(rows, facts())
	if len(got.Joints) != 8 || !got.Nobodys {
		t.Fatalf("%d joints", len(got.Joints))
	}
	for i, j := range got.Joints {
		if j.Dead != (i == 7) || !got.Fates[i].Warn.Has(row.WarnIdentifier) {
			t.Errorf("%+v %+v", j, got.Fates[i])
		}
	}
}

// More rows of primaries than anybody has are a crowd, unless one person is born on one
// day in all of them, or a list has something to do with them.
func TestIsCrowd(t *testing.T) {
	for _, test := range []struct {
		name string
		n    int32
		make func(r *row.Row)
		want bool
	}{
		{"many", 100, func(*row.Row) {}, true},
		{"as many as somebody may have", mostRows, func(*row.Row) {}, false},
		{"one person", 100, func(r *row.Row) { r.Birth = 77 }, false},
		{"born on two days", 100, func(r *row.Row) { r.Birth = 77 + r.Operation%2 }, true},
		{"no patient", 100, func(r *row.Row) { r.Patient = 0 }, false},
		{"with a row of a list", 100, func(r *row.Row) { r.Table += int32(r.Operation / 1099) }, false},
	} {
		rows := func(yield func(*row.Row) bool) {
			for i := range test.n {
				r := primary(i, 1, row.Day(1000+i))
				if test.make(&r); !yield(&r) {
					return
				}
			}
		}
		if got := IsCrowd(rows, facts()); got != test.want {
			t.Errorf("%s: %v", test.name, got)
		}
	}
}

func BenchmarkPatient(b *testing.B) {
	one, two := []row.Row{primary(0, 1, 1000)}, []row.Row{primary(0, 1, 1000), of(primary(1, 2, 2000), func(r *row.Row) { r.Revision = 3000 })}
	f := facts()
	for name, rows := range map[string][]row.Row{"rows=1": one, "rows=2": two} {
		b.Run(name, func(b *testing.B) {
			var l Linker
			for b.Loop() {
				l.Patient(rows, f)
			}
		})
	}
}
