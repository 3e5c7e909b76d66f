package gather

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// Department is what stands on the page for a department's meeting: one audit, and the
// same joints by surgeon and by hospital.
type Department struct {
	*Material
	Fields  []string        // of surgeon and hospital, those that the table has
	Units   *audit.Audit    // by these, beside their own department
	Places  []Place         // units in their order, field by field
	Years   []Place         // by year of operation, those before the latest ones together
	Watched []*Watched      // by field
	Asked   [][]audit.Value // names that may be one, each cluster together
	Tasks   []Task          // what there is to do about rows
}

// Place is the joints of one surgeon or hospital, or of one year of operation or of several.
type Place struct {
	audit.Value
	Cohort   *cohort.Cohort
	Joints   map[int]int // by year of operation
	FollowUp cohort.FollowUp
	Filled   map[string][2]int // by column: rows that have a value, of how many
	Tasks    []Task            // of the first field's: what there is to do about rows
}

// DepartmentFields are the columns of units on a department's page.
func DepartmentFields() []string { return []string{"surgeon", "hospital"} }

// ErrNoDepartment: no table names surgeons or hospitals.
var ErrNoDepartment = errors.New("a department's page needs a surgeon or a hospital column")

// mostUnits is how many units of a field a page is made of.
const mostUnits = 200

// DepartmentOf gathers a department's page from the material of its report.
func DepartmentOf(m *Material, o audit.Options, w Watching) (*Department, error) {
	c := m.Cohort
	d := &Department{Material: m}
	for _, f := range DepartmentFields() {
		if slices.Contains(c.Fields(), f) {
			d.Fields = append(d.Fields, f)
		}
	}
	if d.Fields == nil {
		return nil, ErrNoDepartment
	}
	o.By, o.Published, o.WorstCase, o.NoCells, o.ExpectedOwn = d.Fields, nil, false, true, true
	var err error
	if d.Units, err = audit.Run(c, o); err != nil {
		return nil, err
	}
	d.Fields = d.Units.By
	for _, f := range d.Fields {
		places, err := placesOf(c, f)
		if err != nil {
			return nil, err
		}
		d.Places = append(d.Places, places...)
		watched, err := Watch(c, o.Endpoint, f, w)
		if err != nil {
			return nil, err
		}
		d.Watched = append(d.Watched, watched)
	}
	d.Years, err = yearsOf(c)
	d.Asked = clusters(c.NameQuestions(), d.Fields)
	d.Tasks = ToDo(Tasks(c, m.Facts.Doubts))
	for i := range d.Places {
		if p := &d.Places[i]; p.Field == d.Fields[0] {
			p.Tasks = ToDo(Tasks(p.Cohort, m.Facts.Doubts))
		}
	}
	return d, err
}

// placesOf are the joints of each word of a field.
func placesOf(c *cohort.Cohort, field string) ([]Place, error) {
	words, err := c.Values(field)
	if err != nil {
		return nil, err
	}
	if len(words) > mostUnits {
		return nil, fmt.Errorf("%s has %d values, and a department's page is made of at most %d: choose some with --where %s=…", field, len(words), mostUnits, field)
	}
	return eachOf(c, field, words)
}

// eachOf are the joints of each of some words of a field.
func eachOf(c *cohort.Cohort, field string, words []string) ([]Place, error) {
	var all []Place
	for _, word := range words {
		p, err := placeOf(c, audit.Value{Field: field, Word: word}, word)
		if err != nil {
			return nil, err
		}
		all = append(all, p)
	}
	return all, nil
}

// LatestYears are how many years of operation stand by themselves.
const LatestYears = 6

// yearsOf are the joints of the latest years of operation, after those of all years before.
func yearsOf(c *cohort.Cohort) ([]Place, error) {
	words, err := c.Values(audit.OperationYear)
	if err != nil {
		return nil, err
	}
	n := max(0, len(words)-LatestYears)
	all, err := eachOf(c, audit.OperationYear, words[n:])
	if err != nil || n == 0 {
		return all, err
	}
	before, err := placeOf(c, audit.Value{Field: audit.OperationYear, Word: "before " + words[n]}, words[:n]...)
	return append([]Place{before}, all...), err
}

// placeOf are the joints that have one of some words of a field.
func placeOf(c *cohort.Cohort, called audit.Value, words ...string) (Place, error) {
	p := Place{Value: called, Joints: make(map[int]int), Filled: make(map[string][2]int)}
	var any []cohort.Condition
	for _, word := range words {
		any = append(any, cohort.Condition{Column: called.Field, Value: word})
	}
	var err error
	if p.Cohort, err = c.Where(any...); err != nil {
		return p, err
	}
	joints, err := p.Cohort.Joints(cohort.Endpoint{})
	if err != nil {
		return p, err
	}
	for j := range joints {
		p.Joints[j.Operation.Year()]++
	}
	follow, err := p.Cohort.FollowUp()
	if err != nil {
		return p, err
	}
	p.FollowUp = follow[0]
	for _, k := range p.Cohort.CompletenessByYear().Columns {
		n := [2]int{}
		for i := range k.Rows {
			n[0], n[1] = n[0]+k.Filled[i], n[1]+k.Rows[i]
		}
		p.Filled[k.Column] = n
	}
	return p, nil
}

// Of are the places of a field.
func (d *Department) Of(field string) []Place {
	return slices.DeleteFunc(slices.Clone(d.Places), func(p Place) bool { return p.Field != field })
}

// clusters are the names that may be one, those that hang together in one cluster.
func clusters(questions []cohort.NameQuestion, fields []string) [][]audit.Value {
	var all [][]audit.Value
	for _, q := range questions {
		if !slices.Contains(fields, q.Column) {
			continue
		}
		names := []audit.Value{{Field: q.Column, Word: q.Name}}
		for _, w := range q.MayBe {
			names = append(names, audit.Value{Field: q.Column, Word: w.Value})
		}
		all = append(all, nil)
		for i := len(all) - 2; i >= 0; i-- {
			if slices.ContainsFunc(all[i], func(v audit.Value) bool { return slices.Contains(names, v) }) {
				names = append(names, all[i]...)
				all = slices.Delete(all, i, i+1)
			}
		}
		slices.SortFunc(names, func(a, b audit.Value) int { return cmp.Compare(a.Word, b.Word) })
		all[len(all)-1] = slices.Compact(names)
	}
	return all
}

// Called is a department whose units of a field have other words, as letters instead
// of names, in the order of these.
func (d *Department) Called(field string, words map[string]string) *Department {
	other := *d
	other.Units = d.Units.Called(field, words)
	word := func(v audit.Value) audit.Value {
		if w, ok := words[v.Word]; ok && v.Field == field {
			v.Word = w
		}
		return v
	}
	other.Places = slices.Clone(d.Places)
	for i := range other.Places {
		other.Places[i].Value = word(other.Places[i].Value)
	}
	slices.SortStableFunc(other.Places, func(a, b Place) int { return d.compare(a.Value, b.Value) })
	other.Watched = nil
	for _, w := range d.Watched {
		if w.By == field {
			w = w.Called(words)
		}
		other.Watched = append(other.Watched, w)
	}
	other.Asked = nil
	for _, cluster := range d.Asked {
		var called []audit.Value
		for _, v := range cluster {
			called = append(called, word(v))
		}
		slices.SortFunc(called, d.compare)
		other.Asked = append(other.Asked, called)
	}
	if d.Before != nil {
		m, before := *d.Material, *d.Before
		before.Moved = slices.Clone(d.Before.Moved)
		for i := range before.Moved {
			before.Moved[i].Unit = word(before.Moved[i].Unit)
		}
		for rest := before.Moved; len(rest) > 0; {
			n := 1
			for n < len(rest) && rest[n].Joint == rest[0].Joint && rest[n].Procedure == rest[0].Procedure {
				n++
			}
			slices.SortStableFunc(rest[:n], func(a, b Moved) int { return d.compare(a.Unit, b.Unit) })
			rest = rest[n:]
		}
		before.New = slices.Clone(d.Before.New)
		for i := range before.New {
			before.New[i] = word(before.New[i])
		}
		slices.SortStableFunc(before.New, d.compare)
		m.Before = &before
		other.Material = &m
	}
	return &other
}

// compare orders units: as the fields are, then as letters are, what is not recorded
// last.
func (d *Department) compare(a, b audit.Value) int {
	if a.Field != b.Field {
		return cmp.Compare(slices.Index(d.Fields, a.Field), slices.Index(d.Fields, b.Field))
	}
	if (a.Word == cohort.NotRecorded) != (b.Word == cohort.NotRecorded) {
		return cmp.Compare(strconv.FormatBool(a.Word == cohort.NotRecorded), strconv.FormatBool(b.Word == cohort.NotRecorded))
	}
	return cmp.Or(cmp.Compare(len(a.Word), len(b.Word)), cmp.Compare(a.Word, b.Word))
}
