// Package workbook streams the sheets of .xlsx workbooks (ECMA-376, Office Open
// XML) as rows of text cells.
//
// It reads the parts of the archive it needs one token at a time and holds
// nothing but the list of sheets, the number formats and the shared texts. No
// temporary file is written. A library that reads workbooks is not used: its
// streaming reader takes a damaged sheet for one that ends early, and does not
// say which cells are dates, errors or formulas without a value.
//
// Limits keep memory and time bounded whatever the file holds; see limits.go.
package workbook

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
)

var (
	// ErrDamaged: the archive or a part of it is not what the format asks for.
	ErrDamaged = errors.New("the workbook is damaged or cut short")
	// ErrTooLarge: one of the limits is exceeded.
	ErrTooLarge = errors.New("the workbook is larger than is read")
	// ErrPassword: a part is encrypted.
	ErrPassword = errors.New("the workbook is protected by a password")
	// ErrBinary: a binary workbook (.xlsb).
	ErrBinary = errors.New("this is a binary workbook (.xlsb)")
	// ErrForeign: a zip archive that is no workbook.
	ErrForeign = errors.New("this zip archive is no workbook")
)

// Sheet is one sheet with cells. Chart sheets have none and are left out.
type Sheet struct {
	Name   string
	Hidden bool
	part   *zip.File
}

// Book is an opened workbook.
type Book struct {
	Sheets    []Sheet
	Since1904 bool // days count from 1904-01-01 rather than from 1900

	parts  map[string]*zip.File // by name in lower case
	dates  []bool               // by cell format: it shows numbers as dates
	shared texts
	left   int64 // bytes that may still be unpacked
	stop   func() error
}

// Open reads what is common to all sheets. stop is asked now and then whether
// to give up; its error is returned as it is. The reader must stay open while
// rows are read.
func Open(r io.ReaderAt, size int64, stop func() error) (*Book, error) {
	z, err := openZip(r, size)
	if err != nil {
		return nil, err
	}
	b := &Book{parts: make(map[string]*zip.File, len(z.File)), left: freeSize + maxRatio*size, stop: stop}
	for _, f := range z.File {
		name := partName(f.Name)
		if _, ok := b.parts[name]; ok {
			return nil, fmt.Errorf("%w: it holds a part twice", ErrDamaged)
		}
		b.parts[name] = f
	}
	root, err := b.relations("", "_rels/.rels")
	if err != nil {
		return nil, err
	}
	main := ""
	for _, r := range root {
		if strings.HasSuffix(r.kind, "/officeDocument") {
			main = r.target
			break
		}
	}
	switch {
	case strings.HasSuffix(main, ".bin"):
		return nil, ErrBinary
	case main == "" || b.parts[main] == nil:
		if len(root) == 0 || main != "" {
			return nil, fmt.Errorf("%w: its list of sheets is missing", ErrDamaged)
		}
		return nil, ErrForeign
	}
	return b, b.open(main)
}

func (b *Book) open(main string) error {
	dir, file := path.Split(main)
	list, err := b.relations(dir, dir+"_rels/"+file+".rels")
	if err != nil {
		return err
	}
	byID := map[string]relation{}
	for _, r := range list {
		byID[r.id] = r
		switch {
		case strings.HasSuffix(r.kind, "/styles"):
			err = b.readFormats(r.target)
		case strings.HasSuffix(r.kind, "/sharedStrings"):
			err = b.readShared(r.target)
		}
		if err != nil {
			return err
		}
	}
	foreign := false // the part is no workbook at all
	err = b.read(main, func(s *scanner, t xml.StartElement) error {
		switch {
		case s.at("workbook", "workbookPr"):
			b.Since1904 = truth(attribute(t, "date1904"))
		case s.at("workbook", "sheets", "sheet"):
			r, ok := byID[attribute(t, "id")]
			if !ok || b.parts[r.target] == nil {
				return fmt.Errorf("%w: a sheet is missing", ErrDamaged)
			}
			if !strings.HasSuffix(r.kind, "/worksheet") {
				return nil
			}
			if len(b.Sheets) == maxSheets {
				return fmt.Errorf("%w: it has more than %d sheets", ErrTooLarge, maxSheets)
			}
			name, state := attribute(t, "name"), attribute(t, "state")
			if name == "" || len(name) > maxName {
				return fmt.Errorf("%w: a sheet has no name, or too long a one", ErrDamaged)
			}
			b.Sheets = append(b.Sheets, Sheet{
				Name:   name,
				Hidden: state == "hidden" || state == "veryHidden",
				part:   b.parts[r.target],
			})
		case len(s.path) == 1 && t.Name.Local != "workbook":
			foreign = true
		}
		return nil
	})
	switch {
	case err != nil:
		return err
	case foreign:
		return ErrForeign
	case len(b.Sheets) == 0:
		return fmt.Errorf("%w: it has no sheet with cells", ErrDamaged)
	}
	return nil
}

// relation is one entry of a part's list of related parts.
type relation struct{ id, kind, target string }

func (b *Book) relations(dir, name string) ([]relation, error) {
	if b.parts[partName(name)] == nil {
		return nil, nil
	}
	var list []relation
	err := b.read(name, func(s *scanner, t xml.StartElement) error {
		if !s.at("Relationships", "Relationship") || attribute(t, "TargetMode") == "External" {
			return nil
		}
		target := strings.ReplaceAll(attribute(t, "Target"), `\`, "/")
		if !strings.HasPrefix(target, "/") {
			target = dir + target
		}
		list = append(list, relation{attribute(t, "Id"), attribute(t, "Type"), partName(path.Clean(target))})
		return nil
	})
	return list, err
}

// partName is the form in which parts are looked up: names do not heed case.
func partName(name string) string {
	return strings.ToLower(strings.TrimPrefix(strings.ReplaceAll(name, `\`, "/"), "/"))
}

// read calls start with each element of a part.
func (b *Book) read(name string, start func(*scanner, xml.StartElement) error) error {
	s, err := b.scan(b.parts[partName(name)])
	if err != nil {
		return err
	}
	defer s.close()
	for {
		t, err := s.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if e, ok := t.(xml.StartElement); ok {
			if err := start(s, e); err != nil {
				return err
			}
		}
	}
}

// date reports whether cells of a format show numbers as dates.
func (b *Book) date(format int) bool {
	return format >= 0 && format < len(b.dates) && b.dates[format]
}

func attribute(t xml.StartElement, name string) string {
	for _, a := range t.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// truth reads an xsd:boolean.
func truth(s string) bool { return s == "1" || s == "true" }
