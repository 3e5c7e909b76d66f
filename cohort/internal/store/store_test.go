package store_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/store"
)

// line is a row by its table and line.
type line struct{ table, line int32 }

// Every row comes once, with all others of its patient and nobody else's, in the
// order of tables and lines: whatever the number of parts, of tables and of
// those who read a table side by side, and however many rows a patient has.
func TestPatientsAreWhole(t *testing.T) {
	for _, test := range []struct {
		name     string
		bytes    int64
		rows     int
		patients uint64
		apart    int32 // lines from one row to the next
	}{
		{"one part", 1, 300, 200, 1},
		{"no row", 1, 0, 1, 1},
		{"one patient in more rows than a block has", 1, 3000, 1, 1},
		{"parts of an unknown size", 0, 5000, 3000, 1},
		{"many parts, of many blocks", 1 << 28, 60_000, 900, 1},
		{"lines not far apart, and far in parts", 0, 5000, 3000, 65},
		{"lines far apart", 1, 3000, 2000, 1 << 19},
	} {
		t.Run(test.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(7, uint64(test.rows)))
			s := store.New(test.bytes)
			want := make(map[line][]line) // by the first
			of := make(map[uint64][]line)
			alone := 0
			for table := range int32(2) {
				columns := store.Columns{Patient: true, Fields: store.CoreCount + 2}
				writers := []*store.Writer{s.NewWriter(columns), s.NewWriter(columns), s.NewWriter(columns)}
				for i := range test.rows {
					record := store.Record{Line: int32(i)*test.apart + 2, Codes: make([]row.Code, columns.Fields)}
					if r.IntN(10) > 0 {
						record.Patient = store.Identifier((1+r.Uint64N(test.patients))*0x9E3779B97F4A7C15, -1)
						of[record.Patient] = append(of[record.Patient], line{table, record.Line})
					} else {
						alone++
					}
					writers[r.IntN(len(writers))].Add(&record)
				}
				s.Add(&store.Table{Columns: columns}, writers)
			}
			for _, lines := range of {
				want[lines[0]] = lines
			}
			s.Arrange(nil)
			got, seen, whose := make(map[line][]line), make(map[uint64]bool), s.Whose()
			for part := range s.Parts() {
				for rows := range s.Patients(part, nil, nil) {
					who := rows[0].Patient
					if who == 0 && len(rows) == 1 {
						alone--
						continue
					}
					if who == 0 || seen[who] {
						t.Fatalf("patient %d came twice", who)
					}
					seen[who] = true
					var lines []line
					for _, one := range rows {
						if one.Patient != who || whose(one.At) != who {
							t.Fatalf("patients %d, %d and %d together", who, one.Patient, whose(one.At))
						}
						lines = append(lines, line{one.Table, int32(s.Blocks[one.At.Block].Line(int(one.At.Index)))})
					}
					got[lines[0]] = lines
				}
			}
			if d := cmp.Diff(want, got, cmp.AllowUnexported(line{})); d != "" || alone != 0 {
				t.Errorf("%d rows without a patient too few (-want +got):\n%s", alone, d)
			}
			all := s.InOrder()
			if len(all) != 2*test.rows || !slices.IsSortedFunc(all, s.Compare) {
				t.Errorf("%d rows in order", len(all))
			}
			for i, at := range all {
				if got, want := s.Blocks[at.Block].Line(int(at.Index)), i%test.rows*int(test.apart)+2; got != want {
					t.Fatalf("line %d, want %d", got, want)
				}
			}
		})
	}
}

// A patient's rows given to a visitor that stops are no fault.
func TestPatientsStop(t *testing.T) {
	s := store.New(1)
	w := s.NewWriter(store.Columns{Patient: true, Fields: store.CoreCount + 2})
	for i, who := range []int{1, 2, 3, 4, 1, 2, 0, 1, 2, 0} {
		r := &store.Record{Line: int32(i), Codes: make([]row.Code, store.CoreCount+2)}
		if who > 0 {
			r.Patient = store.Identifier(uint64(who)<<8, -1)
		}
		w.Add(r)
	}
	s.Add(new(store.Table), []*store.Writer{w})
	s.Arrange(nil)
	const patients = 6
	for stop := range patients {
		n := 0
		for range s.Patients(0, nil, nil) {
			if n++; n > stop {
				break
			}
		}
		if n != stop+1 {
			t.Errorf("%d patients, want %d", n, stop+1)
		}
	}
	n := 0
	for range s.Patients(0, nil, nil) {
		n++
	}
	if n != patients || w.Rows() != 10 || s.Rows() != 10 {
		t.Errorf("%d patients of %d rows, %d taken", n, s.Rows(), w.Rows())
	}
}

// Every row is given as it was taken, however many different words there are and
// whichever rows tell of something after the operation.
func TestRowsAreAsTaken(t *testing.T) {
	for _, rows := range []int{1, 64, 65, 1024, 1025, 150_000} {
		r := rand.New(rand.NewPCG(7, uint64(rows)))
		s := store.New(int64(rows))
		columns := store.Columns{Patient: true, Fields: store.CoreCount + 2}
		columns.Dates[store.Seen] = rows%2 == 0
		w := s.NewWriter(columns)
		taken := make([]store.Record, rows)
		for i := range taken {
			one := &taken[i]
			*one = store.Record{Line: int32(i), Age: int16(r.IntN(100)), Flags: row.Flags(r.IntN(4)), Codes: make([]row.Code, columns.Fields)}
			one.Codes[store.Bearing], one.Codes[store.Fixation] = row.Code(i), row.Code(i>>16)
			one.Dates[store.Operation] = dates.Of(r.Int32N(20_000))
			for _, c := range []int{store.Revision, store.Death} {
				if r.IntN(1+i/500%7) == 0 {
					one.Dates[c] = dates.Of(20_000 + r.Int32N(1000))
				}
			}
			w.Add(one)
		}
		s.Add(&store.Table{Columns: columns}, []*store.Writer{w})
		s.Arrange(nil)
		all := s.InOrder()
		if len(all) != rows {
			t.Fatalf("%d of %d rows", len(all), rows)
		}
		for i, at := range all {
			b, want := s.Blocks[at.Block], &taken[i]
			n := int(at.Index)
			for c, raw := range want.Dates {
				if day, known := raw.Settled(); known && b.Day(c, n) != row.Day(day) || raw == dates.Missing && b.Day(c, n) != row.NoDay {
					t.Fatalf("%d rows: row %d: date %d is %v, was %v", rows, i, c, b.Day(c, n), raw)
				}
			}
			if b.Flags(n) != want.Flags || b.Codes(store.Bearing)(n) != want.Codes[store.Bearing] || b.Codes(store.Fixation)(n) != want.Codes[store.Fixation] {
				t.Fatalf("%d rows: row %d has the words of another", rows, i)
			}
		}
		for part := range s.Parts() {
			for of := range s.Patients(part, nil, nil) {
				rows--
				want := &taken[s.Blocks[of[0].At.Block].Line(int(of[0].At.Index))]
				if day, known := want.Dates[store.Death].Settled(); known != of[0].Death.Known() || known && of[0].Death != row.Day(day) || of[0].Age.Years != want.Age || of[0].Flags != want.Flags {
					t.Fatalf("%d rows: row %d comes as %+v, was %+v", rows, want.Line, of[0], *want)
				}
			}
		}
		if rows != 0 {
			t.Errorf("%d rows of no patient came too few", rows)
		}
	}
}
