package contrast

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/text"
	"example.org/holdfast/survival"
	"example.org/holdfast/survival/tally"
)

// subjects are the joints of one joint and procedure whose group is recorded, in
// columns.
type subjects struct {
	joint, procedure string
	causes           int
	patients         bool // a table names them

	days    []int32
	cause   []uint8
	patient []int32
	age     []int16    // −1 not recorded
	fields  []string   // the one compared by, then others
	words   []*wordsOf // by field
	leftOut int64      // joints whose group is not recorded
}

// wordsOf are the joints' words in one field: the number of a level each.
type wordsOf struct {
	field  string
	levels []string // those that occur, in canonical order
	code   []uint16
}

// word is a level as it is written, given it in any case.
func (w *wordsOf) word(typed string) string {
	for _, l := range w.levels {
		if strings.EqualFold(l, typed) {
			return l
		}
	}
	return typed
}

func (s *subjects) title() string {
	return text.Capital(s.joint + ", " + s.procedure)
}

// of are the words of a field.
func (s *subjects) of(field string) *wordsOf {
	return s.words[slices.Index(s.fields, field)]
}

func (s *subjects) revised() int64 {
	var n int64
	for _, c := range s.cause {
		if c == cohort.CauseRevision {
			n++
		}
	}
	return n
}

// shared counts the patients, the joints of those who have several, and the
// patients whose joints are in different groups.
func (s *subjects) shared(p *Part) {
	type person struct {
		joints  int64
		group   uint16
		differ  bool
		revised bool
	}
	people := make(map[int32]person)
	for i, who := range s.patient {
		x, group := people[who], s.words[0].code[i]
		if x.joints == 0 {
			x.group = group
		}
		x.joints++
		x.differ = x.differ || x.group != group
		x.revised = x.revised || s.cause[i] == cohort.CauseRevision
		people[who] = x
	}
	p.Patients = int64(len(people))
	for _, x := range people {
		if x.joints > 1 {
			p.Bilateral += x.joints
		}
		if x.differ {
			p.Shared++
		}
		if x.revised {
			p.RevisedPatients++
		}
	}
}

// collect takes every joint's follow-up and words, by joint and procedure.
func collect(c Source, k *Contrast) ([]*subjects, error) {
	fields := []string{k.Between}
	add := func(more ...string) {
		for _, f := range more {
			if f != age && !slices.Contains(fields, f) && c.Groupable(f) {
				fields = append(fields, f)
			}
		}
	}
	add(k.Within...)
	add(k.Adjust...)
	add(cohort.CaseMix()...)
	numbers := make([]map[string]uint16, len(fields))
	levels := make([][]string, len(fields))
	for i, f := range fields {
		words, err := c.Values(f)
		if err != nil {
			return nil, err
		}
		levels[i], numbers[i] = words, make(map[string]uint16, len(words))
		for n, w := range words {
			numbers[i][w] = uint16(n)
		}
	}
	joints, err := c.Joints(k.Endpoint, append([]string{"joint", "procedure"}, fields...)...)
	if err != nil {
		return nil, err
	}
	causes := 2
	if len(k.Endpoint.Reasons) > 0 {
		causes = 3
	}
	parts := make(map[[2]string]*subjects)
	for j := range joints {
		s := parts[[2]string(j.Values[:2])]
		if s == nil {
			s = &subjects{joint: j.Values[0], procedure: j.Values[1], causes: causes, patients: j.Patient >= 0 && c.HasColumn("patient"), fields: fields}
			for i, f := range fields {
				s.words = append(s.words, &wordsOf{field: f, levels: levels[i]})
			}
			parts[[2]string{s.joint, s.procedure}] = s
		}
		words := j.Values[2:]
		if words[0] == cohort.NotRecorded {
			s.leftOut++
			continue
		}
		s.days, s.cause = append(s.days, int32(j.Days)), append(s.cause, uint8(j.Cause))
		s.patient, s.age = append(s.patient, int32(j.Patient)), append(s.age, int16(j.Age))
		for i, w := range words {
			s.words[i].code = append(s.words[i].code, numbers[i][w])
		}
	}
	return inOrder(c, parts)
}

// inOrder puts joints and procedures in canonical order, and drops the levels that
// none of them has.
func inOrder(c Source, parts map[[2]string]*subjects) ([]*subjects, error) {
	var all []*subjects
	for _, s := range parts {
		for _, w := range s.words {
			w.drop()
		}
		all = append(all, s)
	}
	names, err := c.Values("joint")
	if err != nil {
		return nil, err
	}
	procedures, err := c.Values("procedure")
	if err != nil {
		return nil, err
	}
	slices.SortFunc(all, func(a, b *subjects) int {
		return cmp.Or(slices.Index(names, a.joint)-slices.Index(names, b.joint), slices.Index(procedures, a.procedure)-slices.Index(procedures, b.procedure))
	})
	return all, nil
}

// drop takes out the levels that no joint has.
func (w *wordsOf) drop() {
	occurs := make([]bool, len(w.levels))
	for _, c := range w.code {
		occurs[c] = true
	}
	number, levels := make([]uint16, len(w.levels)), []string(nil)
	for n, l := range w.levels {
		if number[n] = uint16(len(levels)); occurs[n] {
			levels = append(levels, l)
		}
	}
	w.levels = levels
	for i, c := range w.code {
		w.code[i] = number[c]
	}
}

// strata numbers the strata of the given fields that occur, in the order of their
// words, so that sums over them do not hang on that of rows; one, without fields.
func (s *subjects) strata(fields []string) (of []int32, strata int) {
	of = make([]int32, len(s.days))
	numbers := make(map[string]int32)
	var key []byte
	for i := range of {
		key = key[:0]
		for _, f := range fields {
			c := s.of(f).code[i]
			key = append(key, byte(c>>8), byte(c))
		}
		n, ok := numbers[string(key)]
		if !ok {
			n = int32(len(numbers))
			numbers[string(key)] = n
		}
		of[i] = n
	}
	place := make([]int32, len(numbers))
	for at, key := range slices.Sorted(maps.Keys(numbers)) {
		place[numbers[key]] = int32(at)
	}
	for i, n := range of {
		of[i] = place[n]
	}
	return of, max(1, len(numbers))
}

// tables are the life tables by stratum and group, nil where nobody is; in days.
func (s *subjects) tables(stratum []int32, strata int) [][]*survival.Table {
	groups := len(s.words[0].levels)
	counts := make([]*tally.Counts, strata*groups)
	for i, day := range s.days {
		at := int(stratum[i])*groups + int(s.words[0].code[i])
		if counts[at] == nil {
			counts[at] = tally.New(s.causes)
		}
		counts[at].Add(day, int(s.cause[i]))
	}
	tables := make([][]*survival.Table, strata)
	for t := range tables {
		tables[t] = make([]*survival.Table, groups)
		for g := range groups {
			if k := counts[t*groups+g]; k != nil {
				tables[t][g] = k.Table()
			}
		}
	}
	return tables
}
