// Package page answers what a web page asks that has this program inside it: it
// reads tables that the page was given, says what to settle in them, and makes the
// audit, the report and the lists, with the same packages as the command. It opens
// no file and no connection: everything comes in by the reader and goes out by the
// writer that [Serve] is given.
//
// A question is one line of JSON, with the bytes of a file after it if it has a
// size; so is an answer. The line of an answer says by its kind what it is: so many
// bytes of so many read ("progress"), the answer itself ("answer"), or in words why
// there is none ("refused").
package page

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"

	"example.org/holdfast/cmd/internal/version"
	"example.org/holdfast/cohort"
)

// question is what the page asks.
type question struct {
	Do   string // "start", "file", "forget", "settings", "check", "audit", "figures" or "save"
	Name string // of a file
	Size int    // of what follows the line

	Tables   []string        // the files that hold the operations
	Settings json.RawMessage // what is settled, with the keys of a settings file

	Form               string // of what is saved: one of [forms]
	Title, Whose, Year string // of a report
	Full               bool   // with everything that is known
}

// mostFile is the size of a file above which a page can't hold it.
const mostFile = 1 << 30

// server is one conversation with a page.
type server struct {
	out   *bufio.Writer
	files map[string][]byte
	last  *work // of the last tables and settings
	shown time.Time
}

// Serve answers questions until there are no more. Errors are those of the reader
// and the writer, and of a question that can't be understood; whatever is wrong
// with tables and settings is an answer.
func Serve(in io.Reader, out io.Writer) error {
	s := &server{out: bufio.NewWriter(out), files: make(map[string][]byte)}
	r := bufio.NewReader(in)
	for {
		line, err := r.ReadBytes('\n')
		if errors.Is(err, io.EOF) && len(line) == 0 {
			return nil
		}
		if err != nil {
			return err
		}
		var q question
		if err := json.Unmarshal(line, &q); err != nil {
			return err
		}
		if q.Size < 0 || q.Size > mostFile {
			return fmt.Errorf("a file of %d bytes", q.Size)
		}
		var content []byte
		if q.Size > 0 {
			content = make([]byte, q.Size)
			if _, err := io.ReadFull(r, content); err != nil {
				return err
			}
		}
		if err := s.answer(&q, content); err != nil {
			return err
		}
	}
}

// answer answers one question.
func (s *server) answer(q *question, content []byte) error {
	var result any
	var file []byte
	var err error
	switch q.Do {
	case "start":
		result = started{version.Built(), columns()}
	case "file":
		s.files[q.Name], s.last = content, nil
	case "forget":
		s.files, s.last = make(map[string][]byte), nil
	case "settings":
		result, err = settled(q.Name, content)
	case "check":
		result, err = s.check(q)
	case "audit":
		result, err = s.audit(q)
	case "figures":
		result, err = s.figures(q)
	case "save":
		file, err = s.save(q)
	default:
		return fmt.Errorf("nothing is known of %q", q.Do)
	}
	if err != nil {
		return s.write("refused", plain(err.Error()), nil)
	}
	return s.write("answer", result, file)
}

// write writes one answer.
func (s *server) write(kind string, result any, file []byte) error {
	line, err := json.Marshal(struct {
		Kind   string `json:"kind"`
		Size   int    `json:"size"`
		Result any    `json:"result"`
	}{kind, len(file), result})
	if err != nil {
		return err
	}
	s.out.Write(append(line, '\n'))
	s.out.Write(file)
	return s.out.Flush()
}

// progress says how far a long reading has come, a few times a second.
func (s *server) progress(p cohort.Progress) {
	if now := time.Now(); now.Sub(s.shown) >= 100*time.Millisecond {
		s.shown = now
		s.write("progress", [2]int64{p.Read, p.Total}, nil)
	}
}

// started is what a page needs to know from the start.
type started struct {
	Version string   `json:"version"`
	Columns []column `json:"columns"`
}

// column is one that a heading may be taken for, with the words it may hold.
type column struct {
	Name   string   `json:"name"`
	Title  string   `json:"title"`
	Help   string   `json:"help"`
	Needed bool     `json:"needed"`
	Words  []string `json:"words"`
}

func columns() []column {
	var all []column
	for _, c := range cohort.Columns() {
		all = append(all, column{c.Name, cohort.Title(c.Name), c.Description, c.Needed, c.Words})
	}
	return all
}
