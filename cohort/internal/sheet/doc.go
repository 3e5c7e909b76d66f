// Package sheet opens a table file of any kind the project reads and streams
// it as batches of text cells.
//
// It knows nothing of joints: it finds the kind of file, the encoding, the
// separator and the headings, keeps count of lines, and hands out cells as
// text. What a cell means is the caller's business.
//
//	t, err := sheet.Open(ctx, "outcomes.csv", nil, sheet.Options{})
//	...
//	defer t.Close()
//	for {
//		b, err := t.Next() // from any number of goroutines
//		if err == io.EOF {
//			break
//		}
//		...
//		b.Rows(func(r *sheet.Record) bool { ...; return true })
//		b.Release()
//	}
//
// Kinds: separated text (comma, semicolon, tab or bar; UTF-8, UTF-16 or
// Windows-1252), .xlsx workbooks, Parquet, Arrow IPC files and Arrow IPC
// streams. The kind is told from the first bytes, never from the ending of the
// name.
//
// # Headings
//
// The headings of a text or a sheet are the first row that is not blank and no
// comment, or the first that Options.IsHeadings takes for headings. What stands
// above is the Preamble. The separator of a text is found from the line of the
// headings, so that a title above them may hold others.
//
// In a sheet a heading merged over several columns belongs to the first of
// them. Where headings stand in two rows, with group titles over several
// columns in the upper one, the lower row is the heading row; a cell that is
// merged over both rows keeps its text. Where cells are not merged, as in a text, the
// row right above headings of which some are empty or stand twice is handed out as Upper, if it
// holds more than a title.
//
// # Records of a text table
//
// A cell that starts with a quotation mark runs to the closing one; two marks
// stand for one, and line ends inside are kept. Anything between the closing
// mark and the next separator is kept as typed. A mark inside an unquoted
// cell is an ordinary character. Lines end with LF or CRLF, or with CR alone
// where the start of the file has no LF at all.
//
// A quoted cell counts as never ending if no closing mark stands within 1 MiB
// or before the end of the file, or if the mark that would close it stands on
// a later line and is not followed by a separator or line end. Then the one
// line that opens it is a record with ErrQuote, and reading goes on with the
// next line, so a stray mark costs one record. A record longer than 1 MiB
// carries ErrLongRecord and no cells; reading goes on after the next line end.
//
// Records without any content are skipped but counted in the row numbers.
// Empty cells beyond the last heading are dropped.
//
// # Cells of a workbook
//
//   - Text is handed out as it is, runs of rich text joined. Text that looks
//     like a number stays as typed.
//   - Numbers: the shortest plain decimal that stands for the stored value,
//     whatever is displayed.
//   - Numbers formatted as dates: the day as ISO date, without the time of day,
//     counted from 1900 or 1904 as the workbook says. A number that no
//     spreadsheet shows as a day stays a number, and so do times of day alone.
//   - Logical values: yes, no.
//   - Formulas: the saved value. Without one the cell is empty and Notes counts
//     it.
//   - Errors such as #N/A: empty, and Notes counts them.
//
// Hidden sheets, rows and columns are read like the others and named in Notes.
// Rows without any content are skipped; a row whose only content are errors or
// formulas without a value is handed out without cells. Rows have the numbers
// of the sheet, and Table.Cell gives the name of a cell.
//
// # Memory and speed
//
// Nothing is held but the batches not yet released, about half a MiB each, and
// for a workbook the texts its cells share, 128 MiB at most. No temporary files
// are written. Archives that unpack to more than 64 MiB and 200 times their size
// are refused. Next reads, decodes and cuts at a record's end; the cells are split in
// Batch.Rows, in the goroutine that calls it, so that the work is shared.
package sheet
