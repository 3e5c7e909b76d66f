package report

import (
	"cmp"
	"fmt"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
)

// CheckOptions say how much of a check is wanted.
type CheckOptions struct {
	Full    bool   // every list, and all that was understood
	List    string // one list alone, by its name; see [CheckLists]
	Stopped error  // what kept the tables from being read, or from being used
	Again   string // the command that made it, to be repeated with another flag
}

// Check is a page to work from. It opens with what must be done: what stops an
// audit, what would make one mislead, what the tables lack, what was taken as
// read, each as a question with its rows, what it changes and the lines of a
// settings file that settle it; then the rows to chase. With Full the lists
// follow, and how headings and words were understood, how complete the columns
// are and how long the joints were followed. Of tables that could not be read, or are not
// used until something is settled, the cohort alone is needed, if there is one. It has no
// identifying value. An error is of a list that there is not.
func Check(f *gather.Checking, o CheckOptions) (*document.Document, error) {
	p := new(page)
	k := &checking{page: p, Checking: f, o: o}
	if f.Cohort == nil || Asks(o.Stopped) {
		k.stopped()
		return &p.Document, nil
	}
	if o.List != "" {
		return &p.Document, k.oneList()
	}
	k.opening()
	if !o.Full {
		k.commands()
		return &p.Document, nil
	}
	for i := range k.Tasks {
		p.task(k.Cohort, &k.Tasks[i], mostRows)
	}
	for _, l := range checkLists {
		if err := l.write(k); err != nil {
			return nil, err
		}
	}
	return &p.Document, nil
}

// checking is a check being written.
type checking struct {
	*page
	*gather.Checking
	o CheckOptions
}

// question is one thing that somebody has to say.
type question struct {
	ask   string   // with its rows, and what it changes
	lines []string // of a settings file, under their head
	of    string   // the table it is asked of, if an answer for it is one for all
	also  []string // other tables of which the same is asked
}

// opening writes the page: how much there is to do, the questions, the rows to
// chase.
func (k *checking) opening() {
	first, then, lacks, taken := k.stops(), k.misleads(), k.lacking(), k.taken()
	k.paragraph(k.whole(), howMuch(len(first), len(then), len(lacks), gather.DifferentRows(k.Tasks)))
	n := 0
	ask := func(title string, all []question) {
		if len(all) == 0 {
			return
		}
		k.heading(3, title)
		var items []item
		for _, q := range all {
			n++
			items = append(items, item{Mark: fmt.Sprint(n), Text: q.ask, Lines: q.lines})
		}
		k.items(items)
	}
	ask("FIRST: no audit without this", first)
	ask("THEN: an audit runs without these, and may mislead", then)
	say := func(title string, all []string) {
		if len(all) > 0 {
			k.heading(3, title)
			k.bullets(all)
		}
	}
	say("NOT IN THE TABLE, and it matters", lacks)
	say("TAKEN AS READ: say if it is not so", taken)
	k.chase()
}

// whole says what was read and what became of it.
func (k *checking) whole() string {
	a := k.Cohort.Account()
	var names []string
	rows := 0
	for i, f := range k.Cohort.Files {
		name := cmp.Or(f.Folder, f.Name)
		if last := k.Cohort.Files[max(i-1, 0)]; i == 0 || name != cmp.Or(last.Folder, last.Name) {
			names = append(names, name)
		}
		rows += f.Rows
	}
	s := inBrief(names) + ": "
	switch {
	case a.InFiles != a.Read:
		s += fmt.Sprintf("%s in scope (%s) of %s", few(a.Read, "row", "rows"), conditions(k.Cohort.Scope), count(a.InFiles))
	case a.Read != rows: // tables of revisions and deaths are counted apart
		s += few(a.Read, "row", "rows") + " of operations"
	default:
		s += few(a.Read, "row", "rows")
	}
	s += fmt.Sprintf(", %s used and %s set aside", count(a.Used), count(a.SetAside))
	if k.Cohort.Closing.Asked || k.Cohort.Closing.DeathsEnd {
		return s + "; followed to " + longDay(k.Cohort.Closing.Day) + "."
	}
	return s + "; followed to " + longDay(k.Cohort.Closing.Day) + ", the latest date in it."
}

// howMuch says how much there is to do.
func howMuch(first, then, lacks, rows int) string {
	var s []string
	if first > 0 {
		s = append(s, "Nothing can be estimated yet: "+few(first, "question comes", "questions come")+" first")
	}
	if then > 0 {
		s = append(s, few(then, "question", "questions")+" would leave an audit wrong until settled")
	}
	if lacks > 0 {
		s = append(s, few(lacks, "gap", "gaps")+" can’t be closed here")
	}
	if rows > 0 {
		s = append(s, few(rows, "row is", "rows are")+" worth looking up")
	}
	if len(s) == 0 {
		return "Nothing stops an audit, nothing is left open, and no row need be looked up."
	}
	if first == 0 {
		return "Nothing stops an audit: " + list(s) + "."
	}
	return list(s) + "."
}

// commands says how to go on.
func (k *checking) commands() {
	if k.o.Again == "" {
		return
	}
	k.heading(3, "AGAIN, with another flag: "+k.o.Again)
	k.bullets([]string{
		"--list NAME: all rows of a line above, or one of " + strings.Join(otherLists(), ", ") + "; --full: all of these.",
		"--write-settings FILE: all lines to paste, and every heading and word as it was taken, in one file to be edited.",
		"--format csv --out FILE: the rows as a list for a spreadsheet, with a column to tick off.",
	})
}
