package sheet_test

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/holdfast/cohort/internal/sheet"
)

// files are tables of every kind as bytes, longer than what is looked at first.
func files(t *testing.T) map[string][]byte {
	t.Helper()
	all := map[string][]byte{
		"text":     []byte("joint,note\n" + strings.Repeat("hip,\"a, b\"\n", 150_000)),
		"one line": []byte("joint,note\nhip,x"),
		"latin":    []byte("joint,note\nhip,\xe9\xe8\n"),
		"workbook": book(t, oneSheet(headingRow, values("2020-01-01", "hip"))),
	}
	for _, kind := range kinds {
		b, err := os.ReadFile(write(t, kind, typed(20_000)))
		if err != nil {
			t.Fatal(err)
		}
		all[kind] = b
	}
	return all
}

// What is copied while a table is read is its file to the byte, whatever the file is and
// however it comes.
func TestCopyIsTheFile(t *testing.T) {
	for kind, content := range files(t) {
		name := filepath.Join(t.TempDir(), "t")
		if err := os.WriteFile(name, content, 0o600); err != nil {
			t.Fatal(err)
		}
		readers := map[string]io.Reader{"named": nil, "in memory": bytes.NewReader(content)}
		if kind != "Parquet" && kind != "Arrow IPC" { // which can't be read from a pipe
			readers["pipe"] = onlyReader{bytes.NewReader(content)}
		}
		for way, r := range readers {
			var copied bytes.Buffer
			table, err := sheet.Open(t.Context(), name, r, sheet.Options{Copy: &copied})
			if err != nil {
				t.Errorf("%s, %s: %v", kind, way, err)
				continue
			}
			for err == nil {
				var b *sheet.Batch
				if b, err = table.Next(); err == nil {
					b.Release()
				}
			}
			if err := table.Close(); err != nil {
				t.Error(err)
			}
			if err != io.EOF || !bytes.Equal(copied.Bytes(), content) {
				t.Errorf("%s, %s: a copy of %d bytes of %d, or another (%v)", kind, way, copied.Len(), len(content), err)
			}
		}
	}
}

// A file that is read here and there, and so once more for the copy, must not have been
// changed in between.
func TestCopyOfAChangedFile(t *testing.T) {
	all := files(t)
	for _, kind := range []string{"workbook", "Parquet", "Arrow IPC"} {
		for way, change := range map[string]func(name string) error{
			"longer":  func(name string) error { return os.WriteFile(name, append(all[kind], "more"...), 0o600) },
			"shorter": func(name string) error { return os.Truncate(name, int64(len(all[kind])-1)) },
			"later":   func(name string) error { return os.Chtimes(name, time.Time{}, time.Unix(1, 0)) },
		} {
			name := filepath.Join(t.TempDir(), "t")
			if err := os.WriteFile(name, all[kind], 0o600); err != nil {
				t.Fatal(err)
			}
			table, err := sheet.Open(t.Context(), name, nil, sheet.Options{Copy: io.Discard})
			if err != nil {
				t.Fatal(err)
			}
			if kind == "workbook" || way != "shorter" { // else it is found damaged
				if b, err := table.Next(); err != nil {
					t.Fatal(err)
				} else {
					b.Release()
				}
			}
			if err := change(name); err != nil {
				t.Fatal(err)
			}
			for err == nil {
				var b *sheet.Batch
				if b, err = table.Next(); err == nil {
					b.Release()
				}
			}
			if !errors.Is(err, sheet.ErrChanged) && !errors.Is(err, sheet.ErrCorrupt) || way == "later" && !errors.Is(err, sheet.ErrChanged) {
				t.Errorf("%s, %s: %v, want that it was changed", kind, way, err)
			}
			table.Close()
		}
	}
}
