package report

import "example.org/holdfast/cohort/audit"

// closing writes the cautions and how the numbers were made.
func (p *page) closing(a *audit.Audit) {
	p.heading(1, "Cautions")
	p.bullets(a.Cautions)
	p.heading(1, "How the numbers were made")
	p.bullets(a.Method)
}
