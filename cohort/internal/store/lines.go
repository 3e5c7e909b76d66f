package store

// lines are how the file numbers the rows of a block, which are in the order of the table.
type lines struct {
	first [blockRows / 64]int32 // of each 64 rows
	since []uint16              // how much more each row's is
	far   []int32               // from the row on that is too far from the first for that, all
}

func (l *lines) add(at int, line int32) {
	if at%64 == 0 {
		l.first[at/64] = line
	}
	since := line - l.first[at/64]
	if l.far == nil && since == int32(uint16(since)) {
		l.since = append(l.since, uint16(since))
	} else {
		l.far = append(l.far, line)
	}
}

func (l *lines) of(i int) int32 {
	if i < len(l.since) {
		return l.first[i/64] + int32(l.since[i])
	}
	return l.far[i-len(l.since)]
}
