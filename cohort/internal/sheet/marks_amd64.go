package sheet

// marksIn is marksByWords, and place placeByOne, by instructions that every such processor
// has: text tables are split in three quarters of the time.

//go:noescape
func marksIn(data *[strip]byte, delim byte) (marks, lines uint64)

//go:noescape
func place(to *places, first int, marks uint64)
