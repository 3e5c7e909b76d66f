package audit

// ShareSmallAlone hides counts of 1 to 7 and nothing further.
func ShareSmallAlone(a *Audit) (*Audit, error) { return share(a, false) }
