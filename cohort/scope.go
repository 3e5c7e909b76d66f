package cohort

import (
	"iter"
	"slices"

	"example.org/holdfast/cohort/internal/row"
)

// inScope says which rows of a block are in scope; nil means all.
func (c *Cohort) inScope(block int) func(i int) bool {
	if len(c.narrow) == 0 {
		return nil
	}
	levels := make([]func(int) int, len(c.narrow))
	for n, narrow := range c.narrow {
		levels[n] = narrow.dimension.reader(block)
	}
	return func(i int) bool {
		for n, level := range levels {
			if !c.narrow[n].in[level(i)] {
				return false
			}
		}
		return true
	}
}

// used gives the rows of a block that are joints in use and in scope.
func (c *Cohort) used(block int) iter.Seq[int] {
	f, in := &c.linked.fates[block], c.inScope(block)
	return func(yield func(int) bool) {
		for i := range f.of {
			if f.of[i].used() && (in == nil || in(i)) && !yield(i) {
				return
			}
		}
	}
}

// has says whether a row is in scope.
func (c *Cohort) has(at row.Place) bool {
	in := c.inScope(int(at.Block))
	return in == nil || in(int(at.Index))
}

// hasRow says whether a row is in scope as it is in hand, where its side and age
// may have been supposed otherwise.
func (c *Cohort) hasRow(r *row.Row) bool {
	for _, n := range c.narrow {
		level := -1
		if n.dimension.supposed != nil {
			level = n.dimension.supposed(r)
		}
		if level < 0 {
			level = n.dimension.reader(int(r.At.Block))(int(r.At.Index))
		}
		if !n.in[level] {
			return false
		}
	}
	return true
}

// hasNothing says whether a row that says nothing is in scope.
func (c *Cohort) hasNothing() bool {
	for _, n := range c.narrow {
		if at := slices.Index(n.dimension.levels, NotRecorded); at < 0 || !n.in[at] {
			return false
		}
	}
	return true
}
