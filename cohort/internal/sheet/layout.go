package sheet

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
)

// layout is what the start of a text table says about the rest.
type layout struct {
	style    style
	headings []string
	upper    []string // the row right above them, where it may hold headings too
	row      int      // physical line of the headings
	preamble []string
	comments []string
	offset   int // bytes of text before the first data row
	line     int // physical line of the first data row
}

// findLayout looks for separator and headings in text, the decoded start of
// the file; whole says that it is all of the file.
func findLayout(text []byte, whole bool, o Options) (layout, error) {
	l := layout{line: 1, style: style{delim: byte(o.Delimiter), limit: o.limit}}
	if d := separatorLine(text); d != 0 {
		if l.style.delim == 0 {
			l.style.delim = d
		}
		l.skipLine(text)
	}
	among := delimiters
	var first *layout // at the first line that could hold headings
	var above []int   // offsets of the lines right above
	wanted := false
	for tried := 0; ; {
		rest := text[l.offset:]
		if len(rest) == 0 {
			if first == nil {
				return l, noHeadings(whole, o)
			}
			l = *first
			break
		}
		line := firstLineOf(rest)
		if o.HeadingRow > 0 {
			if l.line >= o.HeadingRow {
				break
			}
			if s := comment(line); s != "" {
				l.preamble = append(l.preamble, s)
			}
		} else if isComment(line) {
			above = nil
			l.preamble = append(l.preamble, comment(line))
			l.comments = append(l.comments, comment(line))
		} else if len(bytes.Trim(line, " ,;|\t\r\"")) > 0 {
			if o.IsHeadings == nil {
				break
			}
			if found := l.accepted(rest, whole, o); len(found) > 0 {
				among, wanted = found, true
				break
			}
			above = append(above, l.offset)
			if first == nil {
				at := l
				at.preamble = slices.Clip(at.preamble)
				at.comments = slices.Clip(at.comments)
				first = &at
			}
			if tried++; tried == headingRows {
				l = *first
				break
			}
			l.preamble = append(l.preamble, comment(line))
		} else {
			above = nil
		}
		if len(rest) == len(line) && !whole {
			if first == nil {
				return l, noHeadings(whole, o)
			}
			l = *first
			break
		}
		l.skipLine(text)
	}
	if l.style.delim == 0 {
		l.style.delim = findDelimiter(text[l.offset:], whole, l.style, among)
	}
	var upper []string
	if wanted {
		upper = l.rightAbove(text, above)
	}
	return l, l.readHeadings(text[l.offset:], whole, upper)
}

// rightAbove returns the record that ends where the headings begin. It starts
// on one of several lines; the earliest, since cells may hold line ends.
func (l *layout) rightAbove(text []byte, lines []int) []string {
	for _, from := range lines {
		b := Batch{style: &l.style}
		if end, v := b.parse(text[from:l.offset], true); v == complete && from+end == l.offset {
			return headingsOf(b.cells)
		}
	}
	return nil
}

// padded makes headings as long as the row right above them, where that holds
// more than a title and some heading is empty or stands twice, and returns that row;
// else it returns none.
func padded(headings, upper []string) (longer, above []string) {
	texts := 0
	for _, s := range upper {
		if s != "" {
			texts++
		}
	}
	if texts < 2 || !slices.Contains(headings, "") && !repeated(headings) && len(upper) <= len(headings) {
		return headings, nil
	}
	upper = trimHeadings(upper)
	for len(headings) < len(upper) {
		headings = append(headings, "")
	}
	return headings, upper
}

// repeated says whether a heading stands twice.
func repeated(headings []string) bool {
	sorted := slices.Sorted(slices.Values(headings))
	return len(slices.Compact(sorted)) < len(headings)
}

// accepted returns the separators with which the record at the start of rest
// looks like headings.
func (l *layout) accepted(rest []byte, whole bool, o Options) []byte {
	tries := delimiters
	if l.style.delim != 0 {
		tries = []byte{l.style.delim}
	}
	var found []byte
	for _, d := range tries {
		s := l.style
		s.delim = d
		b := Batch{style: &s}
		if _, v := b.parse(rest, whole); v == complete && o.IsHeadings(headingsOf(b.cells)) {
			found = append(found, d)
		}
	}
	return found
}

func noHeadings(whole bool, o Options) error {
	switch {
	case !whole:
		return fmt.Errorf("no headings found: %w", ErrLongRecord)
	case o.HeadingRow > 0:
		return fmt.Errorf("%w before the heading row %d", ErrEmpty, o.HeadingRow)
	}
	return fmt.Errorf("%w but for blank and comment lines", ErrEmpty)
}

func (l *layout) readHeadings(rest []byte, whole bool, upper []string) error {
	b := Batch{style: &l.style}
	end, v := b.parse(rest, whole)
	switch v {
	case unclosed:
		return &rowError{l.line, fmt.Errorf("the headings: %w", ErrQuote)}
	case more, tooLong:
		return &rowError{l.line, fmt.Errorf("the headings: %w", ErrLongRecord)}
	}
	l.headings, l.upper = padded(trimHeadings(headingsOf(b.cells)), upper)
	l.style.columns = len(l.headings)
	l.row = l.line
	l.line += lineCount(rest[:end])
	l.offset += end
	return nil
}

// headingText is a heading as it is handed out.
func headingText(cell []byte) string {
	return strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(string(cell)), "\ufeff"))
}

func headingsOf(cells [][]byte) []string {
	texts := make([]string, len(cells))
	for i, c := range cells {
		texts[i] = headingText(c)
	}
	return texts
}

// trimHeadings drops empty headings at the end.
func trimHeadings(headings []string) []string {
	for n := len(headings); n > 1 && headings[n-1] == ""; n-- {
		headings = headings[:n-1]
	}
	return headings
}

func (l *layout) skipLine(text []byte) {
	if k := bytes.IndexByte(text[l.offset:], '\n'); k >= 0 {
		l.offset += k + 1
		l.line++
		return
	}
	l.offset = len(text)
}

func firstLineOf(text []byte) []byte {
	if k := bytes.IndexByte(text, '\n'); k >= 0 {
		return text[:k]
	}
	return text
}

// separatorLine returns the separator named by a first line such as "sep=;",
// which spreadsheets write and read, or 0.
func separatorLine(text []byte) byte {
	line := bytes.Trim(trimCR(firstLineOf(text)), `"`)
	if len(line) == 5 && bytes.EqualFold(line[:4], []byte("sep=")) && separates(rune(line[4])) {
		return line[4]
	}
	return 0
}

// separates reports whether d can be a separator: tab or an ASCII character
// that is no letter, digit, space or quotation mark.
func separates(d rune) bool {
	switch {
	case d == '\t':
		return true
	case d <= ' ', d > '~', d == '"', '0' <= d && d <= '9', 'A' <= d && d <= 'Z', 'a' <= d && d <= 'z':
		return false
	}
	return true
}

// isComment reports whether a line above the headings is a comment: it starts
// with "#". A "#" that is a whole cell, with others beside it, is a heading.
func isComment(line []byte) bool {
	line = bytes.TrimLeft(line, " \t")
	if len(line) > 0 && line[0] == '"' {
		return bytes.HasPrefix(line, []byte(`"#`)) && !bytes.HasPrefix(line, []byte(`"#"`))
	}
	if len(line) == 0 || line[0] != '#' {
		return false
	}
	rest := line[1:]
	return len(rest) == 0 || bytes.IndexByte(delimiters, rest[0]) < 0 || len(bytes.Trim(rest, " ,;|\t\r\"")) == 0
}

// comment is the text of a line above the headings.
func comment(line []byte) string {
	s := strings.TrimRight(string(line), " ,;|\t\r")
	s = strings.TrimSpace(s)
	if strings.HasPrefix(s, `"`) {
		s = strings.ReplaceAll(strings.TrimSuffix(s[1:], `"`), `""`, `"`)
	}
	return strings.TrimSpace(strings.TrimPrefix(s, "#"))
}

// delimiters in the order of preference where nothing else decides.
var delimiters = []byte(",;\t|")

// sampled is the number of records that settle the separator.
const sampled = 20

// findDelimiter picks one of the separators from the headings and the records
// after them: the one that divides the headings and most often divides the
// records into as many cells; of equals the one with most cells. The first, if
// none divides the headings.
func findDelimiter(text []byte, whole bool, s style, among []byte) byte {
	best, bestLike, bestCells := among[0], 0, 1
	for _, d := range among {
		s.delim = d
		b := Batch{style: &s}
		rest, cells, like := text, 0, 0
		for i := 0; i < sampled && len(rest) > 0; {
			end, v := b.parse(rest, whole)
			if v == more || v == tooLong {
				break
			}
			if v == complete {
				line := rest[:end]
				if i == 0 {
					cells = len(b.cells)
				}
				if len(bytes.Trim(line, " ,;|\t\r\n\"")) > 0 {
					if len(b.cells) == cells {
						like++
					}
					i++
				}
			}
			rest = rest[end:]
		}
		if cells > 1 && (like > bestLike || like == bestLike && cells > bestCells) {
			best, bestLike, bestCells = d, like, cells
		}
	}
	return best
}

// delimiterWord is the separator in words.
func delimiterWord(d byte) string {
	switch d {
	case ',':
		return "comma"
	case ';':
		return "semicolon"
	case '\t':
		return "tab"
	case '|':
		return "bar"
	}
	return fmt.Sprintf("%q", d)
}
