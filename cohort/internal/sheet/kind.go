package sheet

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
)

// kind is what a file is, told from its first bytes.
type kind int

const (
	kindText kind = iota
	kindParquet
	kindArrowFile
	kindArrowStream
	kindWorkbook
	kindCompound // an OLE2 container: an old workbook, or an encrypted one
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
		return kindCompound, nil
	case has("\x1f\x8b"):
		return 0, fmt.Errorf("%w: unpack this gzip file first", ErrCompressed)
	case has("%PDF"):
		return 0, fmt.Errorf("%w: it is a PDF", ErrBinary)
	case has("{\\rtf"):
		return 0, fmt.Errorf("%w: it is a word-processor document", ErrBinary)
	case bytes.HasPrefix(bytes.TrimLeft(bytes.TrimPrefix(head, utf8BOM), " \t\r\n"), []byte("<")):
		return 0, fmt.Errorf("%w: it is a web page or XML; open it in a spreadsheet program and save it as .xlsx or CSV", ErrBinary)
	}
	return kindText, nil
}

// sniffZip tells the kinds of zip archive apart.
func sniffZip(head []byte) (kind, error) {
	has := func(name string) bool { return bytes.Contains(head, []byte(name)) }
	switch {
	case bytes.Contains(head[:min(len(head), 1<<10)], []byte("application/vnd.oasis.opendocument.spreadsheet")):
		return 0, fmt.Errorf("%w: this is an OpenDocument spreadsheet (.ods); %s", ErrWorkbook, saveAs)
	case has("[Content_Types].xml"), has("xl/"):
		return kindWorkbook, nil
	case has("Index/Document.iwa"), has("Index.zip"):
		return 0, fmt.Errorf("%w: this is a workbook of another kind (.numbers); %s", ErrWorkbook, saveAs)
	}
	return 0, fmt.Errorf("%w: take the table out of this zip archive first", ErrCompressed)
}

// compound refuses an OLE2 container, and says what it is as far as the list
// of its contents tells.
func compound(head []byte, seekable io.ReaderAt) error {
	list := head
	if len(head) >= 512 {
		// The list starts in the sector numbered at byte 48, of a size given
		// as a power of two at byte 30.
		shift := min(binary.LittleEndian.Uint16(head[30:]), 16)
		start := (int64(binary.LittleEndian.Uint32(head[48:])) + 1) << shift
		if seekable != nil && start >= int64(len(head)) {
			sector := make([]byte, 4096)
			n, _ := seekable.ReadAt(sector, start)
			list = append(list[:len(list):len(list)], sector[:n]...)
		}
	}
	has := func(name string) bool {
		var wide []byte
		for _, c := range []byte(name) {
			wide = append(wide, c, 0)
		}
		return bytes.Contains(list, append(wide, 0, 0))
	}
	switch {
	case has("EncryptedPackage"):
		return fmt.Errorf("%w; open it, take the password off and save it under another name", ErrPassword)
	case has("Workbook"), has("Book"):
		return fmt.Errorf("%w: this is a workbook of the old kind (.xls); %s", ErrWorkbook, saveAs)
	}
	return fmt.Errorf("%w: this is an old (.xls) or password-protected workbook; %s, without a password", ErrWorkbook, saveAs)
}
