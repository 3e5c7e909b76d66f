package workbook

import (
	"bytes"
	"io"
)

// Ranges finds the merged ranges of several rows of a sheet. They stand after
// all rows; the text before them is passed over without being taken apart,
// which is much faster than reading the rows. Rows checks what is passed over
// here.
func (b *Book) Ranges(sheet int) ([]Range, error) {
	part, err := b.openPart(b.Sheets[sheet].part)
	if err != nil {
		return nil, err
	}
	defer part.Close()
	var list []byte // the start of an element that may be the list, or the list
	inside := false
	buf := make([]byte, 64<<10)
	for {
		n, err := part.Read(buf)
		list = append(list, buf[:n]...)
		if !inside {
			if k := startOf(list, "mergeCells"); k >= 0 {
				list, inside = append(list[:0], list[k:]...), true
			} else if keep := len(list) - 64; keep > 0 {
				list = append(list[:0], list[keep:]...)
			}
		}
		if inside && (bytes.Contains(list, []byte("mergeCells>")) || len(list) > maxDirectory) {
			return ranges(list), nil
		}
		if err == io.EOF {
			return nil, nil
		}
		if err != nil {
			return nil, err
		}
	}
}

// startOf finds the start tag of an element, with or without a prefix, and
// returns the position after its name, or -1.
func startOf(text []byte, name string) int {
	for from := 0; ; {
		k := bytes.Index(text[from:], []byte(name))
		if k < 0 {
			return -1
		}
		k += from
		open := bytes.LastIndexByte(text[:k], '<')
		if open >= 0 && (open == k-1 || text[k-1] == ':' && !bytes.ContainsAny(text[open+1:k-1], " />")) {
			return k + len(name)
		}
		from = k + len(name)
	}
}

// ranges reads the ref attributes up to the end of the list.
func ranges(list []byte) []Range {
	if k := bytes.Index(list, []byte("mergeCells>")); k >= 0 {
		list = list[:k]
	}
	var found []Range
	for len(found) < maxMerged {
		k := bytes.Index(list, []byte("ref="))
		if k < 0 || k+5 > len(list) {
			break
		}
		list = list[k+4:]
		end := bytes.IndexByte(list[1:], list[0])
		if end < 0 {
			break
		}
		if m, ok := parseRange(string(list[1 : 1+end])); ok && m.To.Row > m.From.Row {
			found = append(found, m)
		}
		list = list[end+2:]
	}
	return found
}
