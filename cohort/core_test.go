package cohort

import (
	"math"

	"example.org/holdfast/cohort/internal/row"
)

// used and reasons are the first and the number of reasons.
const (
	used    = row.Used
	reasons = row.ReasonCount
	badDay  = math.MinInt32
)
