package page

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort"
)

// checked is what a page shows of tables as they are understood.
type checked struct {
	Refused  string    `json:"refused"` // why nothing at all can be said; "" if something can
	Ready    bool      `json:"ready"`   // for the audit
	Parts    []asked   `json:"parts"`
	Headings []heading `json:"headings"`
	Words    []words   `json:"words"`
	Lacks    []string  `json:"lacks"`  // columns of words of which something may be so for all rows
	Fields   []string  `json:"fields"` // to group by
	Closing  string    `json:"closing"`
	Settings string    `json:"settings"` // as a file
}

// asked is a part of the check: text, or things to settle.
type asked struct {
	Title string  `json:"title"`
	HTML  string  `json:"html"`
	Asks  []thing `json:"asks"`
}

// thing is one thing to settle, by choices.
type thing struct {
	Text    string   `json:"text"`
	Choices []choice `json:"choices"`
}

// choice is one of several ways to settle a thing, or a value to be given.
type choice struct {
	About   string   `json:"about"` // the word or heading, where one thing has several; "" else
	Kind    string   `json:"kind"`  // "one" of the options, "several" of them, a "day", or a "word" of a column
	Column  string   `json:"column"`
	Options []option `json:"options"`
}

// option is a setting, in words.
type option struct {
	Label   string `json:"label"`
	Section string `json:"section"`
	Key     string `json:"key"`
	Value   any    `json:"value"`
}

// heading is how one heading was understood.
type heading struct {
	File   string `json:"file"`
	Typed  string `json:"typed"`
	Column string `json:"column"`
	How    string `json:"how"`
	Filled string `json:"filled"`
	Under  string `json:"under"` // the commonest values, where it is not understood
	Out    bool   `json:"out"`   // left out
}

// words is how the words of one column were understood.
type words struct {
	Column string `json:"column"`
	Until  string `json:"until"` // what becomes of those that are not known
	More   int    `json:"more"`  // words that are not listed
	Words  []word `json:"words"`
}

type word struct {
	Typed string `json:"typed"`
	Value string `json:"value"`
	Rows  int    `json:"rows"`
	Known bool   `json:"known"`
}

// mostWords is how many words of a column are listed.
const mostWords = 60

// check says how tables are understood, and what is to be settled.
func (s *server) check(q *question) (*checked, error) {
	w, err := s.work(q)
	if err != nil {
		return nil, err
	}
	c := &checked{Ready: w.stopped == nil}
	if w.stopped != nil && w.cohort == nil && !report.Asks(w.stopped) {
		c.Refused = plain(w.stopped.Error())
		return c, nil
	}
	f, err := gather.CheckOf(w.cohort, !report.Asks(w.stopped))
	if err != nil {
		return nil, err
	}
	d, err := report.Check(f, report.CheckOptions{Stopped: w.stopped})
	if err != nil {
		return nil, err
	}
	if c.Parts, err = partsOf(onPage(d)); err != nil {
		return nil, err
	}
	if w.cohort == nil {
		return c, nil
	}
	c.Headings, c.Words, c.Closing = headings(w.cohort), wordsOf(w.cohort), w.cohort.Closing.Day.String()
	if w.stopped == nil {
		c.Fields = w.cohort.Fields()
	}
	for _, k := range cohort.Columns() {
		if k.Words != nil && slices.Contains(assumable, k.Name) && !w.cohort.HasColumn(k.Name) {
			c.Lacks = append(c.Lacks, k.Name)
		}
	}
	var b bytes.Buffer
	if err := settings.Propose(&b, w.cohort, w.in, w.tables, "settings.toml", w.stopped); err != nil {
		return nil, err
	}
	c.Settings = b.String()
	return c, nil
}

// assumable are the columns of which one word may be so for all rows of a table.
var assumable = []string{"joint", "procedure", "bearing", "fixation", "diagnosis"}

// partsOf parts a check at its headings.
func partsOf(d *document.Document) ([]asked, error) {
	all := []asked{{}}
	rest := new(document.Document)
	flush := func() error {
		if len(rest.Blocks) > 0 {
			p, err := shown(rest, all[len(all)-1].Title, fmt.Sprintf("check-%d-", len(all)))
			if err != nil {
				return err
			}
			all[len(all)-1].HTML += p.HTML
		}
		rest = new(document.Document)
		return nil
	}
	for _, b := range d.Blocks {
		switch b := b.(type) {
		case document.Heading:
			if err := flush(); err != nil {
				return nil, err
			}
			all = append(all, asked{Title: b.Text})
		case document.List:
			if len(b.Items) == 0 || b.Items[0].Mark == document.Bullet {
				rest.Blocks = append(rest.Blocks, b)
				continue
			}
			for _, it := range b.Items {
				all[len(all)-1].Asks = append(all[len(all)-1].Asks, thing{it.Text, choicesOf(it.Lines)})
			}
		default:
			rest.Blocks = append(rest.Blocks, b)
		}
	}
	return all, flush()
}

// choicesOf makes the lines of a settings file that settle a thing into choices:
// a line with its alternatives is one.
func choicesOf(lines []string) []choice {
	var all []choice
	section, values := "", []settings.Value(nil)
	settle := func() {
		if len(values) > 0 {
			all = append(all, choiceOf(values))
		}
		values = nil
	}
	for _, line := range lines {
		if strings.HasPrefix(line, "[") {
			settle()
			section = line
			continue
		}
		if !strings.HasPrefix(line, "# or:") {
			settle()
		}
		values = append(values, slices.DeleteFunc(settings.Values([]string{section, line}), func(v settings.Value) bool {
			return v.Key == toFill // a word that is not shown can't be chosen
		})...)
	}
	settle()
	if len(all) == 1 && all[0].Kind != "word" {
		all[0].About = ""
	}
	return all
}

// toFill is the value of a setting whose value is to be filled in.
const toFill = "…"

// choiceOf makes a setting and its alternatives a choice.
func choiceOf(values []settings.Value) choice {
	first := values[0]
	column, isWord := strings.CutPrefix(first.Section, "words.")
	switch {
	case first.Value == toFill && isWord:
		return choice{About: first.Key, Kind: "word", Column: column, Options: []option{{"", first.Section, first.Key, ""}}}
	case first.Section == "" && (first.Key == "closing_date" || first.Key == "deaths_complete_to"):
		return choice{Kind: "day", Options: []option{{"", "", first.Key, first.Value}}}
	case first.Section == "" && first.Key == "sheet":
		c := choice{Kind: "several"}
		if names, ok := first.Value.([]any); ok {
			for _, n := range names {
				c.Options = append(c.Options, option{fmt.Sprint(n), "", "sheet", n})
			}
		}
		return c
	}
	c := choice{About: first.Key, Kind: "one", Column: column}
	for _, v := range values {
		c.Options = append(c.Options, option{labelOf(v, column), v.Section, v.Key, v.Value})
	}
	switch {
	case isWord: // a name that may be another
		c.Options = append(c.Options, option{"“" + first.Key + "” is somebody or something else", first.Section, first.Key, first.Key})
	case first.Section == "columns" && first.Value != "":
		c.Options = append(c.Options, option{"“" + first.Key + "” is none of these: leave it out", first.Section, first.Key, ""})
	}
	return c
}

// labelOf is what a setting says, in words.
func labelOf(v settings.Value, column string) string {
	switch {
	case v.Section == "columns" && v.Value == "":
		return "Leave out “" + v.Key + "”"
	case v.Section == "columns":
		return fmt.Sprintf("“%s” is the %s", v.Key, cohort.Title(fmt.Sprint(v.Value)))
	case column != "":
		return fmt.Sprintf("“%s” is %v", v.Key, v.Value)
	case v.Key == "date_order" && v.Value == "day-first":
		return "3/4/2019 is the 3rd of April: day first"
	case v.Key == "date_order":
		return "3/4/2019 is the 4th of March: month first"
	case v.Key == "revisions_sheet", v.Key == "deaths_sheet":
		return fmt.Sprintf("Yes: “%v” holds the %s", v.Value, strings.TrimSuffix(v.Key, "_sheet"))
	}
	return fmt.Sprintf("%s: %v", strings.ReplaceAll(v.Key, "_", " "), v.Value)
}

// headings say how each heading was understood.
func headings(c *cohort.Cohort) []heading {
	type place struct {
		file  int
		typed string
	}
	under := make(map[place]string)
	for _, v := range c.CommonValues() {
		under[place{v.File, v.Heading.Typed}] = report.Evidence(v)
	}
	var all []heading
	for _, k := range c.Completeness() {
		if k.Heading.Typed == "" || k.Heading.Typed == report.HeadingNotShown {
			continue
		}
		h := heading{
			File: c.Files[k.File].Title(), Typed: document.Clean(k.Heading.Typed), Column: k.Heading.Column, How: k.Heading.How.String(),
			Under: document.Clean(under[place{k.File, k.Heading.Typed}]), Out: k.Heading.How == cohort.LeftOut,
		}
		if k.Counted {
			h.Filled = fmt.Sprintf("%d of %d", k.Rows-k.Missing, k.Rows)
		}
		all = append(all, h)
	}
	return all
}

// wordsOf say how the words of each column were understood.
func wordsOf(c *cohort.Cohort) []words {
	var all []words
	for _, column := range c.Words() {
		w := words{Column: column.Column, Until: cohort.Until(column.Column)}
		for _, each := range column.Words {
			switch {
			case each.FreeText():
			case len(w.Words) == mostWords:
				w.More++
			default:
				w.Words = append(w.Words, word{each.Typed, each.Taken(), each.Rows, each.Known})
			}
		}
		if len(w.Words) > 0 {
			all = append(all, w)
		}
	}
	return all
}
