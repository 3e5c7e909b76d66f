package sheet

import (
	"encoding/binary"
	"math/bits"
)

// strip is how many bytes are looked at together.
const strip = 64

// places has room for where the marks of a strip are. They are written by eight, so that
// some more are written than there are marks, which are of no use.
type places [strip + 8]int32

// marksByWords has a bit, from the lowest, for each byte of a strip that is the separator or
// a line end, and one for each line end alone. In eight bytes, the top bit of each byte of m
// is set where it is one; the product brings these bits together.
func marksByWords(data *[strip]byte, delim byte) (marks, lines uint64) {
	delims, ends := ones*uint64(delim), ones*uint64('\n')
	for i := 0; i < strip; i += every {
		x := binary.LittleEndian.Uint64(data[i : i+every])
		d, e := x^delims, x^ends
		e = (e&lows + lows) | e
		m := ^((((d&lows)+lows)|d)&e | lows)
		marks |= m >> 7 * 0x0102040810204080 >> 56 << i
		lines |= ^(e | lows) >> 7 * 0x0102040810204080 >> 56 << i
	}
	return marks, lines
}

// placeByOne puts the places of a strip's marks in a list, the strip's first byte having the
// place given.
func placeByOne(to *places, first int, marks uint64) {
	for i := 0; marks != 0; i++ {
		to[i] = int32(first + bits.TrailingZeros64(marks))
		marks &= marks - 1
	}
}
