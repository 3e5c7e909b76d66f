package sheet

import (
	"errors"
	"fmt"

	"example.org/holdfast/cohort/internal/sheet/internal/workbook"
)

// Why a table could not be opened or read. Every error of this package wraps
// one of these or an error of the operating system. No message holds the
// contents of a cell.
var (
	// ErrEmpty: the file has no bytes, or no line that could hold headings.
	ErrEmpty = errors.New("the file is empty")
	// ErrDirectory: the name is a folder.
	ErrDirectory = errors.New("this is a folder, not a file")
	// ErrBinary: the contents are not text and not a kind of table known here.
	ErrBinary = errors.New("this is not a text table, workbook, Parquet or Arrow file")
	// ErrEncoding: the text cannot be decoded.
	ErrEncoding = errors.New("the text cannot be decoded")
	// ErrCorrupt: a workbook, Parquet or Arrow file is damaged or cut short.
	ErrCorrupt = errors.New("the file is damaged or cut short")
	// ErrWorkbook: the file is a workbook of a kind other than .xlsx.
	ErrWorkbook = errors.New("workbooks other than .xlsx are not read")
	// ErrPassword: the workbook is encrypted.
	ErrPassword = workbook.ErrPassword
	// ErrTooLarge: the workbook exceeds the limits that keep memory and time
	// bounded.
	ErrTooLarge = workbook.ErrTooLarge
	// ErrSheet: the sheet of the workbook is not there, or must be named.
	ErrSheet = errors.New("which sheet to read is not settled")
	// ErrCompressed: the file is compressed.
	ErrCompressed = errors.New("compressed files are not read")
	// ErrNotSeekable: this kind of file needs a file and was given as a stream.
	ErrNotSeekable = errors.New("this kind of file cannot be read from a pipe")
	// ErrUnsupported: the file is of a known kind but uses a feature not read here.
	ErrUnsupported = errors.New("not supported")
	// ErrLongRecord: a record is longer than the limit of 1 MiB. On a Record it
	// sets that record aside; as an error of Open it means the headings.
	ErrLongRecord = errors.New("the line is longer than 1 MiB")
	// ErrQuote: a quotation mark opens a cell and the cell does not end. Only
	// ever on a Record, which then is the one line with the mark.
	ErrQuote = errors.New("a quotation mark opens a cell that does not end")
	// ErrChanged: the file was changed while it was read, and a copy was asked for.
	ErrChanged = errors.New("the file was changed while it was read: run it again")
	// ErrOption: an option has a value that is not allowed.
	ErrOption = errors.New("wrong option")
)

// Error says which file, and where known which row, could not be read.
type Error struct {
	File string // the name as given; "-" is standard input
	Row  int    // the row (text: the physical line), counted from 1; 0 where it does not apply
	Err  error
}

func (e *Error) Error() string {
	name := e.File
	if name == "-" {
		name = "standard input"
	}
	if e.Row > 0 {
		return fmt.Sprintf("%s, row %d: %v", name, e.Row, e.Err)
	}
	return fmt.Sprintf("%s: %v", name, e.Err)
}

func (e *Error) Unwrap() error { return e.Err }

// SheetsError says that several sheets of a workbook have the headings that are
// looked for. It wraps [ErrSheet].
type SheetsError struct{ Wanted []string }

func (e *SheetsError) Error() string {
	return fmt.Sprintf("%v: several have the headings that are looked for; name one with --sheet NAME, or several, which are pooled, or --sheet all: %s", ErrSheet, names(e.Wanted))
}

// Unwrap returns [ErrSheet].
func (e *SheetsError) Unwrap() error { return ErrSheet }
