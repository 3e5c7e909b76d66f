package store_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

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
	}{
		{"one part", 1, 300, 200},
		{"no row", 1, 0, 1},
		{"one patient in more rows than a block has", 1, 3000, 1},
		{"parts of an unknown size", 0, 5000, 3000},
		{"many parts, of many blocks", 1 << 28, 60_000, 900},
	} {
		t.Run(test.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(7, uint64(test.rows)))
			s := store.New(test.bytes)
			want := make(map[uint64][]line)
			alone := 0
			for table := range int32(2) {
				columns := store.Columns{Patient: true, Fields: store.CoreCount + 2}
				writers := []*store.Writer{s.NewWriter(columns), s.NewWriter(columns), s.NewWriter(columns)}
				for i := range test.rows {
					record := store.Record{Line: int32(i + 2), Codes: make([]row.Code, columns.Fields)}
					if r.IntN(10) > 0 {
						record.Patient = store.Identifier((1+r.Uint64N(test.patients))*0x9E3779B97F4A7C15, -1)
						want[record.Patient] = append(want[record.Patient], line{table, record.Line})
					} else {
						alone++
					}
					writers[r.IntN(len(writers))].Add(&record)
				}
				s.Add(&store.Table{Columns: columns}, writers)
			}
			got := make(map[uint64][]line)
			for part := range s.Parts() {
				for rows := range s.Patients(part, nil, nil) {
					who := rows[0].Patient
					if who == 0 && len(rows) == 1 {
						alone--
						continue
					}
					if got[who] != nil {
						t.Fatalf("patient %x came twice", who)
					}
					for _, one := range rows {
						if one.Patient != who {
							t.Fatalf("patients %x and %x together", who, one.Patient)
						}
						got[who] = append(got[who], line{one.Table, int32(s.Blocks[one.At.Block].Line(int(one.At.Index)))})
					}
				}
			}
			if d := cmp.Diff(want, got, cmp.AllowUnexported(line{})); d != "" || alone != 0 {
				t.Errorf("%d rows without a patient too few (-want +got):\n%s", alone, d)
			}
			all := s.InOrder()
			if len(all) != 2*test.rows || !slices.IsSortedFunc(all, s.Compare) {
				t.Errorf("%d rows in order", len(all))
			}
		})
	}
}

// A patient's rows given to a visitor that stops are no fault.
func TestPatientsStop(t *testing.T) {
	s := store.New(1)
	w := s.NewWriter(store.Columns{Patient: true, Fields: store.CoreCount + 2})
	for i := range 10 {
		w.Add(&store.Record{Line: int32(i), Patient: store.Identifier(uint64(i%3+1)<<8, -1), Codes: make([]row.Code, store.CoreCount+2)})
	}
	s.Add(new(store.Table), []*store.Writer{w})
	for range s.Patients(0, nil, nil) {
		break
	}
	n := 0
	for range s.Patients(0, nil, nil) {
		n++
	}
	if n != 3 || w.Rows() != 10 || s.Rows() != 10 {
		t.Errorf("%d patients of %d rows, %d taken", n, s.Rows(), w.Rows())
	}
}
