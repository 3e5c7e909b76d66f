package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
)

// Answer is an audit on one page: for each joint and procedure a sentence that
// answers, what to look at first and the numbers; what could be wrong with it;
// the groups at one year; what reads above or below, and how much of that chance
// alone would give; what the practice as a whole has seen; cautions and sources.
// Everything else is in [Audit]. Again is the command that checks the tables. Beside
// an audit made for sharing there are no facts.
func Answer(a *audit.Audit, f *gather.Facts, again string) *document.Document {
	w := newAnswer(new(page), a, f, onOnePage)
	w.all()
	w.worstCase(a, w.parts)
	w.department(a)
	w.closingLines(again)
	w.invented()
	return &w.Document
}

func newAnswer(p *page, a *audit.Audit, f *gather.Facts, on standing) *answering {
	if a.Shared != nil {
		f = new(gather.Facts)
	}
	return &answering{page: p, a: a, f: f, parts: divide(a), on: on}
}

// all is the page down to its sources.
func (w *answering) all() {
	w.opening()
	w.answers()
	w.cautions()
	w.doubts()
	w.byGroup(w.parts)
	w.aboveOrBelow()
	w.practice()
	w.sources()
}

// answering is the page being written.
type answering struct {
	*page
	a     *audit.Audit
	f     *gather.Facts
	parts []*part

	letters  lettered
	said     saidOnce
	explains saidOnce  // of these, the words that are explained
	read     []reading // on the page

	on standing

	typedPorous *string // what the tables call porous, once known
}

// standing is what the page stands on.
type standing int

const (
	onOnePage  standing = iota // alone
	beforeAll                  // before all there is to say
	inReport                   // which has no commands
	forMeeting                 // a report of a department, without its data and follow-up
)

// paper says that it is printed.
func (s standing) paper() bool { return s >= inReport }

// saidOnce are the words on the page that need a caution.
type saidOnce struct{ compatible, few, beside, near, dying bool }

// without are those that the others are not.
func (s saidOnce) without(o saidOnce) saidOnce {
	return saidOnce{s.compatible && !o.compatible, s.few && !o.few, s.beside && !o.beside, s.near && !o.near, s.dying && !o.dying}
}

// lettered are the publications on the page, by the order in which they are met.
type lettered []*benchmark.Series

// letter is a publication's.
func (l *lettered) letter(s *benchmark.Series) string {
	for i, other := range *l {
		if other.Source == s.Source && other.Citation == s.Citation {
			return letters(i)
		}
	}
	*l = append(*l, s)
	return letters(len(*l) - 1)
}

// marks are the letters of several figures: [a, b].
func (l *lettered) marks(figures []*audit.Beside) string {
	var all []string
	for _, b := range figures {
		if m := l.letter(b.Series); !slices.Contains(all, m) {
			all = append(all, m)
		}
	}
	return "[" + strings.Join(all, ", ") + "]"
}

// rest is where everything else stands.
func (w *answering) rest() string {
	return [...]string{onOnePage: "--full", beforeAll: "further on", inReport: "full report", forMeeting: "full report"}[w.on]
}

// inventedTables are the names of the tables that call their rows invented.
func inventedTables(files []cohort.File) []string {
	var tables []string
	for _, f := range files {
		if f.Invented() && !slices.Contains(tables, f.Name) {
			tables = append(tables, f.Name)
		}
	}
	return tables
}

// inventedJoints says first that a page's joints are invented, if a table says so.
func (p *page) inventedJoints(files []cohort.File) {
	if tables := inventedTables(files); len(tables) > 0 {
		p.paragraph("INVENTED: " + jointsHere(tables) + ".")
	}
}

func jointsHere(tables []string) string {
	return "the joints here (" + inBrief(tables) + one(tables, " says so)", " say so)")
}

// invented says first what on the page is invented, if anything is.
func (w *answering) invented() {
	if s := w.inventedLine(); s != "" {
		w.Blocks = slices.Insert(w.Blocks, 0, document.Block(document.Paragraph{Text: document.Clean(s)}))
	}
}

// inventedLine says what on the page is invented, by what a table or the figures
// say of themselves; "" if nothing is.
func (w *answering) inventedLine() string {
	tables := inventedTables(w.a.Files)
	var figures []string
	for i, s := range w.letters {
		if strings.Contains(strings.ToLower(s.Source+" "+s.Citation), "invented") {
			figures = append(figures, "["+letters(i)+"]")
		}
	}
	joints := jointsHere(tables)
	switch published := "the published figures " + list(figures); {
	case len(tables) > 0 && len(figures) > 0:
		return "INVENTED: " + published + ", and " + joints + ". Nothing follows for a real practice or implant."
	case len(figures) > 0:
		return "INVENTED: " + published + ". Nothing follows from them for a real practice or implant."
	case len(tables) > 0 && len(w.letters) > 0:
		return "INVENTED: " + joints + ". The published figures are real."
	case len(tables) > 0:
		return "INVENTED: " + joints + "."
	}
	return ""
}

// opening says whose joints these are, from when to when.
func (w *answering) opening() {
	var kinds []string
	joints, revised, died := int64(0), int64(0), int64(0)
	for _, p := range w.parts {
		joints, revised, died = joints+p.all.Joints, revised+p.all.Revised, died+p.all.Died
		if k := plural(p.all.Word("joint")); !slices.Contains(kinds, k) {
			kinds = append(kinds, k)
		}
	}
	if slices.Contains(kinds, "joints") {
		kinds = []string{"joints"}
	}
	of := inBrief(primaries(w.a))
	if w.a.Shared != nil {
		of = madeForSharing
	}
	if kinds == nil {
		kinds = []string{"joints shown"}
	}
	s := fmt.Sprintf("%s: %s %s", of, count(joints), nounOf(joints, kinds))
	if len(w.parts) == 1 && w.parts[0].all.Patients > 0 {
		s += fmt.Sprintf(" in %s", few(w.parts[0].all.Patients, "patient", "patients"))
	}
	s += fmt.Sprintf(", %s revised", count(revised))
	if w.a.Deaths.Recorded {
		s += fmt.Sprintf(", %s ended by death", count(died))
	} else {
		s += ", deaths not recorded" + w.deathless()
	}
	if joints > 0 && w.a.Shared == nil {
		s += "; operated on " + inMonths(w.f.FollowUp[0].FirstOperation, w.f.FollowUp[0].LastOperation)
	}
	s += ", followed to " + w.closed() + "."
	limits := "Limits: " + level(w.a)
	if m := w.a.Interval.Method.String(); m != "log-log" {
		limits += ", " + m
	}
	sentences := []string{s}
	if len(w.a.Scope) > 0 {
		sentences = append(sentences, "Only "+conditions(w.a.Scope)+".")
	}
	if len(w.a.Assumed) > 0 {
		sentences = append(sentences, "Assumed: "+conditions(w.a.Assumed)+".")
	}
	if len(w.a.Endpoint.Reasons) > 0 {
		sentences = append(sentences, "Counted: revisions for "+either(w.a.Endpoint.Reasons)+"; others compete, as death does.")
	}
	w.paragraph(append(sentences, limits+". Cumulative revision: as if nobody died.")...)
	w.paragraph(withoutRows(w.a), w.a.Coarsened)
	if w.a.Account.NoRevisions {
		w.paragraph("No revision is recorded at all. None happened, or none was entered? The table can’t tell. What follows holds only if none happened; the upper limit is the finding, not the 0.0, and holds as far as follow-up is known.")
	}
}

// closed is the closing date in words; of an audit made for sharing, its year.
func (w *answering) closed() string {
	if w.a.Shared != nil {
		return closed(w.a)
	}
	return longDay(w.a.Closing.Day)
}

// primaries are the files that hold the joints.
func primaries(a *audit.Audit) []string {
	var names []string
	for _, f := range a.Files {
		if name := cmp.Or(f.Folder, f.Name); (f.Holds == "primaries" || f.Holds == "") && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names
}

// inMonths writes "January 2010 to December 2024".
func inMonths(first, last cohort.Day) string {
	month := func(d cohort.Day) string {
		return time.Unix(int64(d)*24*60*60, 0).UTC().Format("January 2006")
	}
	if month(first) == month(last) {
		return "in " + month(first)
	}
	return month(first) + " to " + month(last)
}

// plural is several of a joint: hips, knees, else joints.
func plural(joint string) string {
	if joint == "hip" || joint == "knee" {
		return joint + "s"
	}
	return "joints"
}

// nounOf is what a number of joints of several kinds are called.
func nounOf(n int64, kinds []string) string {
	s := list(kinds)
	if n == 1 && len(kinds) == 1 {
		s = strings.TrimSuffix(s, "s")
	}
	return s
}

// ofPart names so many of a part's joints: "13 hips", "1 unicompartmental knee".
func ofPart(p *part, n int64) string {
	what := kindOf(p.all.Word("joint"), p.all.Word("procedure"))
	if joint := p.all.Word("joint"); joint != "hip" && joint != "knee" {
		what = "joint"
	}
	return few(n, what, what+"s")
}
