package report

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// PaperOptions say what stands on a report besides the numbers.
type PaperOptions struct {
	Title string // "" means the usual one
	Year  string // the appraisal year; "" leaves room for it
	Full  bool   // with an appendix of all groups, years, comparisons and the method
	Whose string // whose joints these are, in words of the reader's own; "" means what the scope says

	// Prints are the SHA-256 of what was read, and Settings what was asked for,
	// so that a colleague can make the same report again.
	Prints   []Print
	Settings []string
	Version  string
}

// Print is the fingerprint of one input.
type Print struct{ Name, SHA256 string }

// defaultTitle of a report.
const defaultTitle = "Hip and knee implants: how long they last"

// fewestOnPaper is the number of joints from which a joint and procedure has a
// part of its own on paper.
const fewestOnPaper = fewestJoints

// Paper is a report to hand over: a first page to be read by itself, then the
// data, the estimates, the comparison with published figures, what numbers of
// this size can show, cautions, method, and room for reflection.
func Paper(m *gather.Material, o PaperOptions) (*document.Document, error) {
	a := onPaper(m.Audit)
	p := new(page)
	p.Title, p.Subtitle = o.Title, document.Clean(o.Whose)
	if p.Title == "" {
		p.Title = defaultTitle
	}
	p.Title = document.Clean(p.Title)
	p.Day = dayOf(a)
	refs := newReferences()
	all := divide(a)
	var parts, few []*part
	for _, part := range all {
		if part.all.Joints >= fewestOnPaper {
			parts = append(parts, part)
		} else {
			few = append(few, part)
		}
	}
	draw := &drawings{material: m, parts: parts}
	if err := p.short(m, a, o); err != nil {
		return nil, err
	}
	p.reflection()
	if o.Full {
		if err := p.appendix(m, a, all, parts, few, refs, draw); err != nil {
			return nil, err
		}
	}
	p.provenance(m, o)
	return &p.Document, nil
}

// dayOf is the day that a document is of: the closing date, so that the same tables
// give the same bytes.
func dayOf(a *audit.Audit) time.Time { return time.Unix(int64(a.Closing.Day)*86400, 0).UTC() }

// appendix is everything that is known of an audit.
func (p *page) appendix(m *gather.Material, a *audit.Audit, all, parts, few []*part, refs *references, draw *drawings) error {
	p.data(m, a, all)
	p.caseMix(m, all)
	p.follow(m)
	if err := p.estimates(a, parts, refs, draw); err != nil {
		return err
	}
	p.fewOnPaper(few)
	if m.Cohort != nil {
		p.reasonsForRevision(m)
	}
	p.comparisons(a, parts, refs, false)
	p.heading(1, "Cautions")
	p.bullets(a.Cautions)
	p.heading(1, "Method and references")
	p.bullets(a.Method)
	p.literature(m)
	return nil
}

// onPaper is an audit whose files have no folders before their names: where they
// stood is nobody's business.
func onPaper(a *audit.Audit) *audit.Audit {
	b := *a
	b.Files, b.Sites, b.Deaths.Without = slices.Clone(a.Files), slices.Clone(a.Sites), slices.Clone(a.Deaths.Without)
	for i, name := range b.Deaths.Without {
		b.Deaths.Without[i] = filepath.Base(name)
	}
	for i := range b.Files {
		b.Files[i].Name = filepath.Base(b.Files[i].Name)
		if b.Files[i].Folder != "" {
			b.Files[i].Folder = filepath.Base(b.Files[i].Folder)
		}
	}
	for i := range b.Sites {
		b.Sites[i].Name = filepath.Base(b.Sites[i].Name)
	}
	return &b
}

// closed is the closing date; of an audit made for sharing, its year.
func closed(a *audit.Audit) string {
	if a.Shared != nil {
		return strconv.Itoa(a.Shared.ClosingYear)
	}
	return a.Closing.Day.String()
}

// surgeons is how many surgeons the joints in use are of; 0 if nobody says.
func surgeons(c *cohort.Cohort) int {
	if c == nil {
		return 0
	}
	named, err := c.Values("surgeon")
	if err != nil { // there is no such column
		return 0
	}
	return len(slices.DeleteFunc(named, func(s string) bool { return s == cohort.NotRecorded }))
}

// data says what was read, set aside and lost.
func (p *page) data(m *gather.Material, a *audit.Audit, parts []*part) {
	if a.Shared != nil { // the first page has all there is
		return
	}
	p.heading(1, "Data and completeness")
	p.paragraph(account(a), "Set-aside rows are in no estimate.")
	p.bullets(a.Notes)
	p.sites(a)
	p.reasons("Set aside because", a.Account.Reasons)
	p.reasons("Used, with a warning", a.Account.Warnings)
	p.reasons("Revisions in rows of their own", a.Revisions)
	p.bullets([]string{closingDate(a), deaths(a), "A joint counts for whom the table names, whoever else took part in the operation."})
	if m.Cohort != nil {
		p.completeness(m.Cohort)
	}
	p.worstCase(a, parts)
}

// completeness says by year of operation how many rows have a value.
func (p *page) completeness(c *cohort.Cohort) {
	t, explained := yearly(c)
	if t == nil {
		return
	}
	p.heading(2, "Completeness by year of operation")
	p.paragraph(explained)
	p.table(t, nil)
}

// follow says how long the joints were followed.
func (p *page) follow(m *gather.Material) {
	if len(m.FollowUp) > 0 {
		p.checkFollowUp(m.Audit.LostAfter, m.FollowUp)
	}
}

// enough are the groups of a field that something can be read of.
func (m margin) enough() []*audit.Group {
	var groups []*audit.Group
	for _, g := range m.groups {
		if g.Joints >= fewestOnPaper {
			groups = append(groups, g)
		}
	}
	return groups
}

// largest is the number of joints of a field's largest group.
func (m margin) largest() int64 {
	most := int64(0)
	for _, g := range m.groups {
		most = max(most, g.Joints)
	}
	return most
}

// fewOnPaper names the joints and procedures too few for estimates.
func (p *page) fewOnPaper(parts []*part) {
	if len(parts) == 0 {
		return
	}
	var named []string
	for _, part := range parts {
		named = append(named, fmt.Sprintf("%s (%s, %s revised)", strings.ToLower(part.title[:1])+part.title[1:], few(part.all.Joints, "joint", "joints"), count(part.all.Revised)))
	}
	p.heading(2, "Too few for estimates")
	p.paragraph(fmt.Sprintf("With fewer than %d joints each nothing is estimated: %s.", fewestOnPaper, list(named)))
}

// pooled are the groups of a part that pool all fields, or all but one.
func (p *part) pooled() []*audit.Group {
	return slices.DeleteFunc(p.groups(), func(g *audit.Group) bool { return g.Pooling == audit.Cell })
}

// narrow are parts of which only all joints and the groups of the first field
// are left.
func narrow(parts []*part) []*part {
	var out []*part
	for _, p := range parts {
		n := *p
		n.cells = nil
		n.fields = n.fields[:min(1, len(n.fields))]
		out = append(out, &n)
	}
	return out
}

// reflection leaves room to write.
func (p *page) reflection() {
	p.heading(1, "Reflection and actions")
	p.paragraph("To be filled in by the surgeon, and talked over with a colleague.")
	p.Lines("What these figures show, and what they can't", 4)
	p.Lines("What the data lack, and who will see to it by when", 3)
	p.Lines("What will be done, kept or changed, and when it will be looked at again", 4)
	p.Lines("Seen and talked over with (name, date)", 1)
}
