package tally

import (
	"encoding/binary"
	"fmt"
	"iter"
	"slices"
)

// Dimension is one way of grouping, with the values it can take in the order
// in which they are listed.
type Dimension struct {
	Name   string
	Levels []string
}

// All is the level of a dimension that is summed over. It is a number of its
// own, so it can't be confused with a value that happens to be called "All".
const All = -1

// Key says which group counts belong to: for each dimension of a set, the
// number of a level, or [All]. Keys are equal (==) when their levels are.
type Key struct{ levels string }

// NewKey makes a key of one level per dimension, each 0 or more, or [All].
func NewKey(levels ...int) Key {
	b := make([]byte, 4*len(levels))
	for i, l := range levels {
		binary.BigEndian.PutUint32(b[4*i:], uint32(l+1))
	}
	return Key{string(b)}
}

// Len is the number of dimensions.
func (k Key) Len() int { return len(k.levels) / 4 }

// Level is the level in dimension i, or [All].
func (k Key) Level(i int) int {
	return int(binary.BigEndian.Uint32([]byte(k.levels[4*i:4*i+4]))) - 1
}

// Compare orders keys by their first dimension, then the second, and so on;
// [All] comes first.
func (k Key) Compare(o Key) int {
	switch {
	case k.levels < o.levels:
		return -1
	case k.levels > o.levels:
		return 1
	}
	return 0
}

// Set is the counts of several groups along the same dimensions.
type Set struct {
	Dimensions []Dimension
	Causes     []string // names of causes 1, 2, …
	groups     map[Key]*Counts
}

// NewSet returns an empty set. It panics if there is no cause.
func NewSet(dimensions []Dimension, causes []string) *Set {
	if len(causes) == 0 {
		panic("tally: want one cause or more")
	}
	return &Set{Dimensions: dimensions, Causes: causes, groups: make(map[Key]*Counts)}
}

// Len is the number of groups.
func (s *Set) Len() int { return len(s.groups) }

// Counts is the group of a key; nil if nothing was counted in it.
func (s *Set) Counts(k Key) *Counts { return s.groups[k] }

// Group is the group of a key, made if it is not there. It panics if the key
// does not fit the dimensions.
func (s *Set) Group(k Key) *Counts {
	c := s.groups[k]
	if c == nil {
		if k.Len() != len(s.Dimensions) {
			panic(fmt.Sprintf("tally: key of %d dimensions in a set of %d", k.Len(), len(s.Dimensions)))
		}
		for i, d := range s.Dimensions {
			if l := k.Level(i); l >= len(d.Levels) {
				panic(fmt.Sprintf("tally: level %d of %s, which has %d", l, d.Name, len(d.Levels)))
			}
		}
		c = New(len(s.Causes))
		s.groups[k] = c
	}
	return c
}

// Take adds a group's counts, which are then the set's: where it has none under
// the key they are not copied. Errors are those of [Counts.Merge]; it panics as
// [Set.Group] does.
func (s *Set) Take(k Key, c *Counts) error {
	to := s.Group(k)
	if to.listed && len(to.list) == 0 && c.causes == to.causes {
		s.groups[k] = c
		return nil
	}
	return to.Merge(c)
}

// Words are the values of a key in the set's dimensions, all where a dimension
// is summed over. A value may itself be spelt like that: compare levels, not
// words.
func (s *Set) Words(k Key, all string) []string {
	words := make([]string, len(s.Dimensions))
	for i, d := range s.Dimensions {
		words[i] = all
		if l := k.Level(i); l != All {
			words[i] = d.Levels[l]
		}
	}
	return words
}

// Keys lists the keys in order.
func (s *Set) Keys() []Key {
	keys := make([]Key, 0, len(s.groups))
	for k := range s.groups {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, Key.Compare)
	return keys
}

// All iterates over the groups in the order of their keys.
func (s *Set) All() iter.Seq2[Key, *Counts] {
	return func(yield func(Key, *Counts) bool) {
		for _, k := range s.Keys() {
			if !yield(k, s.groups[k]) {
				return
			}
		}
	}
}

// Merge adds other sets' groups. The dimensions must have the same names in
// the same order, and the causes be the same; levels are matched by name, and
// those that s lacks are appended. On an error s is unchanged.
func (s *Set) Merge(others ...*Set) error {
	merged := &Set{Dimensions: slices.Clone(s.Dimensions), Causes: s.Causes, groups: make(map[Key]*Counts, len(s.groups))}
	for i := range merged.Dimensions {
		merged.Dimensions[i].Levels = slices.Clone(merged.Dimensions[i].Levels)
	}
	for k, c := range s.groups {
		merged.groups[k] = c
	}
	own := make(map[Key]bool) // groups that are no other set's
	for _, o := range others {
		if err := merged.add(o, own); err != nil {
			return err
		}
	}
	s.Dimensions, s.groups = merged.Dimensions, merged.groups
	return nil
}

// add adds another set's groups. Those under the keys of own may be added to; others are
// copied first.
func (s *Set) add(o *Set, own map[Key]bool) error {
	if !slices.Equal(s.Causes, o.Causes) {
		return fmt.Errorf("tally: merging causes %q into %q", o.Causes, s.Causes)
	}
	if len(s.Dimensions) != len(o.Dimensions) {
		return fmt.Errorf("tally: merging %d dimensions into %d", len(o.Dimensions), len(s.Dimensions))
	}
	renumber := make([][]int, len(s.Dimensions))
	for i, d := range o.Dimensions {
		to := &s.Dimensions[i]
		if d.Name != to.Name {
			return fmt.Errorf("tally: merging dimension %q into %q", d.Name, to.Name)
		}
		for _, name := range d.Levels {
			at := slices.Index(to.Levels, name)
			if at < 0 {
				at = len(to.Levels)
				to.Levels = append(to.Levels, name)
			}
			renumber[i] = append(renumber[i], at)
		}
	}
	levels := make([]int, len(s.Dimensions))
	for k, c := range o.groups {
		for i := range levels {
			if levels[i] = k.Level(i); levels[i] != All {
				levels[i] = renumber[i][levels[i]]
			}
		}
		to := NewKey(levels...)
		have := s.groups[to]
		if !own[to] {
			sum := New(len(s.Causes))
			if have != nil {
				if err := sum.Merge(have); err != nil {
					return err
				}
			}
			s.groups[to], own[to], have = sum, true, sum
		}
		if err := have.Merge(c); err != nil {
			return err
		}
	}
	return nil
}

// Collapse sums over every dimension but those named, which keep their levels;
// the others become [All]. It is an error if a name is not a dimension's.
// Every group of s is added once, so s should hold either cells or margins, not
// both. It is s itself that is returned if nothing is to be summed over.
func (s *Set) Collapse(keep ...string) (*Set, error) {
	kept := make([]bool, len(s.Dimensions))
	for _, name := range keep {
		i := slices.IndexFunc(s.Dimensions, func(d Dimension) bool { return d.Name == name })
		if i < 0 {
			return nil, fmt.Errorf("tally: no dimension %q", name)
		}
		kept[i] = true
	}
	if !slices.Contains(kept, false) {
		return s, nil
	}
	collapsed := NewSet(s.Dimensions, s.Causes)
	levels := make([]int, len(s.Dimensions))
	for k, c := range s.groups {
		for i := range levels {
			levels[i] = All
			if kept[i] {
				levels[i] = k.Level(i)
			}
		}
		if err := collapsed.Group(NewKey(levels...)).Merge(c); err != nil {
			return nil, err
		}
	}
	return collapsed, nil
}
