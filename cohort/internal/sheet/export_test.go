package sheet

// What the tests of this package set and look at beside what it offers.

// InBlocks reads a text in blocks of so many bytes; 0: of the usual size.
func (o Options) InBlocks(bytes int) Options { o.block = bytes; return o }

// WithLimit is the length in bytes above which a record is refused.
func (o Options) WithLimit(bytes int) Options { o.limit = bytes; return o }

// Marked splits a text as if it had quotation marks.
func (o Options) Marked() Options { o.marked = true; return o }

// FirstLine is the line of a text that is read next.
func (t *Table) FirstLine() int { return t.src.(*text).line }

// Delimiter separates the cells of a text.
func (t *Table) Delimiter() byte { return t.src.(*text).style.delim }

// KeptBuffer is the size in bytes of a buffer kept for the next batch.
func (t *Table) KeptBuffer() int { return cap(t.pool.Get().(*Batch).data) }

// WithHead is the number of first bytes from which the kind of file is told.
func (o Options) WithHead(bytes int) Options { o.head = bytes; return o }
