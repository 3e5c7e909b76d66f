package testtable

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/text/encoding"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"example.org/holdfast/cohort"
)

// Kind is a kind of file, or several.
type Kind uint8

const (
	TextFile   Kind = 1 << iota // separated text
	BookFile                    // .xlsx
	EitherFile = TextFile | BookFile
)

// String names the kind.
func (k Kind) String() string {
	return map[Kind]string{TextFile: "text", BookFile: "workbook", EitherFile: "both"}[k]
}

// Cell is one cell: its text and, where it differs, what a workbook holds.
type Cell struct {
	Text string
	Book any  // of a kind that a workbook holds; nil: the text
	Raw  bool // written to a text file as it is, without quotation marks
}

// Row is a row of a table.
type Row struct {
	Joint  int // in the clean table; -1 if the row is of none
	Cells  []Cell
	Hidden bool
	Blank  bool // an empty line above it
}

// Column is a column of a table.
type Column struct {
	Name    string // in the clean table, or of the damage's own
	Heading string
	Hidden  bool
	Extra   bool // of no known column
}

// Table is a table on its way to a file.
type Table struct {
	Name    string
	Holds   string // primaries, revisions or deaths
	Columns []Column
	Rows    []*Row
	Above   [][]string // lines above the headings
	Headers int        // rows that the headings of a workbook take, less one

	MergedTitle bool // the first line above is merged over the columns

	Sheet       string
	SheetHidden bool
	SheetOf     int // 1 + the table whose workbook this one is a sheet of; 0: a file of its own
	Since1904   bool
	Password    string
	Before      []Sheet // other sheets
	After       []Sheet
	Right, Down int // empty columns and rows before the table
}

// Draft is what damages change: the tables, how text is written, and how a user
// reads the files.
type Draft struct {
	Kind    Kind
	Joints  []Joint
	Tables  []*Table
	Options cohort.Options

	Delimiter  string
	LineEnd    string
	Encoding   encoding.Encoding // nil: UTF-8
	FirstLine  string            // before all else
	QuoteAll   bool
	NoFinalEnd bool
	Trailing   int  // separators too many at the end of each line
	ShortRows  bool // empty cells at the end of a row are left out
	Expected   []Expected
}

// Expected is a row that should be listed.
type Expected struct {
	Row     *Row
	Reasons []cohort.Reason // any of these
}

// NewDraft is a draft of the clean table.
func NewDraft(kind Kind, joints []Joint) *Draft {
	closing, err := cohort.ParseDay(ClosingDate)
	if err != nil {
		panic(err)
	}
	today, err := cohort.ParseDay(Today)
	if err != nil {
		panic(err)
	}
	d := &Draft{Kind: kind, Joints: joints, Delimiter: ",", LineEnd: "\n"}
	d.Options.ClosingDate, d.Options.Today = &closing, today
	d.Options.Keep = []string{"surgeon", "hospital"}
	t := &Table{Name: "joints", Holds: "primaries", Sheet: "Joints"}
	for _, c := range columns {
		t.Columns = append(t.Columns, Column{Name: c, Heading: c})
	}
	for i, j := range joints {
		row := &Row{Joint: i}
		for _, c := range columns {
			row.Cells = append(row.Cells, Cell{Text: j.cells[c]})
		}
		t.Rows = append(t.Rows, row)
	}
	d.Tables = append(d.Tables, t)
	return d
}

// at is the index of a column; -1 if the table has none.
func (t *Table) at(column string) int {
	return slices.IndexFunc(t.Columns, func(c Column) bool { return c.Name == column })
}

// each calls f with every cell of a column of every table.
func (d *Draft) each(column string, f func(c *Cell, r *Row)) {
	for _, t := range d.Tables {
		if i := t.at(column); i >= 0 {
			for _, r := range t.Rows {
				f(&r.Cells[i], r)
			}
		}
	}
}

// drop takes a column out.
func (t *Table) drop(column string) {
	i := t.at(column)
	if i < 0 {
		return
	}
	t.Columns = slices.Delete(t.Columns, i, i+1)
	for _, r := range t.Rows {
		r.Cells = slices.Delete(r.Cells, i, i+1)
	}
}

// add puts a column at a place.
func (t *Table) add(at int, c Column, cell func(r *Row) Cell) {
	t.Columns = slices.Insert(t.Columns, at, c)
	for _, r := range t.Rows {
		r.Cells = slices.Insert(r.Cells, at, cell(r))
	}
}

// junk adds a row that is of no joint, with these texts from the first column.
func (d *Draft) junk(t *Table, at int, reasons []cohort.Reason, texts ...string) {
	r := &Row{Joint: -1, Cells: make([]Cell, len(t.Columns))}
	for i, text := range texts {
		if i < len(r.Cells) {
			r.Cells[i].Text = text
		}
	}
	t.Rows = slices.Insert(t.Rows, at, r)
	d.Expected = append(d.Expected, Expected{r, reasons})
}

// File is one written file and where its rows stand.
type File struct {
	Name  string
	Holds string
	Sheet string // to be named to the reader; "" finds it
	Data  []byte
	Rows  map[*Row]int
}

// Files writes the tables, in the order in which a cohort lists its files.
func (d *Draft) Files() ([]File, error) {
	files := make([]File, len(d.Tables))
	for i, t := range d.Tables {
		files[i] = File{Name: t.Name + ".csv", Holds: t.Holds}
		var err error
		if d.Kind == BookFile {
			files[i].Name = t.Name + ".xlsx"
			if t.SheetOf > 0 {
				files[i].Sheet = t.Sheet
			}
			files[i].Data, files[i].Rows, err = d.workbook(i)
		} else {
			files[i].Data, files[i].Rows, err = d.text(t)
		}
		if err != nil {
			return nil, fmt.Errorf("table %s: %w", t.Name, err)
		}
	}
	order := []string{"primaries", "revisions", "deaths"}
	slices.SortStableFunc(files, func(a, b File) int {
		return slices.Index(order, a.Holds) - slices.Index(order, b.Holds)
	})
	return files, nil
}

func (d *Draft) text(t *Table) ([]byte, map[*Row]int, error) {
	var b strings.Builder
	places := make(map[*Row]int)
	line := 1
	write := func(cells []Cell) {
		n := len(cells)
		if d.ShortRows {
			for n > 1 && cells[n-1].Text == "" {
				n--
			}
		}
		for i, c := range cells[:n] {
			if i > 0 {
				b.WriteString(d.Delimiter)
			}
			text := c.Text
			if !c.Raw && (d.QuoteAll || strings.ContainsAny(text, d.Delimiter+"\"\r\n")) {
				text = `"` + strings.ReplaceAll(text, `"`, `""`) + `"`
			}
			line += strings.Count(text, "\n")
			b.WriteString(text)
		}
		b.WriteString(strings.Repeat(d.Delimiter, d.Trailing))
		b.WriteString(d.LineEnd)
		line++
	}
	if d.FirstLine != "" {
		b.WriteString(d.FirstLine + d.LineEnd)
		line++
	}
	for _, above := range t.Above {
		b.WriteString(strings.Join(above, d.Delimiter) + d.LineEnd)
		line++
	}
	var upper, lower []Cell
	for i, c := range t.Columns {
		above, below := t.inRows(i)
		if t.inUpper(i) && needed[c.Name] { // a text does not say what was merged
			above, below = "", c.Heading
		}
		upper, lower = append(upper, Cell{Text: above}), append(lower, Cell{Text: below})
	}
	if t.Headers > 0 {
		write(upper)
	}
	write(lower)
	for _, r := range t.Rows {
		if r.Blank {
			b.WriteString(d.LineEnd)
			line++
		}
		places[r] = line
		write(r.Cells)
	}
	text := b.String()
	if d.NoFinalEnd {
		text = strings.TrimSuffix(text, d.LineEnd)
	}
	if d.Encoding == nil {
		return []byte(text), places, nil
	}
	data, err := d.Encoding.NewEncoder().Bytes([]byte(text))
	return data, places, err
}

var (
	utf16le     = unicode.UTF16(unicode.LittleEndian, unicode.UseBOM)
	utf16be     = unicode.UTF16(unicode.BigEndian, unicode.UseBOM)
	utf8bom     = unicode.UTF8BOM
	windows1252 = charmap.Windows1252
)

// needed are the columns by which a row is known to be the headings.
var needed = map[string]bool{"operation_date": true, "revision_date": true, "death_date": true}

// inUpper says whether a heading stands in the upper of two rows of headings:
// every third does.
func (t *Table) inUpper(i int) bool { return t.Headers > 0 && i%3 == 0 && t.Columns[i].Heading != "" }

// inRows is what stands in the two rows of headings above a column. The upper has
// group titles over two columns each.
func (t *Table) inRows(i int) (upper, lower string) {
	h := t.Columns[i].Heading
	switch {
	case t.inUpper(i):
		return h, ""
	case t.Headers > 0 && i%3 == 1 && i+1 < len(t.Columns) && h != "":
		return fmt.Sprintf("Group %d", i/3+1), h
	}
	return "", h
}

// sheet writes one table as a sheet.
func (t *Table) sheet() (Sheet, map[*Row]int) {
	s := Sheet{Name: t.Sheet, Hidden: t.SheetHidden}
	places := make(map[*Row]int)
	pad := func(cells []any) []any { return append(make([]any, t.Right), cells...) }
	for range t.Down {
		s.Rows = append(s.Rows, nil)
	}
	for _, above := range t.Above {
		var cells []any
		for _, c := range above {
			cells = append(cells, c)
		}
		s.Rows = append(s.Rows, pad(cells))
	}
	if t.MergedTitle {
		s.Merged = append(s.Merged, fmt.Sprintf("%s%d:%s%d", columnName(t.Right), t.Down+1, columnName(t.Right+len(t.Columns)-1), t.Down+1))
	}
	upper, lower := make([]any, len(t.Columns)), make([]any, len(t.Columns))
	top := len(s.Rows) + 1
	for i, c := range t.Columns {
		if c.Hidden {
			s.HiddenColumns = append(s.HiddenColumns, columnName(t.Right+i))
		}
		above, below := t.inRows(i)
		if above != "" {
			upper[i] = above
		}
		if below != "" {
			lower[i] = below
		}
		switch name := columnName(t.Right + i); {
		case above == "":
		case below == "":
			s.Merged = append(s.Merged, fmt.Sprintf("%s%d:%s%d", name, top, name, top+1))
		default:
			s.Merged = append(s.Merged, fmt.Sprintf("%s%d:%s%d", name, top, columnName(t.Right+i+1), top))
		}
	}
	if t.Headers > 0 {
		s.Rows = append(s.Rows, pad(upper))
	}
	s.Rows = append(s.Rows, pad(lower))
	for _, r := range t.Rows {
		if r.Blank {
			s.Rows = append(s.Rows, nil)
		}
		cells := make([]any, len(r.Cells))
		for i, c := range r.Cells {
			switch {
			case c.Book != nil:
				cells[i] = c.Book
			case c.Text != "":
				cells[i] = c.Text
			}
		}
		s.Rows = append(s.Rows, pad(cells))
		places[r] = len(s.Rows)
		if r.Hidden {
			s.HiddenRows = append(s.HiddenRows, len(s.Rows))
		}
	}
	return s, places
}

// workbook writes the workbook that a table is a sheet of.
func (d *Draft) workbook(number int) ([]byte, map[*Row]int, error) {
	t := d.Tables[number]
	host := number
	if t.SheetOf > 0 {
		host = t.SheetOf - 1
	}
	b := Workbook{Since1904: d.Tables[host].Since1904, Password: d.Tables[host].Password, Sheets: slices.Clone(d.Tables[host].Before)}
	var places map[*Row]int
	for i, other := range d.Tables {
		if i != host && other.SheetOf != host+1 {
			continue
		}
		s, p := other.sheet()
		b.Sheets = append(b.Sheets, s)
		if i == number {
			places = p
		}
	}
	b.Sheets = append(b.Sheets, d.Tables[host].After...)
	var out bytes.Buffer
	err := WriteWorkbook(&out, b)
	return out.Bytes(), places, err
}

func columnName(i int) string {
	name := ""
	for i++; i > 0; i = (i - 1) / 26 {
		name = string(rune('A'+(i-1)%26)) + name
	}
	return name
}
