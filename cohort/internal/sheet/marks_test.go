package sheet

import (
	"encoding/binary"
	"math/rand/v2"
	"testing"
)

// marksAlike compares the marks of a strip with those found byte by byte, and both ways of
// finding and of placing them.
func marksAlike(t *testing.T, data *[strip]byte, delim byte, first int) {
	t.Helper()
	var marks, lines uint64
	var want []int32
	for i, c := range data {
		if c == delim || c == '\n' {
			marks |= 1 << i
			want = append(want, int32(first+i))
		}
		if c == '\n' {
			lines |= 1 << i
		}
	}
	if m, l := marksIn(data, delim); m != marks || l != lines {
		t.Fatalf("%q by %q: %x and %x, want %x and %x", data, delim, m, l, marks, lines)
	}
	if m, l := marksByWords(data, delim); m != marks || l != lines {
		t.Fatalf("%q by %q: by words %x and %x, want %x and %x", data, delim, m, l, marks, lines)
	}
	for name, of := range map[string]func(*places, int, uint64){"place": place, "placeByOne": placeByOne} {
		var around [3]places // what is before and after stays
		of(&around[1], first, marks)
		for i, n := range want {
			if around[1][i] != n {
				t.Fatalf("%s: %q by %q from %d: %d-th mark at %d, want %d", name, data, delim, first, i, around[1][i], n)
			}
		}
		if around[0] != (places{}) || around[2] != (places{}) {
			t.Fatalf("%s: wrote outside of its list", name)
		}
	}
}

func TestMarks(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	delims := []byte(",;\t|")
	for range 100_000 {
		var data [strip]byte
		delim, often := delims[r.IntN(4)], 1+r.IntN(20)
		for i := range data {
			switch r.IntN(often) {
			case 0:
				data[i] = delim
			case 1:
				data[i] = '\n'
			default: // whatever it is, and what is one bit from a mark
				data[i] = []byte{byte(r.IntN(256)), delim ^ 1<<r.IntN(8), '\n' ^ 1<<r.IntN(8)}[r.IntN(3)]
			}
		}
		marksAlike(t, &data, delim, r.IntN(1<<20))
	}
}

func FuzzMarks(f *testing.F) {
	f.Add([]byte("P0000000,2019-04-28,knee,left,TKR,mobile,uncemented,95,M,,\nP0007919,"), byte(','), uint32(64))
	f.Fuzz(func(t *testing.T, text []byte, delim byte, first uint32) {
		var data [strip]byte
		copy(data[:], text)
		marksAlike(t, &data, delim, int(first>>1))
		binary.LittleEndian.PutUint32(data[:], first)
		marksAlike(t, &data, delim, 0)
	})
}
