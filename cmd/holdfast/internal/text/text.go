// Package text lays an audit out as text to be read: plain, for a terminal or
// a file, or Markdown. It computes nothing; every number comes from the audit.
//
// Plain text keeps to a width by wrapping, aligns decimals, and says
// everything without colour. Percentages have one decimal.
package text

import (
	"io"

	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// Options say how text is laid out.
type Options struct {
	Markdown bool
	Width    int  // columns of plain text; 0 means 100. Markdown is not wrapped
	Bold     bool // headings in bold, on a terminal that allows it
}

// defaultWidth is the width of plain text unless told otherwise, and leastWidth
// the narrowest that tables can be brought to.
const (
	defaultWidth = 100
	leastWidth   = 60
)

// Audit writes an audit: what was read and set aside, the estimates by group,
// the comparison with published figures, cautions and method. Errors are those
// of the writer.
func Audit(w io.Writer, a *audit.Audit, o Options) error {
	p := newPage(o)
	refs := newReferences()
	groups := divide(a)
	p.read(a)
	p.estimates(a, groups, refs)
	p.worstCase(a, groups)
	p.comparisons(a, groups, refs)
	p.closing(a)
	return p.writeTo(w)
}

// Published writes published figures with their citations, by joint and
// procedure. Errors are those of the writer.
func Published(w io.Writer, series []*benchmark.Series, o Options) error {
	p := newPage(o)
	p.published(series)
	return p.writeTo(w)
}
