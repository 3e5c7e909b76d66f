package page

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"path"
	"slices"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/document/html"
	"example.org/holdfast/cmd/internal/document/pdf"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cmd/internal/version"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// part is a part of the page, as markup.
type part struct {
	HTML string `json:"html"`
}

// audit is the audit on one screen.
func (s *server) audit(q *question) (*part, error) {
	w, err := s.audits(q)
	if err != nil {
		return nil, err
	}
	facts, err := gather.FactsOf(w.cohort, w.audited)
	if err != nil {
		return nil, err
	}
	return shown(report.Answer(w.audited, facts, ""), "The answer", "answer-")
}

// figures are those of the report without its appendix.
func (s *server) figures(q *question) (*part, error) {
	w, err := s.gathers(q)
	if err != nil {
		return nil, err
	}
	d, err := report.Paper(w.material, report.PaperOptions{})
	if err != nil {
		return nil, err
	}
	only := new(document.Document)
	for _, b := range d.Blocks {
		if f, ok := b.(document.Figure); ok {
			only.Blocks = append(only.Blocks, f)
		}
	}
	return shown(only, "Figures", "figures-")
}

// shown is a document as a part of the page; its tables are called by what it is.
func shown(d *document.Document, called, prefix string) (*part, error) {
	var b bytes.Buffer
	d = onPage(d)
	d.Title = called
	if err := html.WriteBody(&b, d, prefix); err != nil {
		return nil, err
	}
	return &part{b.String()}, nil
}

// forms are what can be saved.
var forms = map[string]func(*server, *question, io.Writer) error{
	"report.html":   (*server).report,
	"report.pdf":    (*server).report,
	"audit.csv":     func(s *server, q *question, w io.Writer) error { return s.data(q, w, audit.WriteCSV) },
	"audit.json":    func(s *server, q *question, w io.Writer) error { return s.data(q, w, audit.WriteJSON) },
	"to-do.csv":     (*server).toDo,
	"settings.toml": (*server).settingsFile,
}

// save is a file to be saved.
func (s *server) save(q *question) ([]byte, error) {
	write, ok := forms[q.Form]
	if !ok {
		return nil, fmt.Errorf("there is no form %q", q.Form)
	}
	var b bytes.Buffer
	err := write(s, q, &b)
	return b.Bytes(), err
}

// report writes the report.
func (s *server) report(q *question, out io.Writer) error {
	w, err := s.gathers(q)
	if err != nil {
		return err
	}
	d, err := report.Paper(w.material, report.PaperOptions{
		Title: q.Title, Whose: q.Whose, Year: q.Year, Full: q.Full, Prints: s.prints(w), Settings: inForce(w.in), Version: version.Built(),
	})
	if err != nil {
		return err
	}
	if path.Ext(q.Form) == ".pdf" {
		return pdf.Write(out, d, nil)
	}
	return html.Write(out, d)
}

// prints are the fingerprints of the files that were read.
func (s *server) prints(w *work) []report.Print {
	var all []report.Print
	for _, name := range w.in.Inputs(w.tables) {
		content, ok := s.files[path.Base(name)]
		if !ok || slices.ContainsFunc(all, func(p report.Print) bool { return p.Name == path.Base(name) }) {
			continue
		}
		sum := sha256.Sum256(content)
		all = append(all, report.Print{Name: path.Base(cohort.ShownName(name)), SHA256: hex.EncodeToString(sum[:])})
	}
	return all
}

// data writes the audit as data.
func (s *server) data(q *question, out io.Writer, write func(io.Writer, *audit.Audit) error) error {
	w, err := s.audits(q)
	if err != nil {
		return err
	}
	return write(out, w.audited)
}

// toDo writes the rows to be looked up.
func (s *server) toDo(q *question, out io.Writer) error {
	w, err := s.work(q)
	if err != nil {
		return err
	}
	if w.cohort == nil {
		return w.stopped
	}
	f, err := gather.CheckOf(w.cohort, !report.Asks(w.stopped))
	if err != nil {
		return err
	}
	return report.CheckCSV(out, w.cohort, f.Tasks)
}

// settingsFile writes what is settled as a settings file, for the next table too.
func (s *server) settingsFile(q *question, out io.Writer) error {
	w, err := s.work(q)
	if err != nil {
		return err
	}
	if w.cohort == nil {
		return w.stopped
	}
	return settings.Propose(out, w.cohort, w.in, w.tables, "settings.toml", w.stopped)
}
