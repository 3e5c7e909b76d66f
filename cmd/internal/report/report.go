// Package report puts audits, checks and published figures into words and
// tables: documents to be written as text or as pages. It computes nothing;
// every number comes from the audit. Percentages have one decimal.
package report

import (
	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort/audit"
)

// Audit is all there is to say of an audit: first what [Answer] says, then what was
// read and set aside, the estimates by group, the comparison with published figures,
// cautions and method.
func Audit(a *audit.Audit, f *gather.Facts) (*document.Document, error) {
	p, refs := new(page), newReferences()
	w := newAnswer(p, a, f, beforeAll)
	w.all()
	w.invented()
	groups := w.parts
	p.read(a)
	if err := p.estimates(a, groups, refs, nil); err != nil {
		return nil, err
	}
	p.worstCase(a, groups)
	p.comparisons(a, groups, refs, true)
	p.closing(a)
	return &p.Document, nil
}

// Published lists published figures with their citations, by joint and
// procedure.
func Published(o PublishedPage) *document.Document {
	p := new(page)
	p.published(o)
	return &p.Document
}
