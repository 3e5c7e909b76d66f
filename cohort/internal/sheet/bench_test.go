package sheet_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"math/rand/v2"
	"sync"
	"testing"
	"time"

	"example.org/holdfast/cohort/internal/sheet"
)

// invented is an invented outcomes table of n rows with 12 short columns.
func invented(n int) []byte {
	r := rand.New(rand.NewPCG(1, 2))
	pick := func(words ...string) string { return words[r.IntN(len(words))] }
	start := time.Date(2005, 1, 1, 0, 0, 0, 0, time.UTC)
	var b bytes.Buffer
	b.WriteString("joint_id,patient,operation_date,joint,side,procedure,bearing,fixation,age,sex,revision_date,death_date\n")
	for i := range n {
		op := start.AddDate(0, 0, r.IntN(5000))
		revision, death := "", ""
		if r.IntN(20) == 0 {
			revision = op.AddDate(0, 0, r.IntN(3000)).Format(time.DateOnly)
		}
		if r.IntN(8) == 0 {
			death = op.AddDate(0, 0, r.IntN(5000)).Format(time.DateOnly)
		}
		fmt.Fprintf(&b, "%d,P%07d,%s,%s,%s,total,%s,%s,%d,%s,%s,%s\n", i+1, r.IntN(n), op.Format(time.DateOnly),
			pick("hip", "knee"), pick("left", "right"), pick("CoP", "MoP", "CoC", "MoXLPE"),
			pick("cemented", "porous", "hybrid"), 40+r.IntN(50), pick("M", "F"), revision, death)
	}
	return b.Bytes()
}

// quoted puts every cell of an invented table in quotation marks.
func quoted(text []byte) []byte {
	text = bytes.ReplaceAll(bytes.TrimSuffix(text, []byte("\n")), []byte(","), []byte(`","`))
	text = bytes.ReplaceAll(text, []byte("\n"), []byte("\"\n\""))
	return append(append([]byte{'"'}, text...), "\"\n"...)
}

// BenchmarkRead measures reading and splitting by one goroutine and by two,
// and encoding/csv on the same text.
func BenchmarkRead(b *testing.B) {
	for _, n := range []int{1e5, 1e6} {
		text := invented(n)
		name := fmt.Sprintf("rows=%.0e", float64(n))
		b.Run("style=plain/workers=1/"+name, func(b *testing.B) { benchmarkRead(b, text, n, 1) })
		b.Run("style=plain/workers=2/"+name, func(b *testing.B) { benchmarkRead(b, text, n, 2) })
		b.Run("style=quoted/workers=1/"+name, func(b *testing.B) { benchmarkRead(b, quoted(text), n, 1) })
		b.Run("style=quoted/workers=2/"+name, func(b *testing.B) { benchmarkRead(b, quoted(text), n, 2) })
		b.Run("style=plain/encoding-csv/"+name, func(b *testing.B) { benchmarkCSV(b, text) })
		b.Run("style=quoted/encoding-csv/"+name, func(b *testing.B) { benchmarkCSV(b, quoted(text)) })
	}
}

func benchmarkRead(b *testing.B, text []byte, n, workers int) {
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		t, err := sheet.Open(context.Background(), "t.csv", bytes.NewReader(text), sheet.Options{})
		if err != nil {
			b.Fatal(err)
		}
		records := make([]int, workers)
		var wg sync.WaitGroup
		for w := range workers {
			wg.Go(func() {
				k := 0
				defer func() { records[w] = k }()
				for {
					batch, err := t.Next()
					if err != nil {
						return
					}
					for r := range batch.Rows {
						if r.Len() > 0 {
							k++
						}
					}
					batch.Release()
				}
			})
		}
		wg.Wait()
		total := 0
		for _, k := range records {
			total += k
		}
		if total != n {
			b.Fatalf("%d records of %d", total, n)
		}
	}
}

func benchmarkCSV(b *testing.B, text []byte) {
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		r := csv.NewReader(bytes.NewReader(text))
		r.ReuseRecord = true
		for {
			if _, err := r.Read(); err == io.EOF {
				break
			} else if err != nil {
				b.Fatal(err)
			}
		}
	}
}
