package command

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"

	"example.org/holdfast/cmd/internal/document"
	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/text"
)

// watching is by what a report expects revisions over calendar time.
func (f *reportFlags) watching(published []*benchmark.Series) (w gather.Watching, err error) {
	if f.past != "" {
		day, err := cohort.ParseDay(f.past)
		if err != nil {
			return w, usage("--past: %v", err)
		}
		w.Past = &day
	}
	if f.source != "" {
		w.Series, err = ofSource(published, f.source)
		return w, err
	}
	return w, nil
}

// unitLetters are what the units of each field of a department are called: numbers after
// the first field, so that surgeon A is not taken for hospital A's.
func unitLetters(d *gather.Department, key []byte) map[string]map[string]string {
	all := make(map[string]map[string]string)
	for i, field := range d.Fields {
		called := letter
		if i > 0 {
			called = func(n int) string { return strconv.Itoa(n + 1) }
		}
		var values []string
		for _, p := range d.Of(field) {
			if p.Word != cohort.NotRecorded {
				values = append(values, p.Word)
			}
		}
		all[field] = pseudonyms(values, slices.Concat(key, []byte(field)), called)
	}
	return all
}

// meeting writes the page for a department's meeting, and one for each surgeon, all or
// none.
func (a *app) meeting(f *reportFlags, key []byte, inputs []string, ao audit.Options, m *gather.Material, watch gather.Watching, po report.PaperOptions, font *text.Font) error {
	d, err := gather.DepartmentOf(m, ao, watch)
	if errors.Is(err, gather.ErrNoDepartment) {
		return err
	}
	if err != nil {
		return &usageError{Err: err}
	}
	called := unitLetters(d, key)
	shown := d
	if !f.name {
		for _, field := range d.Fields {
			shown = shown.Called(field, called[field])
		}
		po.Settings = slices.DeleteFunc(slices.Clone(po.Settings), func(s string) bool { return namesAny(s, called) })
	}
	contents := make(map[string][]byte)
	page, err := report.Department(shown, po, f.name)
	if err != nil {
		return err
	}
	if contents[f.out], err = a.laidOut(f.out, page, font); err != nil {
		return err
	}
	if len(d.Fields) > 0 && d.Fields[0] == "surgeon" {
		if err := a.ownPages(f, shown, called["surgeon"], ao, po, font, contents); err != nil {
			return err
		}
	}
	names := slices.Sorted(maps.Keys(contents))
	if err := apart(append(slices.Clone(names), f.key), inputs); err != nil {
		return err
	}
	for _, name := range names {
		if err := a.writeBytes(name, contents[name]); err != nil {
			return err
		}
	}
	if f.key != "" && !f.name {
		if err := a.writeFile(f.key, func(w io.Writer) error { return writeUnitKey(w, d.Fields, called) }); err != nil {
			return err
		}
	}
	fmt.Fprintf(a.stderr, "%d pages written: %s, and one for each surgeon beside it.\n", len(names), f.out)
	return nil
}

// namesAny says whether a text holds a name that has a letter instead.
func namesAny(s string, called map[string]map[string]string) bool {
	for _, words := range called {
		for word := range words {
			if strings.Contains(s, word) {
				return true
			}
		}
	}
	return false
}

// ownPages makes the page of each surgeon, by the name of its file.
func (a *app) ownPages(f *reportFlags, d *gather.Department, called map[string]string, ao audit.Options, po report.PaperOptions, font *text.Font, contents map[string][]byte) error {
	own := make(map[string]string) // names by letters
	for name, letter := range called {
		own[letter] = name
	}
	for _, p := range d.Of("surgeon") {
		if p.Word == cohort.NotRecorded || p.FollowUp.Joints == 0 {
			continue
		}
		one, err := gather.Brief(p.Cohort, ao)
		if err != nil {
			return &usageError{Err: err}
		}
		if d.Before != nil {
			one.Before = d.Before.Of(p.Value)
		}
		if !f.name {
			one.Rename("surgeon", own[p.Word], p.Word)
		}
		page, err := report.Own(d, p.Value, one, po, f.name)
		if err != nil {
			return err
		}
		name := beside(f.out, p.Word)
		if contents[name] != nil {
			return usage("two surgeons would be written to %s, the second over the first: leave out --name", name)
		}
		if contents[name], err = a.laidOut(name, page, font); err != nil {
			return err
		}
	}
	return nil
}

// writeUnitKey writes which letter or number stands for whom.
func writeUnitKey(w io.Writer, fields []string, called map[string]map[string]string) error {
	cw := csv.NewWriter(w)
	cw.Write([]string{"column", "letter", "value"})
	for _, field := range fields {
		values := slices.SortedFunc(maps.Keys(called[field]), func(a, b string) int {
			x, y := called[field][a], called[field][b]
			return cmp.Or(cmp.Compare(len(x), len(y)), cmp.Compare(x, y))
		})
		for _, v := range values {
			cw.Write([]string{field, called[field][v], text.Protect(document.Clean(v))})
		}
	}
	cw.Flush()
	return cw.Error()
}
