package report

import (
	"errors"
	"fmt"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort/figure"
)

// drawings makes the figures of a report.
type drawings struct {
	material *gather.Material
	parts    []*part
}

// add puts a figure on the page, unless there is nothing to draw.
func (p *page) add(f *figure.Figure, err error, caption string) error {
	if errors.Is(err, figure.ErrNothingToDraw) {
		return nil
	}
	if err != nil {
		return err
	}
	p.Figure(document.Figure{Drawing: f.Untitled(), Caption: caption, Alternative: f.Alternative, Notes: f.Notes})
	return nil
}

// curves draws the groups of one field of one joint and procedure.
func (p *page) curves(d *drawings, part *part, field string) error {
	f, err := figure.Curves(d.material.Audit, figure.CurvesOptions{Field: field, Joint: part.joint(), Procedure: part.procedure(), Names: figure.Names{All: true}})
	return p.add(f, err, fmt.Sprintf("%s: cumulative revision by %s.", part.title, label(field)))
}

// intervals draws the groups of several fields at one year.
func (p *page) intervals(d *drawings, part *part, fields []margin) error {
	r := part.all.Latest()
	if r == nil {
		return nil
	}
	o := figure.IntervalsOptions{Years: r.Years, Joint: part.joint(), Procedure: part.procedure(), Names: figure.Names{All: true}}
	if len(fields) == 1 {
		o.Field = fields[0].field
	}
	f, err := figure.Intervals(d.material.Audit, o)
	return p.add(f, err, fmt.Sprintf("%s: cumulative revision at %s, by group.", part.title, inYears(r.Years)))
}

func (p *part) joint() string     { return p.all.Values[0].Word }
func (p *part) procedure() string { return p.all.Values[1].Word }

// literature cites the methods used.
func (p *page) literature(m *gather.Material) {
	cited := []string{
		"Kaplan EL, Meier P. J Am Stat Assoc 1958;53:457 (cumulative revision).",
		"Aalen OO, Johansen S. Scand J Stat 1978;5:141 (cumulative incidence).",
		"Greenwood M. The natural duration of cancer. Reports on Public Health and Medical Subjects 33, 1926; Choudhury JB. Stat Med 2002;21:1129 (standard errors).",
		"Fay MP, Brittain EH, Proschan MA. Biostatistics 2013;14:723 (beta product limits).",
		"Garwood F. Biometrika 1936;28:437 (exact limits of rates).",
	}
	if compared(m.Audit) {
		cited = append(cited, "Zou GY, Donner A. Stat Med 2008;27:1693 (limits of differences).")
	}
	if len(m.FollowUp) > 0 {
		cited = append(cited, "Schemper M, Smith TL. Control Clin Trials 1996;17:343 (median follow-up).",
			"Murray DW, Britton AR, Bulstrode CJK. J Bone Joint Surg Br 1997;79:254 (loss to follow-up).")
	}
	p.heading(2, "References")
	p.bullets(cited)
}

// provenance says what the report was made from, and with what, so that it can
// be made again.
func (p *page) provenance(m *gather.Material, o PaperOptions) {
	p.heading(1, "What this report was made from")
	p.paragraph("The same files, settings and version give the same report again, to the byte.")
	t := &table{Columns: []column{{Title: "File", Wraps: true}, {Title: "SHA-256", Wraps: true}}}
	for _, f := range o.Prints {
		t.Add(f.Name, f.SHA256)
	}
	p.table(t, nil)
	facts := []item{{Mark: "Program", Text: "Holdfast " + o.Version}, {Mark: "Closing date", Text: closed(m.Audit)}}
	if len(o.Settings) > 0 {
		facts = append(facts, item{Mark: "Settings", Text: strings.Join(o.Settings, "; ")})
	}
	p.items(facts)
}
