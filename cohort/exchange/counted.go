package exchange

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/sheet"
)

// CountsKey is the key of the metadata of a checked cohort under which stands what a tally
// of it says of the tables, so that counts made elsewhere can be made a tally.
const CountsKey = "holdfast_counts"

// headerOfJoints is what the tally of a checked cohort's joints says, made without
// published figures.
func headerOfJoints(c *cohort.Cohort) (string, error) {
	ages, years := breaks(c, nil)
	h, err := headerFor(c, defaultBy(c), ages, years, cohort.Endpoint{})
	if err != nil {
		return "", err
	}
	return h.text()
}

// Counted makes a tally of what a query counted over a checked cohort, as holdfast help
// engines says: the file of the cohort, of which the metadata are read, and the query's
// rows as CSV, with or without a line of headings. By are the fields grouped by; nil means
// those of [Options]. It is refused where the counts are not of the cohort's joints: as
// many of each joint and procedure, as many of them revised and dead. Patients are known
// by the default fields alone.
func Counted(ctx context.Context, name, joints string, rows io.Reader, by []string) (*Tally, error) {
	file, err := sheet.Open(ctx, joints, nil, sheet.Options{})
	if err != nil {
		return nil, err
	}
	defer file.Close()
	text, ok := file.About(CountsKey)
	if !ok {
		return nil, fmt.Errorf("%s: no checked cohort to be counted, or one that was made without a closing date that is named", joints)
	}
	h, err := readHeader(text)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", joints, err)
	}
	if by != nil {
		for _, f := range by {
			if !slices.Contains(h.Has, f) && !slices.Contains(fixed, f) && f != "age_band" {
				return nil, &cohort.UnknownFieldError{Wanted: f, Known: h.Has}
			}
		}
		h.By = by
		h.Further = h.further()
	}
	h.forget()
	r := newRows(h)
	if err := readCounts(rows, h, r); err != nil {
		return nil, err
	}
	t := &Tally{Name: name, header: *h}
	if t.cells, err = h.order(r.found); err != nil {
		return nil, err
	}
	return t, t.counts()
}

// readCounts adds the rows of a query.
func readCounts(from io.Reader, h *header, r *rows) error {
	var names []string
	for _, c := range h.rowColumns() {
		names = append(names, c.Name)
	}
	in := csv.NewReader(from)
	in.FieldsPerRecord = -1
	for n := 1; ; n++ {
		cells, err := in.Read()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
		if len(cells) != len(names) {
			return fmt.Errorf("row %d of the counts has %d cells, want %d: %s", n, len(cells), len(names), strings.Join(names, ", "))
		}
		if _, err := strconv.Atoi(cells[len(cells)-1]); n == 1 && err != nil {
			continue // headings
		}
		if err := r.add(cells); err != nil {
			return fmt.Errorf("row %d of the counts: %v", n, err)
		}
	}
}

// counts says where the cells of a tally are not of the joints that its header is of.
func (t *Tally) counts() error {
	type count struct{ joints, revised, died int64 }
	found := make(map[[2]string]count)
	total := int64(0)
	for key, counts := range t.cells.All() {
		words := t.cells.Words(key, "")
		of := [2]string{words[0], words[1]}
		n := found[of]
		for x := range counts.Exits() {
			n.joints += x.Subjects
			total += x.Subjects
			switch cohort.End(x.Cause).Cause() {
			case cohort.CauseRevision:
				n.revised += x.Subjects
			case cohort.CauseDeath:
				n.died += x.Subjects
			}
		}
		found[of] = n
	}
	for _, f := range t.header.FollowUp {
		if n := found[[2]string{f.Joint, f.Procedure}]; n != (count{f.Joints, f.Revised, f.Died}) {
			return fmt.Errorf("of %s, %s the counts have %d joints, %d revised and %d dead; the checked cohort has %d, %d and %d", f.Joint, f.Procedure, n.joints, n.revised, n.died, f.Joints, f.Revised, f.Died)
		}
	}
	if total != int64(t.header.Account.Used) {
		return fmt.Errorf("the counts have %d joints, and the checked cohort %d", total, t.header.Account.Used)
	}
	return nil
}
