package disclose

import (
	"example.org/holdfast/cohort/audit"
)

// RunRoundedAlone is Run without a look at what the rounded numbers give away.
func RunRoundedAlone(c audit.Source, o audit.Options) (*audit.Audit, error) {
	return run(c, o, false)
}
