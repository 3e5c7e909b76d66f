//go:build !amd64

package sheet

func marksIn(data *[strip]byte, delim byte) (marks, lines uint64) { return marksByWords(data, delim) }

func place(to *places, first int, marks uint64) { placeByOne(to, first, marks) }
