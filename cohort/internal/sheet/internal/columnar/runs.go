package columnar

import "encoding/binary"

// runs reads numbers of so many bits each, of which some are written once for many.
// Format: the Parquet project's Encodings.md, "run length encoding / bit-packing hybrid".
type runs struct {
	data  []byte // after the run in hand
	width int    // at most 32

	left   int    // numbers of the run in hand
	same   int32  // each of them, or
	packed []byte // they stand here one by one, and what follows them
	bit    int    // of packed, from which on the next stands
}

// next goes to the next run, if there is one.
func (r *runs) next() bool {
	header, k := binary.Uvarint(r.data)
	if k <= 0 || header>>1 == 0 || header > 1<<40 {
		return false
	}
	data, size := r.data[k:], (r.width+7)/8
	r.left, r.packed = int(header>>1), nil
	if header&1 == 1 {
		size, r.left = r.left*r.width, r.left*8
		if size > len(data) { // the last of the last run may be left out
			size, r.left = len(data), len(data)*8/r.width
		}
		r.packed, r.bit = data, 0
	} else {
		if size > len(data) {
			return false
		}
		var same [4]byte
		copy(same[:], data[:size])
		r.same = int32(binary.LittleEndian.Uint32(same[:]))
	}
	r.data = data[size:]
	return true
}

// read fills to with the next numbers.
func (r *runs) read(to []int32) error {
	for len(to) > 0 {
		if r.left == 0 && !r.next() {
			return errPage
		}
		n := min(r.left, len(to))
		if r.packed != nil {
			r.unpack(to[:n])
		} else {
			for i := range to[:n] {
				to[i] = r.same
			}
		}
		to, r.left = to[n:], r.left-n
	}
	return nil
}

// unpack reads numbers that stand one by one.
func (r *runs) unpack(to []int32) {
	packed, bit, mask := r.packed, r.bit, uint64(1)<<r.width-1
	for i := range to {
		from := packed[bit/8:]
		if len(from) < 8 {
			from = append(make([]byte, 0, 8), from...)[:8]
		}
		to[i] = int32(binary.LittleEndian.Uint64(from) >> (bit & 7) & mask)
		bit += r.width
	}
	r.bit = bit
}

// pass passes over the next n numbers if it is at once clear that they are all the same.
func (r *runs) pass(n int, same int32) bool {
	if r.left == 0 && !r.next() || r.packed != nil || r.left < n || r.same != same {
		return false
	}
	r.left -= n
	return true
}

// countRuns counts the numbers in runs.
func countRuns(data []byte, width int) int {
	count := 0
	for r := (runs{data: data, width: width}); r.next(); {
		count += r.left
	}
	return count
}
