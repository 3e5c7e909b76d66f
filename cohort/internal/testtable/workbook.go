package testtable

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"
)

// Workbook describes an .xlsx workbook.
type Workbook struct {
	Sheets    []Sheet
	Since1904 bool   // days count from 1904-01-01
	Password  string // encrypts it, if not empty
}

// Sheet describes one sheet. Rows[0] is row 1, and its first cell is A1.
//
// A cell is nil (there is none), a string, an int, a float64, a bool or one of
// the types below.
type Sheet struct {
	Name          string
	Hidden        bool
	Rows          [][]any
	Merged        []string // ranges such as "A1:A2"
	HiddenRows    []int
	HiddenColumns []string // "C"
}

type (
	// Day is an ISO date, written as a number with the format yyyy-mm-dd.
	Day string
	// Shown is a number with a number format.
	Shown struct {
		Value  float64
		Format string
	}
	// Fault is an error value such as "#N/A".
	Fault string
	// Rich is a text whose parts have different fonts.
	Rich []string
	// Formula is a formula with its saved value: a string, float64, bool, Fault
	// or Day, or nil for none.
	Formula struct {
		Text  string
		Value any
	}
	// Raw is the XML of a cell: what stands in the c element, with its
	// attributes, such as `t="inlineStr"><is><t>x</t></is>`.
	Raw string
)

// Workbook is the table as one sheet whose cells have the types of the columns.
func (t Typed) Workbook(name string) Workbook {
	heading := make([]any, len(t.Columns))
	for i, c := range t.Columns {
		heading[i] = c.Name
	}
	all := [][]any{heading}
	for _, row := range t.Rows {
		cells := make([]any, len(t.Columns))
		for i, c := range t.Columns {
			s := cellAt(row, i)
			switch n, err := strconv.Atoi(s); {
			case s == "":
			case c.Type == Date:
				cells[i] = Day(s)
			case c.Type == Int && err == nil:
				cells[i] = n
			default:
				cells[i] = s
			}
		}
		all = append(all, cells)
	}
	return Workbook{Sheets: []Sheet{{Name: name, Rows: all}}}
}

// WriteWorkbook writes a workbook.
func WriteWorkbook(w io.Writer, b Workbook) error {
	f := excelize.NewFile()
	defer f.Close()
	if b.Since1904 {
		if err := f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &b.Since1904}); err != nil {
			return err
		}
	}
	styles := map[string]int{}
	patches := make([]map[string]string, len(b.Sheets))
	for i, s := range b.Sheets {
		if i == 0 {
			if err := f.SetSheetName("Sheet1", s.Name); err != nil {
				return err
			}
		} else if _, err := f.NewSheet(s.Name); err != nil {
			return err
		}
		patches[i] = map[string]string{}
		sw := sheetWriter{f: f, name: s.Name, styles: styles, patch: patches[i], since1904: b.Since1904}
		if err := sw.write(s); err != nil {
			return fmt.Errorf("sheet %s: %w", s.Name, err)
		}
	}
	for i, s := range b.Sheets {
		if !s.Hidden {
			f.SetActiveSheet(i)
			break
		}
	}
	for _, s := range b.Sheets {
		if s.Hidden {
			if err := f.SetSheetVisible(s.Name, false); err != nil {
				return err
			}
		}
	}
	var plain bytes.Buffer
	if err := f.Write(&plain); err != nil {
		return err
	}
	out, err := Rewrite(plain.Bytes(), func(name string, content []byte) []byte {
		for i, patch := range patches {
			if name == fmt.Sprintf("xl/worksheets/sheet%d.xml", i+1) {
				return replaceCells(content, patch)
			}
		}
		return content
	})
	if err != nil {
		return err
	}
	if b.Password != "" {
		if out, err = excelize.Encrypt(out, &excelize.Options{Password: b.Password}); err != nil {
			return err
		}
	}
	_, err = w.Write(out)
	return err
}

type sheetWriter struct {
	f         *excelize.File
	name      string
	styles    map[string]int
	patch     map[string]string // XML of cells that the library does not write
	since1904 bool
}

func (w *sheetWriter) write(s Sheet) error {
	for i, row := range s.Rows {
		for j, c := range row {
			at, err := excelize.CoordinatesToCellName(j+1, i+1)
			if err != nil {
				return err
			}
			if err := w.cell(at, c); err != nil {
				return fmt.Errorf("cell %s: %w", at, err)
			}
		}
	}
	for _, m := range s.Merged {
		from, to, _ := strings.Cut(m, ":")
		if err := w.f.MergeCell(w.name, from, to); err != nil {
			return err
		}
	}
	for _, r := range s.HiddenRows {
		if err := w.f.SetRowVisible(w.name, r, false); err != nil {
			return err
		}
	}
	for _, c := range s.HiddenColumns {
		if err := w.f.SetColVisible(w.name, c, false); err != nil {
			return err
		}
	}
	return nil
}

func (w *sheetWriter) cell(at string, c any) error {
	switch c := c.(type) {
	case nil:
		return nil
	case string, int, float64, bool:
		return w.f.SetCellValue(w.name, at, c)
	case Day:
		n, err := w.serial(c)
		if err != nil {
			return err
		}
		return w.cell(at, Shown{n, "yyyy\\-mm\\-dd"})
	case Shown:
		if err := w.f.SetCellValue(w.name, at, c.Value); err != nil {
			return err
		}
		style, err := w.style(c.Format)
		if err != nil {
			return err
		}
		return w.f.SetCellStyle(w.name, at, at, style)
	case Rich:
		var runs []excelize.RichTextRun
		for i, s := range c {
			runs = append(runs, excelize.RichTextRun{Text: s, Font: &excelize.Font{Bold: i%2 == 0}})
		}
		return w.f.SetCellRichText(w.name, at, runs)
	case Fault:
		return w.raw(at, fmt.Sprintf(` t="e"><v>%s</v>`, c))
	case Raw:
		return w.raw(at, " "+string(c))
	case Formula:
		return w.formula(at, c)
	}
	return fmt.Errorf("no cell can hold a %T", c)
}

func (w *sheetWriter) formula(at string, c Formula) error {
	f := "<f>" + escape(c.Text) + "</f>"
	switch v := c.Value.(type) {
	case nil:
		return w.f.SetCellFormula(w.name, at, c.Text)
	case string:
		return w.raw(at, ` t="str">`+f+"<v>"+escape(v)+"</v>")
	case float64:
		return w.raw(at, ">"+f+"<v>"+strconv.FormatFloat(v, 'g', 17, 64)+"</v>")
	case bool:
		return w.raw(at, ` t="b">`+f+map[bool]string{true: "<v>1</v>", false: "<v>0</v>"}[v])
	case Fault:
		return w.raw(at, ` t="e">`+f+"<v>"+string(v)+"</v>")
	case Day:
		n, err := w.serial(v)
		if err != nil {
			return err
		}
		style, err := w.style("dd/mm/yyyy")
		if err != nil {
			return err
		}
		return w.raw(at, fmt.Sprintf(` s="%d">%s<v>%v</v>`, style, f, n))
	}
	return fmt.Errorf("no formula can have a %T", c.Value)
}

// raw writes a placeholder, to be replaced in the finished sheet.
func (w *sheetWriter) raw(at, xml string) error {
	w.patch[at] = xml
	return w.f.SetCellValue(w.name, at, 0)
}

func (w *sheetWriter) style(format string) (int, error) {
	if id, ok := w.styles[format]; ok {
		return id, nil
	}
	id, err := w.f.NewStyle(&excelize.Style{CustomNumFmt: &format})
	w.styles[format] = id
	return id, err
}

func (w *sheetWriter) serial(d Day) (float64, error) {
	t, err := time.Parse(time.DateOnly, string(d))
	if err != nil {
		return 0, fmt.Errorf("not an ISO date")
	}
	first := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if w.since1904 {
		first = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	} else if t.Before(time.Date(1900, 3, 1, 0, 0, 0, 0, time.UTC)) {
		first = first.AddDate(0, 0, 1)
	}
	return float64(t.Sub(first) / (24 * time.Hour)), nil
}

func escape(s string) string {
	var b strings.Builder
	xml.EscapeText(&b, []byte(s))
	return b.String()
}

var cellElement = regexp.MustCompile(`<c r="([A-Z]+[0-9]+)"[^>]*>.*?</c>`)

func replaceCells(sheet []byte, patch map[string]string) []byte {
	if len(patch) == 0 {
		return sheet
	}
	return cellElement.ReplaceAllFunc(sheet, func(c []byte) []byte {
		at := string(cellElement.FindSubmatch(c)[1])
		if xml, ok := patch[at]; ok {
			return []byte(`<c r="` + at + `"` + xml + "</c>")
		}
		return c
	})
}

// Rewrite returns the zip archive with each of its parts replaced by what
// change returns; a part for which that is nil is left out.
func Rewrite(archive []byte, change func(name string, content []byte) []byte) ([]byte, error) {
	r, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range slices.Clone(r.File) {
		in, err := f.Open()
		if err != nil {
			return nil, err
		}
		content, err := io.ReadAll(in)
		in.Close()
		if err != nil {
			return nil, err
		}
		if content = change(f.Name, content); content == nil {
			continue
		}
		part, err := w.Create(f.Name)
		if err != nil {
			return nil, err
		}
		if _, err := part.Write(content); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}
