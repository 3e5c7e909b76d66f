package sheet

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

var utf8BOM = []byte("\xef\xbb\xbf")

// encodings are the encodings that can be asked for, with the words of the
// report. ISO-8859-1 is read as Windows-1252, which holds it.
var encodings = []charset{
	{"utf-8", "UTF-8", modeStrict, nil},
	{"utf-16le", "UTF-16", modeTransform, unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)},
	{"utf-16be", "UTF-16", modeTransform, unicode.UTF16(unicode.BigEndian, unicode.UseBOM)},
	{"windows-1252", "Windows-1252", modeTransform, charmap.Windows1252},
	{"iso-8859-1", "Windows-1252", modeTransform, charmap.Windows1252},
	{"iso-8859-15", "ISO-8859-15", modeTransform, charmap.ISO8859_15},
	{"macintosh", "Macintosh", modeTransform, charmap.Macintosh},
}

// charset is one encoding that is read.
type charset struct {
	name, label string
	mode        mode
	table       encoding.Encoding // for modeTransform
}

// Encodings lists the names that Options.Encoding takes.
func Encodings() []string {
	names := make([]string, len(encodings))
	for i, e := range encodings {
		names[i] = e.name
	}
	return names
}

type mode int

const (
	modeFind      mode = iota // UTF-8 until the first byte that is not; then Windows-1252, if all before was ASCII
	modeStrict                // UTF-8, else ErrEncoding
	modeTransform             // through a table
)

// decoder turns the bytes of a file into UTF-8 text, block by block.
type decoder struct {
	r     io.Reader // the bytes
	mode  mode
	label string
	even  bool // the number of bytes must be even

	transform *encoding.Decoder
	odd       bool   // bytes so far, odd
	held      []byte // start of a character cut off by the block's end
	high      bool   // a character outside ASCII was seen
	crOnly    bool   // CR ends lines
	switched  bool   // modeFind went over to Windows-1252
	buf       []byte // bytes still to be transformed
	end       error  // io.EOF or the read error, once held back text is out
}

func encodingByName(name string) (charset, error) {
	for _, e := range encodings {
		if strings.EqualFold(e.name, name) {
			return e, nil
		}
	}
	return charset{}, fmt.Errorf("%w: encoding %q; known are %s", ErrOption, name, strings.Join(Encodings(), ", "))
}

func newDecoder(c charset, r io.Reader) decoder {
	d := decoder{r: r, mode: c.mode, label: c.label, even: c.label == "UTF-16"}
	if c.table != nil {
		d.transform = c.table.NewDecoder()
	}
	return d
}

// findEncoding tells the encoding from the start of a file, and how many
// bytes of byte order mark are to be passed over. The name, if any, decides.
func findEncoding(head []byte, name string) (c charset, skip int, err error) {
	if bytes.HasPrefix(head, utf8BOM) && (name == "" || strings.EqualFold(name, "utf-8")) {
		name, skip = "utf-8", len(utf8BOM)
	}
	switch {
	case name != "":
	case bytes.HasPrefix(head, []byte("\xff\xfe")):
		name = "utf-16le"
	case bytes.HasPrefix(head, []byte("\xfe\xff")):
		name = "utf-16be"
	default:
		name = wide(head)
	}
	if name == "" {
		return charset{name: "utf-8", label: "UTF-8", mode: modeFind}, 0, nil
	}
	c, err = encodingByName(name)
	return c, skip, err
}

// wide recognises UTF-16 without a byte order mark: of each pair of bytes, the
// same one is nearly always 0 and the other one never.
func wide(head []byte) string {
	head = head[:min(len(head), 1024)&^1]
	var zero [2]int
	for i, c := range head {
		if c == 0 {
			zero[i&1]++
		}
	}
	enough := len(head) * 2 / 5 // four of five pairs
	switch {
	case len(head) >= 8 && zero[0] == 0 && zero[1] >= enough:
		return "utf-16le"
	case len(head) >= 8 && zero[1] == 0 && zero[0] >= enough:
		return "utf-16be"
	}
	return ""
}

// append reads up to n bytes and appends their text to dst. At the end of the
// file it returns io.EOF, with or without text. Another error stands at the
// end of the text returned with it.
func (d *decoder) append(dst []byte, n int) ([]byte, error) {
	if d.end != nil {
		return dst, d.end
	}
	from := len(dst)
	var err error
	if d.mode == modeTransform {
		dst, err = d.appendTransformed(dst, n)
	} else {
		dst, err = d.appendUTF8(dst, n)
	}
	text := dst[from:]
	if d.crOnly {
		for i, c := range text {
			if c == '\r' {
				text[i] = '\n'
			}
		}
	}
	if k := bytes.IndexByte(text, 0); k >= 0 {
		dst, err = dst[:from+k], fmt.Errorf("%w: it holds NUL bytes", ErrBinary)
	}
	d.end = err
	return dst, err
}

// fill reads up to n bytes to the end of dst.
func (d *decoder) fill(dst []byte, n int) ([]byte, error) {
	dst = slices.Grow(dst, n)
	k, err := io.ReadFull(d.r, dst[len(dst):len(dst)+n])
	if errors.Is(err, io.ErrUnexpectedEOF) {
		err = io.EOF
	}
	return dst[:len(dst)+k], err
}

func (d *decoder) appendUTF8(dst []byte, n int) ([]byte, error) {
	from := len(dst)
	dst = append(dst, d.held...)
	d.held = d.held[:0]
	dst, err := d.fill(dst, n)
	text := dst[from:]
	if !d.high && ascii(text) {
		return dst, err
	}
	if utf8.Valid(text) {
		d.high = true
		return dst, err
	}
	bad := firstInvalid(text)
	if err == nil && len(text)-bad < utf8.UTFMax && !utf8.FullRune(text[bad:]) {
		d.held = append(d.held, text[bad:]...)
		d.high = d.high || !ascii(text[:bad])
		return dst[:from+bad], nil
	}
	if d.mode == modeStrict || d.high || !ascii(text[:bad]) {
		return dst[:from+bad], fmt.Errorf("%w: it starts as UTF-8 and has a byte here that is not; save the file as UTF-8", ErrEncoding)
	}
	d.mode, d.label, d.transform, d.switched = modeTransform, "Windows-1252", charmap.Windows1252.NewDecoder(), true
	d.buf = append(d.buf[:0], text[bad:]...)
	return d.transformAll(dst[:from+bad], err)
}

func (d *decoder) appendTransformed(dst []byte, n int) ([]byte, error) {
	had := len(d.buf)
	var err error
	d.buf, err = d.fill(d.buf, n)
	if (len(d.buf)-had)&1 == 1 {
		d.odd = !d.odd
	}
	if err == io.EOF && d.even && d.odd {
		err = fmt.Errorf("%w: it is UTF-16 with half a character at the end", ErrEncoding)
	}
	return d.transformAll(dst, err)
}

// transformAll appends the text of d.buf to dst and keeps what is not a whole
// character. err is the state of the file, handed on.
func (d *decoder) transformAll(dst []byte, err error) ([]byte, error) {
	for {
		dst = slices.Grow(dst, 3*len(d.buf)+utf8.UTFMax)
		nDst, nSrc, terr := d.transform.Transform(dst[len(dst):cap(dst)], d.buf, err != nil)
		dst = dst[:len(dst)+nDst]
		d.buf = append(d.buf[:0], d.buf[nSrc:]...)
		if nSrc == 0 || len(d.buf) == 0 || terr == nil {
			return dst, err
		}
	}
}

// ascii reports whether all bytes are below 128.
func ascii(text []byte) bool {
	const tops = 0x8080808080808080
	for len(text) >= 32 {
		t := text[:32]
		if (binary.LittleEndian.Uint64(t)|binary.LittleEndian.Uint64(t[8:])|
			binary.LittleEndian.Uint64(t[16:])|binary.LittleEndian.Uint64(t[24:]))&tops != 0 {
			return false
		}
		text = text[32:]
	}
	for _, c := range text {
		if c >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

func firstInvalid(text []byte) int {
	i := 0
	for i < len(text) {
		r, n := utf8.DecodeRune(text[i:])
		if r == utf8.RuneError && n <= 1 {
			return i
		}
		i += n
	}
	return i
}
