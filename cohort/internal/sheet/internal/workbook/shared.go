package workbook

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"unicode/utf16"
	"unicode/utf8"
)

// texts are the texts that cells refer to by number.
type texts struct {
	data []byte
	ends []uint32
}

func (t *texts) get(i int) ([]byte, bool) {
	if i < 0 || i >= len(t.ends) {
		return nil, false
	}
	from := uint32(0)
	if i > 0 {
		from = t.ends[i-1]
	}
	return t.data[from:t.ends[i]], true
}

// readShared reads the shared texts: the runs of rich text joined, without
// the reading aids of East Asian scripts.
func (b *Book) readShared(name string) error {
	f := b.parts[name]
	s, err := b.scan(f)
	if err != nil {
		return err
	}
	defer s.close()
	// Room for all at once: a slice that grows is held twice for a while. The
	// part is longer than its texts, and of room that stays unused no memory is
	// taken up.
	b.shared.data = make([]byte, 0, min(f.UncompressedSize64, maxSharedBytes+maxToken))
	for {
		t, err := s.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		switch t := t.(type) {
		case xml.CharData:
			if s.top() == "t" && s.in3("sst", "si") {
				b.shared.data = append(b.shared.data, t...)
				if len(b.shared.data) > maxSharedBytes {
					return fmt.Errorf("%w: its texts take up more than %d MiB", ErrTooLarge, maxSharedBytes>>20)
				}
			}
		case xml.EndElement:
			if t.Name.Local == "si" && s.at("sst") {
				if len(b.shared.ends) == maxShared {
					return fmt.Errorf("%w: it has more than %d texts", ErrTooLarge, maxShared)
				}
				from := uint32(0)
				if n := len(b.shared.ends); n > 0 {
					from = b.shared.ends[n-1]
				}
				b.shared.data = unescape(b.shared.data, int(from))
				b.shared.ends = append(b.shared.ends, uint32(len(b.shared.data)))
			}
		}
	}
}

// in3 reports whether the open elements start with outer and inner, and none
// is a reading aid.
func (s *scanner) in3(outer, inner string) bool {
	if len(s.path) < 3 || s.path[0] != outer || s.path[1] != inner {
		return false
	}
	return !s.aid()
}

// aid reports whether the place is inside a reading aid.
func (s *scanner) aid() bool {
	for _, name := range s.path {
		if name == "rPh" {
			return true
		}
	}
	return false
}

// unescape replaces, in text from the given position, the form _xHHHH_ in
// which the format writes characters that XML cannot hold. Control characters
// other than tab and line ends stay as written.
func unescape(text []byte, from int) []byte {
	rest := text[from:]
	k := bytes.Index(rest, []byte("_x"))
	if k < 0 {
		return text
	}
	out := from + k
	for i := out; i < len(text); {
		if r, ok := escaped(text[i:]); ok {
			out += utf8.EncodeRune(text[out:out+utf8.UTFMax], r)
			i += escapeLength
			continue
		}
		text[out] = text[i]
		out++
		i++
	}
	return text[:out]
}

const escapeLength = len("_x0000_")

func escaped(text []byte) (rune, bool) {
	if len(text) < escapeLength || text[0] != '_' || text[1] != 'x' || text[6] != '_' {
		return 0, false
	}
	n, err := strconv.ParseUint(string(text[2:6]), 16, 16)
	r := rune(n)
	if err != nil || utf16.IsSurrogate(r) || r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0xfffe || r == 0xffff {
		return 0, false
	}
	return r, true
}
