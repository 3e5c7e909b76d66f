package rows

import (
	"bytes"
	"fmt"
)

// kind is what a file is, told from its first bytes.
type kind int

const (
	kindText kind = iota
	kindParquet
	kindArrowFile
	kindArrowStream
	kindWorkbook
)

// sniff tells the kind of file from its first bytes. Kinds that are never
// read come back as an error that says what to do.
func sniff(head []byte) (kind, error) {
	has := func(magic string) bool { return bytes.HasPrefix(head, []byte(magic)) }
	switch {
	case len(head) == 0:
		return 0, ErrEmpty
	case has("PAR1"):
		return kindParquet, nil
	case has("PARE"):
		return 0, fmt.Errorf("encrypted Parquet is %w", ErrUnsupported)
	case has("ARROW1"):
		return kindArrowFile, nil
	case has("\xff\xff\xff\xff"):
		return kindArrowStream, nil
	case has("PK\x03\x04"):
		return sniffZip(head)
	case has("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"):
		return 0, fmt.Errorf("%w: this is an old (.xls) or password-protected workbook; open it and save the sheet as CSV", ErrWorkbook)
	case has("\x1f\x8b"):
		return 0, fmt.Errorf("%w: unpack this gzip file first", ErrCompressed)
	case has("%PDF"):
		return 0, fmt.Errorf("%w: it is a PDF", ErrBinary)
	case has("{\\rtf"):
		return 0, fmt.Errorf("%w: it is a word-processor document", ErrBinary)
	case bytes.HasPrefix(bytes.TrimLeft(bytes.TrimPrefix(head, utf8BOM), " \t\r\n"), []byte("<")):
		return 0, fmt.Errorf("%w: it is a web page or XML; open it in a spreadsheet and save it as CSV", ErrBinary)
	}
	return kindText, nil
}

// sniffZip tells the kinds of zip archive apart.
func sniffZip(head []byte) (kind, error) {
	head = head[:min(len(head), 64<<10)]
	switch {
	case bytes.Contains(head, []byte("application/vnd.oasis.opendocument.spreadsheet")):
		return 0, fmt.Errorf("%w: this is an OpenDocument spreadsheet; open it and save the sheet as CSV", ErrWorkbook)
	case bytes.Contains(head, []byte("[Content_Types].xml")), bytes.Contains(head, []byte("xl/")):
		return kindWorkbook, nil
	}
	return 0, fmt.Errorf("%w: take the table out of this zip archive first", ErrCompressed)
}
