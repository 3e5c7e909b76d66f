package sheet

import "io"

// copied hands on the bytes that are read, and copies them.
type copied struct {
	from  io.Reader
	to    io.Writer
	whole io.ReaderAt // the same file, where rows are read from here and there in it
	n     int64       // so many bytes, from the first on, were copied
	ended bool        // these are all
}

func (c *copied) Read(p []byte) (int, error) {
	n, err := c.from.Read(p)
	c.n, c.ended = c.n+int64(n), err == io.EOF
	if _, failed := c.to.Write(p[:n]); failed != nil {
		return n, failed
	}
	return n, err
}

// rest copies what was not read in order of a file of some size, and returns io.EOF. What
// is read twice must not have changed.
func (c *copied) rest(size int64, changed func() bool) error {
	from := c.from
	if c.whole != nil {
		from = io.NewSectionReader(c.whole, c.n, size-c.n)
	}
	if !c.ended {
		n, err := io.Copy(c.to, from)
		if c.n += n; err != nil {
			return cause(err)
		}
	}
	if c.whole != nil && (c.n != size || changed()) {
		return ErrChanged
	}
	return io.EOF
}
