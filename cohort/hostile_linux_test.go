package cohort_test

import (
	"archive/zip"
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/testtable"
)

// The most resident memory and time that reading any file of these tests may
// take, however it is made. The memory is four times the texts that a workbook may
// share; the time allows for a slow machine.
const (
	hostileMemory = 512 << 20
	hostileTime   = 60 * time.Second
)

// repeat writes a text so often.
func repeat(w io.Writer, s string, n int) error {
	var err error
	block := []byte(strings.Repeat(s, max(1, 1<<16/len(s))))
	for left := n * len(s); left > 0 && err == nil; left -= len(block) {
		_, err = w.Write(block[:min(left, len(block))])
	}
	return err
}

// number writes f(0) to f(n-1).
func number(w io.Writer, n int, f func(i int) string) error {
	for i := range n {
		if _, err := io.WriteString(w, f(i)); err != nil {
			return err
		}
	}
	return nil
}

// part is one part of a workbook, and what is written in its place.
type part struct {
	name  string
	write func(w io.Writer) error
}

// wholeSheet is a sheet around rows.
func wholeSheet(rows func(w io.Writer) error, after string) func(w io.Writer) error {
	return func(w io.Writer) error {
		io.WriteString(w, `<?xml version="1.0"?><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`+
			`<row r="1"><c r="A1" t="inlineStr"><is><t>operation_date</t></is></c><c r="B1" t="inlineStr"><is><t>revision_date</t></is></c></row>`)
		if err := rows(w); err != nil {
			return err
		}
		_, err := io.WriteString(w, `</sheetData>`+after+`</worksheet>`)
		return err
	}
}

// book writes a workbook of one sheet with some parts replaced.
func book(parts ...part) func(w io.Writer) error {
	return func(w io.Writer) error {
		var plain bytes.Buffer
		table := testtable.Strings([]string{"operation_date", "revision_date"}, [][]string{{"2019-04-03", ""}})
		if err := testtable.WriteWorkbook(&plain, table.Workbook("Joints")); err != nil {
			return err
		}
		z, err := zip.NewReader(bytes.NewReader(plain.Bytes()), int64(plain.Len()))
		if err != nil {
			return err
		}
		out := zip.NewWriter(w)
		for _, f := range z.File {
			to, err := out.Create(f.Name)
			if err != nil {
				return err
			}
			replaced := false
			for _, p := range parts {
				if p.name == f.Name {
					replaced = true
					buffered := bufio.NewWriterSize(to, 1<<16)
					if err := errors.Join(p.write(buffered), buffered.Flush()); err != nil {
						return err
					}
				}
			}
			if replaced {
				continue
			}
			from, err := f.Open()
			if err != nil {
				return err
			}
			if _, err := io.Copy(to, from); err != nil {
				return err
			}
		}
		return out.Close()
	}
}

const sheet1 = "xl/worksheets/sheet1.xml"

// scattered is a text of n bytes that does not shrink much.
func scattered(i, n int) string {
	var b strings.Builder
	x := uint64(i)*0x9e3779b97f4a7c15 + 1
	for b.Len() < n {
		x ^= x << 13
		x ^= x >> 7
		x ^= x << 17
		b.WriteString(strconv.FormatUint(x, 36))
	}
	return b.String()[:n]
}

var hostileFiles = []struct {
	name  string
	write func(w io.Writer) error
	want  error // nil: the table is read
	rows  int
}{
	{"rows that unpack to 400 MiB", book(part{sheet1, wholeSheet(func(w io.Writer) error {
		return repeat(w, `<row><c t="inlineStr"><is><t>2019-04-03</t></is></c></row>`, 400<<20/58)
	}, "")}), sheet.ErrTooLarge, 0},
	{"shared texts of 140 MiB", book(part{"xl/sharedStrings.xml", func(w io.Writer) error {
		io.WriteString(w, `<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">`)
		if err := number(w, 140<<10, func(i int) string { return "<si><t>" + scattered(i, 1<<10) + "</t></si>" }); err != nil {
			return err
		}
		_, err := io.WriteString(w, `</sst>`)
		return err
	}}), sheet.ErrTooLarge, 0},
	{"too many shared texts", book(part{"xl/sharedStrings.xml", func(w io.Writer) error {
		io.WriteString(w, `<sst xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">`)
		if err := number(w, 1<<22+1, func(i int) string { return "<si><t>" + scattered(i, 6) + "</t></si>" }); err != nil {
			return err
		}
		_, err := io.WriteString(w, `</sst>`)
		return err
	}}), sheet.ErrTooLarge, 0},
	{"a million elements inside one another", book(part{sheet1, wholeSheet(func(w io.Writer) error { return repeat(w, "<a>", 1_000_000) }, "")}), sheet.ErrCorrupt, 0},
	{"a cell of 40 MiB", book(part{sheet1, wholeSheet(func(w io.Writer) error {
		io.WriteString(w, `<row r="2"><c r="A2" t="inlineStr"><is><t>`)
		if err := number(w, 40<<10, func(i int) string { return scattered(i, 1<<10) }); err != nil {
			return err
		}
		_, err := io.WriteString(w, `</t></is></c></row>`)
		return err
	}, "")}), sheet.ErrTooLarge, 0},
	{"a tag of 40 MiB", book(part{sheet1, wholeSheet(func(w io.Writer) error {
		return number(w, 40<<10, func(i int) string {
			if i == 0 {
				return "<row "
			}
			return fmt.Sprintf("a%d=%q ", i, scattered(i, 1000))
		})
	}, "")}), sheet.ErrTooLarge, 0},
	{"a million merged cells", book(part{sheet1, wholeSheet(func(w io.Writer) error {
		return number(w, 1, func(int) string { return `<row r="2"><c r="A2" t="inlineStr"><is><t>2019-04-03</t></is></c></row>` })
	}, "<mergeCells>"+strings.Repeat(`<mergeCell ref="C3:C4"/>`, 1_000_000)+"</mergeCells>")}), nil, 1},
	{"16,384 columns", book(part{sheet1, wholeSheet(func(w io.Writer) error {
		return number(w, 200, func(i int) string {
			return fmt.Sprintf(`<row r="%d"><c r="A%d" t="inlineStr"><is><t>2019-04-03</t></is></c><c r="XFD%d"><v>1</v></c></row>`, i+2, i+2, i+2)
		})
	}, "")}), nil, 200},
	{"a line of 300 MiB", func(w io.Writer) error {
		io.WriteString(w, "operation_date,revision_date\n2019-04-03,\n")
		return repeat(w, "2019-04-03,", 300<<20/11)
	}, nil, 2},
	{"no line end in 300 MiB", func(w io.Writer) error { return repeat(w, "operation_date,", 300<<20/15) }, sheet.ErrLongRecord, 0},
	{"a quotation mark that never closes before 200 MiB", func(w io.Writer) error {
		io.WriteString(w, "operation_date,revision_date,notes\n2019-04-03,,\"x\n")
		return repeat(w, "2019-04-03,,abcdefghijklmnopqrstuvwxyz\n", 1_000_000)
	}, nil, 1_000_001},
	{"10,000 columns", func(w io.Writer) error {
		io.WriteString(w, "operation_date,revision_date")
		for i := range 9_998 {
			fmt.Fprintf(w, ",column %d", i)
		}
		return number(w, 2_000, func(int) string { return "\n2019-04-03," + strings.Repeat(",1", 9_998) })
	}, nil, 2_000},
	{"300,000 rows, each with a diagnosis of its own", func(w io.Writer) error {
		io.WriteString(w, "operation_date,revision_date,diagnosis,notes\n")
		return number(w, 300_000, func(i int) string { return "2019-04-03,," + scattered(i, 12) + ",\n" })
	}, nil, 300_000},
	{"four million empty lines", func(w io.Writer) error {
		io.WriteString(w, "operation_date,revision_date\n2019-04-03,\n")
		return repeat(w, ",,,,,,\n", 4_000_000)
	}, nil, 1},
}

// Files made to exhaust a reader are read, or refused with the right reason, in
// bounded memory and time. Each is read in a process of its own, which reports
// the most memory it held.
func TestHostileFiles(t *testing.T) {
	if name := os.Getenv("HOLDFAST_HOSTILE"); name != "" {
		readHostile(t, name)
		return
	}
	if testing.Short() {
		t.Skip("writes and reads hundreds of MiB")
	}
	for _, tt := range hostileFiles {
		t.Run(tt.name, func(t *testing.T) {
			name := filepath.Join(t.TempDir(), "hostile")
			f, err := os.Create(name)
			if err != nil {
				t.Fatal(err)
			}
			w := bufio.NewWriterSize(f, 1<<16)
			if err := errors.Join(tt.write(w), w.Flush(), f.Close()); err != nil {
				t.Fatal(err)
			}
			child := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestHostileFiles$", "-test.v")
			child.Env = append(os.Environ(), "HOLDFAST_HOSTILE="+name)
			began := time.Now()
			out, err := child.CombinedOutput()
			took := time.Since(began)
			if err != nil {
				t.Fatalf("%v: %.2000s", err, out)
			}
			var result, peak string
			for line := range strings.Lines(string(out)) {
				if s, ok := strings.CutPrefix(line, "result: "); ok {
					result = strings.TrimSpace(s)
				}
				if s, ok := strings.CutPrefix(line, "peak: "); ok {
					peak = strings.TrimSpace(s)
				}
			}
			want := fmt.Sprintf("%d rows", tt.rows)
			if tt.want != nil {
				want = tt.want.Error()
			}
			if tt.want == nil && result != want || tt.want != nil && !strings.Contains(result, want) {
				t.Errorf("result %q, want %q", result, want)
			}
			bytes, err := strconv.Atoi(peak)
			if err != nil || bytes == 0 {
				t.Fatalf("peak %q", peak)
			}
			if bytes > hostileMemory {
				t.Errorf("%d MiB resident, want %d at most", bytes>>20, hostileMemory>>20)
			}
			if took > hostileTime {
				t.Errorf("read in %v, want %v at most", took, hostileTime)
			}
			t.Logf("%s; %d MiB, %v", result, bytes>>20, took.Round(time.Millisecond))
		})
	}
}

// readHostile reads a file, and says what came of it and how much memory it
// took.
func readHostile(t *testing.T, name string) {
	c, err := cohort.Read(t.Context(), []cohort.Source{{Name: name}}, cohort.Options{EveryColumn: true})
	if err != nil {
		fmt.Printf("result: %v\n", err)
	} else {
		fmt.Printf("result: %d rows\n", c.Account().InFiles)
	}
	status, err := os.ReadFile("/proc/self/status")
	if err != nil {
		t.Fatal(err)
	}
	for line := range strings.Lines(string(status)) {
		if s, ok := strings.CutPrefix(line, "VmHWM:"); ok {
			kib, err := strconv.Atoi(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(s), "kB")))
			if err != nil {
				t.Fatal(err)
			}
			fmt.Printf("peak: %d\n", kib<<10)
		}
	}
}
