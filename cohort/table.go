package cohort

import (
	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/table"
)

// What is said of tables.
type (
	// File is one table and how it was understood: its Name, the Folder that is read as one
	// of whose files it is, Format, Notes about
	// the file as a whole, HeadingRow, Preamble (comment lines above the
	// headings), Headings, DateOrders, Rows, what it Holds (primaries, revisions or
	// deaths), its Sheet of a workbook and the OtherSheets, which are not read,
	// whether it Changed while it was read, and why its days last seen may all be
	// early (SeenEarly, "" if nothing says so). Its Title tells it from others in a
	// message, and it is Invented if its Preamble says so.
	File = table.File

	// Progress is how far a reading has come: so many Rows kept, and of all tables together so
	// many bytes Read of a Total, which is 0 where nobody knows it.
	Progress = table.Progress

	// Heading is one heading as Typed, the Column it was taken for, "" for one of
	// the user's own, and How; Between lists the columns it could mean, where that
	// is not clear and it is taken for none.
	Heading = table.Heading

	// HeadingMatch says how a heading was matched.
	HeadingMatch = table.HeadingMatch

	// Word is one word as Typed in a column, the Value it was taken for (canonical,
	// or as typed), whether it is Known, in how many Rows it stands, and whether it
	// was explained BySettings. One that may be about a patient is FreeText, and comes
	// with the Row of a File where it stands first.
	Word = table.Word

	// CommonValues are the values under a Heading of a File that is not
	// understood, to see what it may mean: at most five Values that stand in two
	// rows or more, the commonest first. None are given of a column that may
	// identify patients, and Looks then says what it looks like: "dates", "long
	// numbers", "free text" or "many different values".
	CommonValues = table.CommonValues

	// NameQuestion asks whether a Name in a Column of surgeons or hospitals, which
	// stands in so many Rows, is another that tells more: those it MayBe, the
	// commonest first. It is Contested if one of them may be somebody else's too, who
	// can't be the same.
	NameQuestion = table.NameQuestion

	// ColumnOrder is the Order in which the numeric dates of a Column were read.
	// From is the column whose dates settled it: its own, or another of the table;
	// "" if the order was asked for.
	ColumnOrder = table.ColumnOrder

	// DateOrder says how numeric dates such as 3/4/2019 are read.
	DateOrder = dates.Order

	// MissingColumnError says that a File lacks a Column that is needed; Found are
	// its headings, and Near the nearest of them, if one is near.
	MissingColumnError = table.MissingColumnError

	// TwoColumnsError says that two headings of a File, First and Second, were
	// taken for one Column.
	TwoColumnsError = table.TwoColumnsError

	// SheetsError says that several sheets of a workbook, Wanted, have the headings
	// of an outcomes table, and none was named.
	SheetsError = table.SheetsError

	// TooLargeError says that a File, with those read before, has more Rows than the
	// Memory has room for, and how many Fit.
	TooLargeError = table.TooLargeError

	// DateOrderError says why the order of day and month of a File could not be
	// settled, and in which Column and rows, RowA and RowB, that shows.
	DateOrderError = table.DateOrderError
)

// The orders of day and month. OrderFromTable settles the order from the table's
// own dates, or refuses; DayFirst reads 3/4/2019 as 3 April, MonthFirst as 4
// March.
const (
	OrderFromTable = dates.OrderUnknown
	DayFirst       = dates.DayFirst
	MonthFirst     = dates.MonthFirst
)

// How a heading was matched.
const (
	Unmatched    = table.Unmatched    // no known column; kept under its own name
	ByName       = table.ByName       // the column's own name
	ByVariant    = table.ByVariant    // a close variant, such as "Date of operation"
	BySettings   = table.BySettings   // the user's own mapping
	LeftOut      = table.LeftOut      // left out by the user's own mapping
	OtherHeading = table.OtherHeading // a variant of a column that another heading names exactly
)

// ShownName is the name of a file as it may be shown: as it was given, unless it may be
// about a patient, as with an e-mail address in it.
func ShownName(name string) string { return table.ShownName(name) }

// LikelySheets are, of the sheets of a workbook that are not read, those whose
// names say that they hold revisions and deaths; "" for none.
func LikelySheets(notRead []string) (revisions, deaths string) { return table.LikelySheets(notRead) }
