package row

// Column is one of the columns that something is said of.
type Column uint8

// The columns.
const (
	WholeRow Column = iota // none of them
	ColumnPatient
	ColumnOperationDate
	ColumnOperationType
	ColumnProcedure
	ColumnJoint
	ColumnSide
	ColumnBearing
	ColumnFixation
	ColumnBMI
	ColumnRevisionDate
	ColumnRevisionReason
	ColumnRevised
	ColumnDeathDate
	ColumnDead
	ColumnSeenDate
	ColumnAge
	ColumnBirthYear
	ColumnBirthDate
)

var columnNames = [...]string{
	ColumnPatient:        "patient",
	ColumnOperationDate:  "operation_date",
	ColumnOperationType:  "operation_type",
	ColumnProcedure:      "procedure",
	ColumnJoint:          "joint",
	ColumnSide:           "side",
	ColumnBearing:        "bearing",
	ColumnFixation:       "fixation",
	ColumnBMI:            "bmi",
	ColumnRevisionDate:   "revision_date",
	ColumnRevisionReason: "revision_reason",
	ColumnRevised:        "revised",
	ColumnDeathDate:      "death_date",
	ColumnDead:           "dead",
	ColumnSeenDate:       "last_seen_date",
	ColumnAge:            "age",
	ColumnBirthYear:      "birth_year",
	ColumnBirthDate:      "birth_date",
}

// String is the name of the column; "" of none.
func (c Column) String() string { return columnNames[c] }
