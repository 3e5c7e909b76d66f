package columnar

import (
	"encoding/binary"
	"errors"
	"io"
)

// Arrow's descriptions are FlatBuffers, and Arrow's reader believes the
// lengths in them: one damaged byte can make it ask for more memory than there
// is, which ends the process. What follows walks the parts whose lengths
// decide how much is set aside, before Arrow sees them. Positions outside the
// buffer panic, for guard to catch.

var errDescription = errors.New("the description of the columns is damaged")

// flat is a FlatBuffer.
type flat []byte

func (b flat) u16(at int) int { return int(binary.LittleEndian.Uint16(b[at:])) }
func (b flat) u32(at int) int { return int(binary.LittleEndian.Uint32(b[at:])) }

// follow returns the position that the offset at a position points to.
func (b flat) follow(at int) int { return at + b.u32(at) }

// field returns the position of a table's field, 0 if it is absent. A list of positions
// that ends within the field's has it, as Arrow sees it.
func (b flat) field(table, id int) int {
	index := table - int(int32(binary.LittleEndian.Uint32(b[table:])))
	if 4+2*id >= b.u16(index) {
		return 0
	}
	if o := b.u16(index + 4 + 2*id); o != 0 {
		return table + o
	}
	return 0
}

// vector returns the first element and the number of elements of a vector
// field; 0, 0 if it is absent. The elements lie within the buffer.
func (b flat) vector(table, id, size int) (first, n int, err error) {
	at := b.field(table, id)
	if at == 0 {
		return 0, 0, nil
	}
	v := b.follow(at)
	n = b.u32(v)
	if v+4+n*size > len(b) {
		return 0, 0, errDescription
	}
	return v + 4, n, nil
}

// The numbers of fields, from Arrow's format definition (Schema.fbs,
// Message.fbs, File.fbs).
const (
	messageHeaderType = 1
	messageHeader     = 2
	headerIsSchema    = 1
	schemaFields      = 1
	schemaMetadata    = 2
	fieldChildren     = 5
	fieldMetadata     = 6
	footerSchema      = 1
	footerDicts       = 2
	footerRecords     = 3
	footerMetadata    = 4
	blockSize         = 24
	maxDepth          = 64
)

// checkMessage checks the schema in the head of a message, if it has one.
func checkMessage(head []byte) error {
	b := flat(head)
	m := b.follow(0)
	t, h := b.field(m, messageHeaderType), b.field(m, messageHeader)
	if t == 0 || h == 0 || b[t] != headerIsSchema {
		return nil
	}
	return b.checkSchema(b.follow(h))
}

func (b flat) checkSchema(schema int) error {
	if _, _, err := b.vector(schema, schemaMetadata, 4); err != nil {
		return err
	}
	left := len(b) / 4
	return b.checkFields(schema, schemaFields, maxDepth, &left)
}

// checkFields checks a vector of columns and those within them; left bounds
// their number, since damaged offsets may point at the same one many times.
func (b flat) checkFields(table, id, depth int, left *int) error {
	first, n, err := b.vector(table, id, 4)
	if err != nil {
		return err
	}
	if *left -= n; *left < 0 || depth == 0 {
		return errDescription
	}
	for i := range n {
		f := b.follow(first + 4*i)
		if _, _, err := b.vector(f, fieldMetadata, 4); err != nil {
			return err
		}
		if err := b.checkFields(f, fieldChildren, depth-1, left); err != nil {
			return err
		}
	}
	return nil
}

// checkFooter checks the list of contents at the end of an Arrow file.
func checkFooter(r io.ReaderAt, size int64) error {
	const tail = 10 // length and "ARROW1"
	end := make([]byte, tail)
	if size < 2*tail {
		return errCut
	}
	if _, err := r.ReadAt(end, size-tail); err != nil {
		return cutShort(err)
	}
	n := int64(binary.LittleEndian.Uint32(end))
	if string(end[4:]) != "ARROW1" || n > size-tail || n > maxHead {
		return errCut
	}
	b := make(flat, n)
	if _, err := r.ReadAt(b, size-tail-n); err != nil {
		return cutShort(err)
	}
	footer := b.follow(0)
	for id, element := range map[int]int{footerDicts: blockSize, footerRecords: blockSize, footerMetadata: 4} {
		if _, _, err := b.vector(footer, id, element); err != nil {
			return err
		}
	}
	schema := b.field(footer, footerSchema)
	if schema == 0 {
		return errDescription
	}
	return b.checkSchema(b.follow(schema))
}
