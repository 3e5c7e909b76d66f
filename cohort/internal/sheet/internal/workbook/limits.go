package workbook

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
)

// Limits, all far above what spreadsheet programs write for a table of a
// million rows.
const (
	maxEntries     = 10_000    // parts in the archive
	maxDirectory   = 4 << 20   // bytes of the archive's directory
	maxPart        = 2 << 30   // bytes of one part, unpacked
	freeSize       = 64 << 20  // bytes that may be unpacked whatever the size of the archive
	maxRatio       = 200       // bytes unpacked beyond that for each byte of the archive
	maxToken       = 1 << 20   // bytes of one tag or text
	maxDepth       = 64        // elements inside one another
	maxSharedBytes = 128 << 20 // bytes of all shared texts
	maxShared      = 1 << 22   // shared texts
	maxFormats     = 1 << 16   // cell formats
	maxRows        = 1_048_576 // rows of a sheet, by the format
	maxColumns     = 16_384    // columns of a sheet, by the format
	maxSheets      = 1_000     // sheets
	maxName        = 1 << 10   // bytes of a sheet's name; the format allows 31 characters
	maxMerged      = 1 << 16   // merged ranges that are kept
)

// openZip opens the archive after a look at the size of its directory, which
// archive/zip holds whole in memory.
func openZip(r io.ReaderAt, size int64) (*zip.Reader, error) {
	tail := make([]byte, min(size, 22+1<<16))
	if _, err := r.ReadAt(tail, size-int64(len(tail))); err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	k := bytes.LastIndex(tail, []byte("PK\x05\x06"))
	if k < 0 || len(tail)-k < 22 {
		return nil, fmt.Errorf("%w: the archive has no directory", ErrDamaged)
	}
	end := size - int64(len(tail)-k)
	length := int64(binary.LittleEndian.Uint32(tail[k+12:]))
	offset := int64(binary.LittleEndian.Uint32(tail[k+16:]))
	entries := binary.LittleEndian.Uint16(tail[k+10:])
	if entries == 1<<16-1 || length == 1<<32-1 || offset == 1<<32-1 {
		return nil, fmt.Errorf("%w: its archive is of the kind for more than 4 GiB", ErrTooLarge)
	}
	if offset > end || length > end {
		return nil, fmt.Errorf("%w: the archive's directory is not where it should be", ErrDamaged)
	}
	if size-min(offset, end-length) > maxDirectory {
		return nil, fmt.Errorf("%w: it has too many parts", ErrTooLarge)
	}
	z, err := zip.NewReader(r, size)
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	if len(z.File) > maxEntries {
		return nil, fmt.Errorf("%w: it has too many parts", ErrTooLarge)
	}
	return z, nil
}

// open opens a part. It is refused if it is encrypted or declared too large.
// That no more comes out than was declared is checked by archive/zip; the sum
// of what comes out is counted here, since parts may share their bytes.
func (b *Book) openPart(f *zip.File) (io.ReadCloser, error) {
	switch {
	case f == nil:
		return nil, fmt.Errorf("%w: a part is missing", ErrDamaged)
	case f.Flags&1 != 0:
		return nil, ErrPassword
	case f.Method != zip.Store && f.Method != zip.Deflate:
		return nil, fmt.Errorf("%w: it is packed in an unknown way", ErrDamaged)
	case f.UncompressedSize64 > maxPart,
		f.UncompressedSize64 > freeSize && (f.UncompressedSize64-freeSize)/maxRatio > f.CompressedSize64:
		return nil, fmt.Errorf("%w: a part is %d MiB when unpacked, from %d KiB", ErrTooLarge,
			f.UncompressedSize64>>20, f.CompressedSize64>>10)
	}
	r, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	return &part{r, b}, nil
}

// part reads one part of the archive.
type part struct {
	io.ReadCloser
	b *Book
}

func (p *part) Read(buf []byte) (int, error) {
	if p.b.stop != nil {
		if err := p.b.stop(); err != nil {
			return 0, err
		}
	}
	n, err := p.ReadCloser.Read(buf)
	if p.b.left -= int64(n); p.b.left < 0 {
		return 0, fmt.Errorf("%w: it is out of all proportion when unpacked", ErrTooLarge)
	}
	if err != nil && err != io.EOF {
		// What came before the damage is not used.
		return 0, fmt.Errorf("%w: %v", ErrDamaged, err)
	}
	return n, err
}
