package cohort

import "example.org/holdfast/cohort/internal/row"

// EndOfReasons is one more than the last reason.
const EndOfReasons = row.ReasonCount
