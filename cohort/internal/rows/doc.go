// Package rows opens a table file of any kind the project reads and streams
// it as batches of text cells.
//
// It knows nothing of joints: it finds the kind of file, the encoding, the
// separator and the headings, keeps count of lines, and hands out cells as
// text. What a cell means is the caller's business.
//
//	t, err := rows.Open(ctx, "outcomes.csv", nil, rows.Options{})
//	...
//	defer t.Close()
//	for {
//		b, err := t.Next() // from any number of goroutines
//		if err == io.EOF {
//			break
//		}
//		...
//		b.Rows(func(r *rows.Record) bool { ...; return true })
//		b.Release()
//	}
//
// Kinds: separated text (comma, semicolon, tab or bar; UTF-8, UTF-16 or
// Windows-1252), Parquet, Arrow IPC files and Arrow IPC streams. The kind is
// told from the first bytes, never from the ending of the name.
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
// # Memory and speed
//
// Nothing is held but the batches not yet released, about half a MiB each. Next
// reads, decodes and cuts at a record's end; the cells are split in
// Batch.Rows, in the goroutine that calls it, so that the work is shared.
package rows
