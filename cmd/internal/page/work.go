package page

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"path"
	"reflect"
	"slices"

	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
)

// work is what came of tables and settings.
type work struct {
	tables  []string
	asked   string // the settings, as they were asked for
	in      *settings.Settings
	options audit.Options
	cohort  *cohort.Cohort // nil where nothing could be read
	stopped error          // what keeps it from being audited

	audited  *audit.Audit     // once it is asked for
	material *gather.Material // likewise
}

// settingsName is what the settings are called that are chosen on a page.
const settingsName = "settings"

// settled is a settings file as an object.
func settled(name string, text []byte) (json.RawMessage, error) { return settings.ToJSON(name, text) }

// work reads tables as the settings say, unless that was the last thing done.
// Errors are about the settings.
func (s *server) work(q *question) (*work, error) {
	if w := s.last; w != nil && slices.Equal(w.tables, q.Tables) && w.asked == string(q.Settings) {
		return w, nil
	}
	s.last = nil // what is held of other tables makes room
	w := &work{tables: q.Tables, asked: string(q.Settings)}
	var err error
	if w.in, err = settings.FromJSON(settingsName, q.Settings); err != nil {
		return nil, err
	}
	reading, err := w.in.Reading()
	if err != nil {
		return nil, err
	}
	if w.options, err = w.in.Audit(); err != nil {
		return nil, err
	}
	if w.options.Published, _, err = w.in.Series(func(name string) (io.ReadCloser, error) {
		r, err := s.open(name)
		return io.NopCloser(r), err
	}); err != nil {
		return nil, err
	}
	if err := settings.NameLists(q.Tables, reading); err != nil {
		return nil, err
	}
	for _, list := range [][]cohort.Source{reading.Revisions, reading.DeathLists} {
		for i := range list {
			if list[i].Reader, err = s.open(list[i].Name); err != nil {
				return nil, err
			}
		}
	}
	var sources []cohort.Source
	for _, name := range q.Tables {
		r, err := s.open(name)
		if err != nil {
			return nil, err
		}
		sources = append(sources, cohort.Source{Name: name, Reader: r})
	}
	reading.EveryColumn, reading.Progress = true, s.progress
	reading.Keep = append(slices.Concat(reading.Keep, w.options.By, cohort.CaseMix(), audit.Statable()), "surgeon")
	w.cohort, w.stopped = cohort.Read(context.Background(), sources, reading)
	w.stopped = w.in.Placed(w.stopped)
	s.last = w
	return w, nil
}

// open is a file that the page gave, by its name, or by its last part where
// settings name it in a folder.
func (s *server) open(name string) (*bytes.Reader, error) {
	for _, as := range []string{name, path.Base(name)} {
		if content, ok := s.files[as]; ok {
			return bytes.NewReader(content), nil
		}
	}
	return nil, fmt.Errorf("the settings name the file %s, which was not chosen: choose it too", path.Base(name))
}

// audits is the work with its audit.
func (s *server) audits(q *question) (*work, error) {
	w, err := s.work(q)
	if err != nil {
		return nil, err
	}
	if w.stopped != nil {
		return nil, w.stopped
	}
	if w.audited == nil {
		w.audited, err = w.in.Run(w.cohort, w.options, false)
	}
	return w, err
}

// gathers is the work with all that a report is made of.
func (s *server) gathers(q *question) (*work, error) {
	w, err := s.audits(q)
	if err != nil || w.material != nil {
		return w, err
	}
	o := w.options
	o.By, _ = settings.Grouped(w.cohort, o.By)
	w.material, err = gather.All(w.cohort, o)
	return w, err
}

// inForce are the settings of one line that say what is estimated, as a settings
// file has them, so that a report can name them.
func inForce(s *settings.Settings) []string {
	var all []string
	v := reflect.ValueOf(*s)
	for i := range v.NumField() {
		key, f := v.Type().Field(i).Tag.Get("toml"), v.Field(i)
		if !slices.Contains([]string{"closing_date", "deaths_complete_to", "date_order", "pivot", "by", "age_bands", "years", "interval", "level", "min_at_risk", "lost_after_years", "builtin", "expected", "reasons", "worst_case"}, key) || f.IsZero() {
			continue
		}
		if f.Kind() == reflect.Pointer {
			f = f.Elem()
		}
		all = append(all, fmt.Sprintf("%s = %v", key, f.Interface()))
	}
	return all
}
