package report

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/holdfast/cohort"
)

// longDay writes "31 December 2024".
func longDay(d cohort.Day) string {
	return time.Unix(int64(d)*24*60*60, 0).UTC().Format("2 January 2006")
}

// typed is a heading or word of a table in a sentence.
func typed(s string) string { return "“" + s + "”" }

// headed are lines of a settings file with their head before them.
func headed(head string, lines ...string) []string {
	return append([]string{"[" + head + "]"}, lines...)
}

// mostTyped is how many words of one column are asked about on the page.
const mostTyped = 8

// misleads asks what would make an audit mislead.
func (k *checking) misleads() []question {
	var all []question
	all = append(all, k.askClosing()...)
	if whole := k.FollowUp[0]; k.Cohort.Account().NoRevisions {
		all = append(all, question{ask: fmt.Sprintf("%s and no revision: was none of them revised, or was none entered? The table can’t tell, and what an audit says holds only if none was.", few(whole.Joints, "joint", "joints"))})
	}
	if whole := k.FollowUp[0]; mostlyRevised(whole.Revised, whole.Joints) {
		all = append(all, question{ask: fmt.Sprintf("Are %s of %s revised? %s", count(whole.Revised), few(whole.Joints, "joint", "joints"), mostRevised)})
	}
	for _, t := range k.Cohort.TablesAgain() {
		all = append(all, question{ask: fmt.Sprintf("Are the joints of %s those of %s? %s of its %s have the day of operation, joint, side, age and sex of one there. If so, they count twice, and every interval is too narrow: give one of the two.",
			k.Cohort.Files[t.File].Title(), k.Cohort.Files[t.Of].Title(), count(t.Too), few(t.Joints, "joint", "joints"))})
	}
	if s := k.Cohort.InSeveralTables(); s.Doubtful() {
		all = append(all, question{ask: fmt.Sprintf("Does each table number its own patients? %s in more than one table, and in %s of them sex or year of birth are another’s there. They are taken for the same people: a death or a revision of one falls on another, and a joint of one may be set aside as another’s. The line below keeps the tables apart.",
			few(s.Patients, "patient’s number stands", "patients’ numbers stand"), count(s.Contradicting)), lines: []string{"patients_by_table = true"}})
	}
	revisions, deaths := cohort.LikelySheets(NotRead(k.Cohort.Files))
	if revisions != "" {
		all = append(all, question{ask: fmt.Sprintf("Does the sheet %s hold revisions? It is not read: until it is, they are not counted.", typed(revisions)), lines: []string{"revisions_sheet = " + TOML(revisions)}})
	}
	if deaths != "" {
		all = append(all, question{ask: fmt.Sprintf("Does the sheet %s hold deaths? It is not read: until it is, the dead stay in follow-up.", typed(deaths)), lines: []string{"deaths_sheet = " + TOML(deaths)}})
	}
	return slices.Concat(all, k.askNames(), k.askHeadings(), k.askWords())
}

// mostlyRevised says that so many of so many joints are revised as no practice sees.
func mostlyRevised(revised, joints int64) bool { return joints >= fewestJoints && 2*revised > joints }

// askClosing asks for the closing date where none was given.
func (k *checking) askClosing() []question {
	d := k.Cohort.Closing
	if d.Asked || d.DeathsEnd || d.Row == 0 {
		return nil
	}
	where := fmt.Sprintf("row %d, column %s%s", d.Row, d.Column, ofTable(k.Cohort, d.File))
	if cell := k.Cohort.Cell(cohort.Problem{File: d.File, Row: d.Row, Column: d.Column}); cell != "" {
		where += ", " + cell
	}
	if d.Doubtful() {
		return []question{{ask: fmt.Sprintf("Is %s right (%s)? It sets the closing date, and stands %s after every other row’s: if it is mistyped, everybody’s follow-up is too long. Mend it, or say up to which day follow-up is complete.",
			longDay(d.Day), where, few(d.GapDays, "day", "days")), lines: []string{"closing_date = " + d.NextLatest.String()}}}
	}
	return []question{{ask: fmt.Sprintf("Up to which day is follow-up complete? None was given, so that it is %s, the latest date in the table (%s). Everybody not revised or dead counts as followed to it, or to the day last seen. The line below has what is assumed: write another day if that is right.",
		longDay(d.Day), where), lines: []string{"closing_date = " + d.Day.String()}}}
}

// ofTable names a table where there are several.
func ofTable(c *cohort.Cohort, file int) string {
	if len(c.Files) < 2 {
		return ""
	}
	return " of " + c.Files[file].Title()
}

// mayStand is what a heading that is not understood may stand for.
type mayStand struct {
	file    int
	heading string
	rows    int // that have a value
	looks   string
	columns []string
}

// mayStandFor lists the headings that are not understood and that may be a
// column which their table lacks, by what is known of their values.
func mayStandFor(c *cohort.Cohort) []mayStand {
	values := valuesUnder(c)
	var all []mayStand
	for _, k := range c.Completeness() {
		if k.Heading.Column != "" || k.Heading.How == cohort.LeftOut || k.Heading.How == cohort.OtherHeading || k.Heading.Typed == HeadingNotShown {
			continue
		}
		v := values[under{k.File, k.Heading.Typed}]
		m := mayStand{file: k.File, heading: k.Heading.Typed, rows: k.Rows - k.Missing, looks: Evidence(v), columns: k.Heading.Between}
		if m.rows == 0 || !k.Counted {
			continue
		}
		if len(m.columns) == 0 {
			m.columns = lacked(c.Files[k.File], v)
		} else if v.Looks == "dates" { // a column of days comes first
			days := func(column string) bool { return strings.HasSuffix(column, "_date") }
			words := func(column string) bool { return !days(column) }
			m.columns = slices.Concat(slices.DeleteFunc(slices.Clone(m.columns), words), slices.DeleteFunc(slices.Clone(m.columns), days))
		}
		if len(m.columns) > 0 {
			all = append(all, m)
		}
	}
	return all
}

// lacked are the columns that a table lacks and that the values under a heading
// may be.
func lacked(f cohort.File, v cohort.CommonValues) []string {
	may := []string{"death_date", "last_seen_date"}
	if strings.Contains(strings.ToLower(v.Heading.Typed), "rev") { // a later revision's
		may = nil
	}
	if v.Looks != "dates" {
		var words []string
		for _, w := range v.Values {
			words = append(words, w.Typed)
		}
		may = cohort.MayBe(words)
	}
	has := func(column string) bool {
		return slices.ContainsFunc(f.Headings, func(h cohort.Heading) bool { return h.Column == column })
	}
	if len(may) > mostMeanings { // such as numbers, which mean something in many columns
		return nil
	}
	return slices.DeleteFunc(may, func(column string) bool { return has(column) || column == "last_seen_date" && f.Holds != "primaries" })
}

// mostMeanings is how many columns a heading is offered as.
const mostMeanings = 3

// askHeadings asks what the headings stand for that may be a column.
func (k *checking) askHeadings() []question {
	var all []question
	for _, m := range mayStandFor(k.Cohort) {
		var meant, lines []string
		for i, column := range m.columns {
			meant = append(meant, label(column))
			line := TOML(m.heading) + " = " + TOML(column)
			if i > 0 {
				line = "# or: " + line
			}
			lines = append(lines, line)
		}
		s := fmt.Sprintf("Is %s (%s%s", typed(m.heading), few(m.rows, "row", "rows"), ofTable(k.Cohort, m.file))
		if m.looks != "" {
			s += ": " + m.looks
		}
		s += ") the " + strings.Join(meant, ", or the ") + "?"
		if lost := k.withoutIt(m.columns[0]); lost != "" {
			s += " Without it " + lost + "."
		} else {
			s += " Until then it is not used."
		}
		all = append(all, question{ask: s, lines: headed("columns", lines...)})
	}
	return all
}

// askNames asks which names are one, by column.
func (k *checking) askNames() []question {
	var all []question
	asked := k.Cohort.NameQuestions()
	for len(asked) > 0 {
		n := 1
		for n < len(asked) && asked[n].Column == asked[0].Column {
			n++
		}
		column := asked[0].Column
		var pairs, lines []string
		for _, q := range asked[:min(n, mostTyped)] {
			pair := fmt.Sprintf("%s (%s)", typed(q.Name), few(q.Rows, "row", "rows"))
			for _, w := range q.MayBe[:min(2, len(q.MayBe))] {
				pair += fmt.Sprintf(" or %s (%s)", typed(w.Value), few(w.Rows, "row", "rows"))
			}
			pairs, lines = append(pairs, strings.Replace(pair, " or ", " and ", 1)), append(lines, SettleName(q))
		}
		s := "Are these one " + label(column) + ": " + strings.Join(pairs, "; ") + "?"
		if more := n - len(pairs); more > 0 {
			s += fmt.Sprintf(" %s more: --list names.", count(more))
		}
		s += " If so, the lines below make them one; if not, put the name itself behind the equals sign, and it is not asked about again. Until then neither may have all the joints, and by " + label(column) + " both may be wrong."
		all = append(all, question{ask: s, lines: headed("words."+column, lines...)})
		asked = asked[n:]
	}
	return all
}

// askWords asks what the words stand for that are not understood.
func (k *checking) askWords() []question {
	var all []question
	for _, column := range k.Cohort.Words() {
		all = append(all, k.askUnseen(column)...)
		var words, lines []string
		more := 0
		for _, w := range column.Words {
			switch {
			case w.Known || w.FreeText():
			case len(words) == mostTyped:
				more++
			default:
				words = append(words, fmt.Sprintf("%s (%s)", typed(w.Typed), few(w.Rows, "row", "rows")))
				lines = append(lines, settling(w.Typed))
			}
		}
		if len(words) == 0 {
			continue
		}
		s := fmt.Sprintf("What %s %s mean, under %s? ", one(words, "does", "do"), list(words), label(column.Column))
		if more > 0 {
			s += fmt.Sprintf("%s more: --list words. ", count(more))
		}
		all = append(all, question{ask: s + untilThen(column.Column), lines: headed("words."+column.Column, lines...)})
	}
	return all
}

// untilThen says what becomes of a column's words that are not understood, and which
// are.
func untilThen(column string) string {
	s := capital(cohort.Until(column)) + "."
	for _, known := range cohort.Columns() {
		if known.Name == column {
			s += " Known: " + known.Description + "."
		}
	}
	return s
}

// askUnseen asks what the words of a column of few words stand for that stand in
// several rows, and are not shown: they may be a code, or about a patient.
func (k *checking) askUnseen(column cohort.ColumnWords) []question {
	var words, lines []string
	for _, w := range column.Words {
		if shape := Numbered(w); shape != "" && len(words) < mostTyped {
			words = append(words, fmt.Sprintf("a word of %s (%s, the first is %s)", shape, few(w.Rows, "row", "rows"), k.firstRow(w)))
			lines = append(lines, fmt.Sprintf("%s  # the word in %s, as it stands there", settling(unseen), k.firstRow(w)))
		}
	}
	if len(words) == 0 {
		return nil
	}
	s := fmt.Sprintf("Under %s stand%s %s. What %s? %s none of the column’s words, and not shown, since it may be about a patient: look there, and put it in the first quotation marks. ",
		label(column.Column), one(words, "s", ""), list(words), one(words, "does it mean", "does each mean"), one(words, "It is", "Each is"))
	return []question{{ask: s + untilThen(column.Column), lines: headed("words."+column.Column, lines...)}}
}

// unseen stands in a line of a settings file for a word that is not shown.
const unseen = "…"

// fullEnough is the share of joints that have a value from which a column is not
// said to have a gap.
const fullEnough = 0.9

// notedDeaths says where deaths may stand that no column has.
func (k *checking) notedDeaths() string {
	s := ""
	for _, v := range k.Cohort.CommonValues() {
		if v.Deaths > 0 && v.Heading.Typed != HeadingNotShown {
			s += fmt.Sprintf(" Under %s%s a word for death stands in %s: write the days into a column of their own.", typed(v.Heading.Typed), ofTable(k.Cohort, v.File), few(v.Deaths, "row", "rows"))
		}
	}
	return s
}

// lacking says what the tables lack and matters.
func (k *checking) lacking() []string {
	var all []string
	for _, w := range without {
		if k.has(w.columns) {
			continue
		}
		s := "No column for " + strings.Join(labels(w.columns), " or ") + ": " + w.lost + "."
		if whole := k.FollowUp[0]; w.columns[0] == "last_seen_date" && whole.NeverSeen > 0 {
			s = fmt.Sprintf("No day last seen: follow-up of the joints not revised and not known to be dead is assumed, %s of these %s operated on more than two years before the closing date. Joints lost, and revisions done elsewhere, can’t be counted.",
				count(whole.NeverSeen), count(whole.Living))
		}
		if slices.Contains(w.columns, "death_date") {
			s += k.notedDeaths()
		}
		all = append(all, s)
	}
	if fields := slices.DeleteFunc(slices.Clone(byAlone), k.Cohort.HasColumn); len(fields) > 0 {
		all = append(all, "No "+either(labels(fields))+": nothing can be said by "+one(fields, "it", "them")+", and no published figure that is of one kind alone stands beside.")
	}
	if d := k.Cohort.Deaths(); d.Column && !d.Recorded {
		all = append(all, fmt.Sprintf("No row has a death, where about %.0f would be expected at these ages and follow-up: the dead stay in follow-up, and every estimate is too low.", d.Expected))
	} else if len(d.Without) > 0 {
		all = append(all, "No deaths in "+list(d.Without)+": the dead of those tables stay in follow-up.")
	}
	for _, y := range k.Cohort.CompletenessByYear().Columns {
		rows, filled := 0, 0
		for i := range y.Rows {
			rows, filled = rows+y.Rows[i], filled+y.Filled[i]
		}
		if rows == 0 || float64(filled) >= fullEnough*float64(rows) {
			continue
		}
		of := few(rows, "joint", "joints")
		if y.Among != "" {
			of += " " + y.Among
		}
		all = append(all, fmt.Sprintf("The %s is filled in for %s of %s.", label(y.Column), count(filled), of))
	}
	return all
}

// has says whether a table has one of several columns.
func (k *checking) has(columns []string) bool {
	return slices.ContainsFunc(columns, k.Cohort.HasColumn) || columns[0] == "death_date" && k.Cohort.Deaths().Column
}

// either writes "a", "a or b" or "a, b or c".
func either(items []string) string {
	s := list(items)
	if i := strings.LastIndex(s, " and "); len(items) > 1 && i >= 0 {
		s = s[:i] + " or " + s[i+len(" and "):]
	}
	return s
}

func labels(columns []string) []string {
	var all []string
	for _, c := range columns {
		all = append(all, label(c))
	}
	return all
}

// withoutIt is what is lost without a column; "" for one that does not matter.
func (k *checking) withoutIt(column string) string {
	for _, w := range without {
		if slices.Contains(w.columns, column) && !k.has(w.columns) {
			return w.lost
		}
	}
	return ""
}

// stops asks what keeps tables that could be read from being used.
func (k *checking) stops() []question {
	if none, ok := errors.AsType[*cohort.NoUsableRowError](k.o.Stopped); ok {
		return []question{{ask: capital(none.Error()) + "."}}
	}
	return nil
}

// Asks says whether an error that stopped the reading is one or more questions,
// which [Check] puts.
func Asks(err error) bool { return len(cohort.Questions(err)) > 0 }

// stopped writes the page where the tables could not be read to the end: the
// questions that come first. Others may follow when they are answered.
func (k *checking) stopped() {
	all := []question{{ask: k.o.Stopped.Error()}}
	if asked := cohort.Questions(k.o.Stopped); len(asked) > 0 {
		all = nil
		for _, err := range asked {
			q := k.askFirst(err)
			if i := slices.IndexFunc(all, func(o question) bool { return len(q.lines) > 0 && slices.Equal(o.lines, q.lines) }); i >= 0 {
				all[i].also = append(all[i].also, q.of)
				continue
			}
			all = append(all, q)
		}
	}
	var items []item
	for i, q := range all {
		if n := len(q.also); n > 0 {
			q.ask += " The same is asked of " + list(q.also[:min(n, mostTyped)])
			if n > mostTyped {
				q.ask += fmt.Sprintf(" and %s more", count(n-mostTyped))
			}
			q.ask += "."
		}
		items = append(items, item{Mark: fmt.Sprint(i + 1), Text: q.ask, Lines: q.lines})
	}
	k.paragraph(fmt.Sprintf("Nothing is estimated yet: %s first. Others may follow when %s answered.", few(len(all), "question comes", "questions come"), one(all, "it is", "they are")))
	k.heading(3, "FIRST: no audit without "+one(all, "this", "these"))
	k.items(items)
	if k.Cohort == nil || k.o.Again == "" {
		return
	}
	k.paragraph(fmt.Sprintf("Everything to be settled in one file, with what stands under each heading: %s --write-settings FILE", k.o.Again))
}

// askFirst is a question without an answer to which nothing can be estimated.
func (k *checking) askFirst(err error) question {
	q := question{ask: err.Error()}
	switch e := err.(type) {
	case *cohort.MissingColumnError:
		return k.askColumn(e)
	case *cohort.DateOrderError:
		if e.Contradiction {
			break
		}
		has := fmt.Sprintf("dates of that form (rows %d and %d)", e.RowA, e.RowB)
		if e.RowB == 0 {
			has = fmt.Sprintf("a date of that form (row %d)", e.RowA)
		}
		q.ask = fmt.Sprintf("Is 3/4/2019 the 3rd of April or the 4th of March? Column %s of %s has %s, and nothing in the table says which%s.", typed(e.Heading), e.File, has, e.Elsewhere())
		q.of, q.lines = e.File, []string{`date_order = "day-first"`, `# or: date_order = "month-first"`}
	case *cohort.TwoColumnsError:
		if e.First != e.Second {
			q.ask = fmt.Sprintf("Which is the %s, %s or %s of %s? Both may be. Leave one out:", label(e.Column), typed(e.First), typed(e.Second), e.File)
			q.of, q.lines = e.File, headed("columns", TOML(e.Second)+` = ""`, "# or: "+TOML(e.First)+` = ""`)
		}
	case *cohort.SheetsError:
		q.ask = fmt.Sprintf("Which sheets? %s have the headings of an outcomes table: one of them, or all, which are then pooled.", list(quotedAll(e.Wanted)))
		var names []string
		for _, name := range e.Wanted {
			names = append(names, TOML(name))
		}
		q.lines = []string{"sheet = [" + strings.Join(names, ", ") + "]"}
	}
	return q
}

func quotedAll(names []string) []string {
	var all []string
	for _, n := range names {
		all = append(all, typed(n))
	}
	return all
}

// askColumn asks for a needed column that was not found.
func (k *checking) askColumn(e *cohort.MissingColumnError) question {
	alone := *e
	alone.Others = nil // each is a question of its own
	if !e.Described || k.Cohort == nil {
		return question{ask: alone.Error()}
	}
	q := question{ask: fmt.Sprintf("Which column of %s is the %s? None of its headings is known to be it.", e.File, label(e.Column)), also: e.Alike}
	candidates := Candidates(k.Cohort, e)
	if e.Column == "revision_date" && len(candidates.Columns) == 1 && !k.Cohort.Files[e.Index].Has("operation_date") {
		candidates.Columns = nil // it is asked about as the operation's
	}
	for i, c := range candidates.Columns[:min(mostTyped, len(candidates.Columns))] {
		if slices.ContainsFunc(candidates.Columns[:i], func(before Candidate) bool { return before.Heading == c.Heading }) {
			q.ask += fmt.Sprintf(" %s: %s. Headings that are the same can’t be told apart here: rename one in the table.", typed(c.Heading), c.Evidence)
			continue
		}
		line := TOML(c.Heading) + " = " + TOML(e.Column)
		if i > 0 {
			line = "# or: " + line
		}
		q.lines = append(q.lines, line)
		if c.Evidence != "" {
			q.ask += fmt.Sprintf(" %s: %s.", typed(c.Heading), c.Evidence)
		}
		if e.Column == "revision_date" && e.Primaries && c.Most {
			q.ask += " " + mostRevised
		}
	}
	if len(candidates.Columns) == 0 {
		q.lines = append(q.lines, `"…" = `+TOML(e.Column))
	}
	q.lines = headed("columns", q.lines...)
	if e.Column == "revision_date" && e.Primaries {
		q.ask += " If revisions are recorded apart, name their file with --revisions, or the sheet with --revisions-sheet"
		if sheet, _ := cohort.LikelySheets(e.OtherSheets); sheet != "" {
			q.ask += " " + TOML(sheet)
		}
		q.ask += "; if each operation has a row of its own, say which column tells primaries from revisions."
		candidates.Kinds = append(candidates.Kinds, k.kindsOfOperations(e.Index)...)
		for _, c := range candidates.Kinds[:min(mostTyped, len(candidates.Kinds))] {
			q.lines = append(q.lines, "# or: "+TOML(c.Heading)+` = "operation_type"`)
		}
	}
	return q
}

// mostRevised is said of a day of revision that most rows have.
const mostRevised = "Days in most rows are hardly of revisions alone: if they are of whatever ended follow-up, and another column says what it was, write them into a column for each, revised, died and last seen."

// kindsOfOperations is the heading of a table's procedure, if its words tell primaries
// from revisions.
func (k *checking) kindsOfOperations(file int) []Candidate {
	var all []string
	for _, column := range k.Cohort.Words() {
		if column.Column == "procedure" {
			for _, w := range column.Words {
				all = append(all, w.Typed)
			}
		}
	}
	headings := k.Cohort.Files[file].Headings
	at := slices.IndexFunc(headings, func(h cohort.Heading) bool { return h.Column == "procedure" })
	revision := func(word string) bool {
		return strings.Contains(strings.ToLower(word), "rev") || strings.Contains(strings.ToLower(word), "redo")
	}
	if at < 0 || !slices.ContainsFunc(all, revision) || !slices.Contains(cohort.MayBe(all), "operation_type") {
		return nil
	}
	return []Candidate{{Heading: headings[at].Typed}}
}

// Candidate is a heading that may be a column that is looked for.
type Candidate struct {
	Heading  string
	Evidence string // how many rows have a value, and which are the commonest
	Most     bool   // of the rows have one
}

// Candidates are the headings of a table that may be a needed column which was
// not found, and those that may tell primaries from revisions in its stead.
func Candidates(c *cohort.Cohort, lacks *cohort.MissingColumnError) (found struct{ Columns, Kinds []Candidate }) {
	values := valuesUnder(c)
	dated := strings.HasSuffix(lacks.Column, "_date")
	var unclear, likely, unknown []Candidate
	for _, k := range c.Completeness() {
		h := k.Heading
		v, seen := values[under{k.File, h.Typed}]
		if k.File != lacks.Index || h.Typed == "" || h.Column != "" || h.How == cohort.LeftOut || h.Typed == HeadingNotShown ||
			!seen && lacks.Column != "patient" { // it names what identifies a patient
			continue
		}
		may := Candidate{Heading: h.Typed}
		if k.Counted {
			may.Most = 2*(k.Rows-k.Missing) > k.Rows && k.Rows >= fewestJoints
			may.Evidence = fmt.Sprintf("%d of %d rows have a value", k.Rows-k.Missing, k.Rows)
			if said := Evidence(v); said != "" {
				may.Evidence += ": " + said
			}
			if lacks.Column == "revision_date" && v.Revisions > 0 {
				may.Evidence += fmt.Sprintf(", with a word for revision in %s", count(v.Revisions))
			}
		}
		switch {
		case slices.Contains(h.Between, lacks.Column):
			unclear = append(unclear, may)
		case len(h.Between) > 0:
		case dated && v.Looks == "dates":
			likely = append(likely, may)
		case dated && len(v.Values) > 0: // words, which are no dates
			found.Kinds = append(found.Kinds, may)
		default:
			unknown = append(unknown, may)
		}
	}
	found.Columns = slices.Concat(unclear, likely)
	if len(found.Columns) > 0 {
		found.Kinds = nil
	} else {
		found.Columns = unknown
	}
	return found
}
