package workbook

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"slices"
)

// scanner reads the tokens of one part, and makes sure that its elements are
// closed in order and none is left open.
type scanner struct {
	d    *xml.Decoder
	in   *meter
	path []string // local names of the open elements
	done bool     // the outermost element was closed
	part io.Closer
}

func (b *Book) scan(f *zip.File) (*scanner, error) {
	r, err := b.openPart(f)
	if err != nil {
		return nil, err
	}
	in := &meter{r: r, buf: make([]byte, 32<<10)}
	return &scanner{d: xml.NewDecoder(in), in: in, part: r}, nil
}

func (s *scanner) close() { s.part.Close() }

// next returns the next start, end or text, and io.EOF at the end of the part.
func (s *scanner) next() (xml.Token, error) {
	for {
		s.in.spent = 0
		t, err := s.d.RawToken()
		if err != nil {
			return nil, s.failure(err)
		}
		switch t := t.(type) {
		case xml.StartElement:
			if s.done || len(s.path) >= maxDepth {
				return nil, fmt.Errorf("%w: its XML is not well formed or too deep", ErrDamaged)
			}
			s.path = append(s.path, t.Name.Local)
			return t, nil
		case xml.EndElement:
			n := len(s.path) - 1
			if n < 0 || s.path[n] != t.Name.Local {
				return nil, fmt.Errorf("%w: its XML is not well formed", ErrDamaged)
			}
			s.path = s.path[:n]
			s.done = n == 0
			return t, nil
		case xml.CharData:
			return t, nil
		case xml.Directive:
			return nil, fmt.Errorf("%w: it holds a document type, which the format forbids", ErrDamaged)
		}
	}
}

func (s *scanner) failure(err error) error {
	switch {
	case s.in.err != nil && s.in.err != io.EOF:
		return s.in.err
	case errors.Is(err, io.EOF) && s.done:
		return io.EOF
	case errors.Is(err, io.EOF):
		return fmt.Errorf("%w: a part ends early", ErrDamaged)
	}
	var syntax *xml.SyntaxError
	if errors.As(err, &syntax) {
		// The message of the decoder may quote the text.
		return fmt.Errorf("%w: its XML is not well formed", ErrDamaged)
	}
	return fmt.Errorf("%w: its XML cannot be read", ErrDamaged)
}

// at reports whether the open elements are these.
func (s *scanner) at(path ...string) bool { return slices.Equal(s.path, path) }

// top is the innermost open element.
func (s *scanner) top() string {
	if len(s.path) == 0 {
		return ""
	}
	return s.path[len(s.path)-1]
}

// meter reads a part, counts the bytes of each token and stops when they are
// too many, so that no token is ever held that exceeds the limit.
type meter struct {
	r        io.Reader
	buf      []byte
	pos, end int
	spent    int
	err      error
}

func (m *meter) ReadByte() (byte, error) {
	if m.pos == m.end && !m.fill() {
		return 0, m.err
	}
	if m.spent++; m.spent > maxToken {
		m.err = fmt.Errorf("%w: a text in it is longer than 1 MiB", ErrTooLarge)
		m.pos = m.end
		return 0, m.err
	}
	m.pos++
	return m.buf[m.pos-1], nil
}

func (m *meter) fill() bool {
	if m.err != nil {
		return false
	}
	n, err := m.r.Read(m.buf)
	for n == 0 && err == nil {
		n, err = m.r.Read(m.buf)
	}
	m.pos, m.end, m.err = 0, n, err
	return n > 0
}

// Read makes the meter an io.Reader; the decoder uses ReadByte.
func (m *meter) Read(p []byte) (int, error) {
	if len(p) == 0 {
		return 0, nil
	}
	c, err := m.ReadByte()
	if err != nil {
		return 0, err
	}
	p[0] = c
	return 1, nil
}
