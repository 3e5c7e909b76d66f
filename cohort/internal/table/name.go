package table

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"example.org/holdfast/cohort/internal/column"
	"example.org/holdfast/cohort/internal/words"
)

// namesakes tells the people, or the hospitals, of one column apart by their
// names: one key is one of them, unless titles say two sexes. A title that says
// none is then neither's, but a third.
type namesakes map[string]map[string]bool // the sexes by key

func (k namesakes) add(n words.Name) {
	if k[n.Key] == nil {
		k[n.Key] = make(map[string]bool)
	}
	if n.Sex != "" {
		k[n.Key][n.Sex] = true
	}
}

// of is the name that all who are one have.
func (k namesakes) of(n words.Name) words.Name {
	if len(k[n.Key]) < 2 {
		n.Sex = ""
	}
	return n
}

// FoldNames gives the names of surgeons and hospitals that differ in case,
// punctuation and titles only the commonest of their spellings, of two the first
// in the alphabet, or the one that the settings give.
func (t *Text) FoldNames() {
	for _, v := range t.names {
		shown := v.oneSpelling(v.explainedAlike())
		for i := range v.Words {
			v.Words[i].Value = shown(v.Words[i].Value)
		}
		for _, f := range t.Extra {
			if f.Name != v.Column {
				continue
			}
			for i, value := range f.Values[1:] {
				f.Values[i+1] = shown(value)
			}
		}
	}
}

// names gives the vocabularies of names.
func (t *Text) names(yield func(int, *Vocabulary) bool) {
	for i, v := range t.Words {
		if column.IsOf(v.Column, column.Names) && !yield(i, v) {
			return
		}
	}
}

// named gives the words of a column that are names, with what they say.
func (v *Vocabulary) named(yield func(*Word, words.Name) bool) {
	for i := range v.Words {
		w := &v.Words[i]
		if i == 0 || w.FreeText() {
			continue
		}
		if n := words.ReadName(w.Typed); n.Key != "" && !yield(w, n) {
			return
		}
	}
}

// explainedAlike says what each value becomes by the settings, which explain a
// name in all its spellings.
func (v *Vocabulary) explainedAlike() func(value string) string {
	people := make(namesakes)
	for _, n := range v.named {
		people.add(n)
	}
	for typed := range v.explains {
		people.add(words.ReadName(typed))
	}
	meant := make(map[words.Name][]string)
	for typed, as := range v.explains {
		one := people.of(words.ReadName(typed))
		if as = words.Clean(as); !slices.Contains(meant[one], as) {
			meant[one] = append(meant[one], as)
		}
	}
	becomes := make(map[string]string)
	for w, n := range v.named {
		if as := meant[people.of(n)]; !w.BySettings && len(as) == 1 {
			becomes[w.Value] = v.explained(as[0])
		}
	}
	for _, as := range v.explains {
		as = words.Clean(as)
		if last := v.explained(as); last != as {
			becomes[as] = last
		}
	}
	return func(value string) string {
		if as, ok := becomes[value]; ok {
			return as
		}
		return value
	}
}

// explained is what a name comes to that one is explained as: it may be explained itself, and so on,
// unless they go round in a circle.
func (v *Vocabulary) explained(name string) string {
	next := make(map[string]string)
	for typed, as := range v.explains {
		if typed, as = words.Clean(typed), words.Clean(as); typed != as {
			next[typed] = as
		}
	}
	last := name
	for range len(next) + 1 {
		as, ok := next[last]
		if !ok {
			return last
		}
		last = as
	}
	return name
}

// oneSpelling says under which spelling each value is shown, once explained.
func (v *Vocabulary) oneSpelling(explained func(value string) string) func(value string) string {
	rows := make(map[string]int) // by spelling
	people := make(namesakes)
	for w := range v.named {
		value := explained(w.Value)
		rows[value] += w.Rows
		people.add(words.ReadName(value))
	}
	settled := make(map[string]bool)
	for _, as := range v.explains {
		settled[words.Clean(as)] = true
	}
	before := func(a, b string) bool {
		if settled[a] != settled[b] {
			return settled[a]
		}
		return cmp.Or(-cmp.Compare(rows[a], rows[b]), cmp.Compare(a, b)) < 0
	}
	shown := make(map[words.Name]string)
	for value := range rows {
		one := people.of(words.ReadName(value))
		if best, ok := shown[one]; !ok || before(value, best) {
			shown[one] = value
		}
	}
	return func(value string) string {
		value = explained(value)
		n := words.ReadName(value)
		if best, ok := shown[people.of(n)]; ok && n.Key != "" {
			return best
		}
		return value
	}
}

// NameQuestion asks whether a name of a surgeon or hospital is another one that
// tells more of it.
type NameQuestion struct {
	Column string
	Name   string // as it is shown
	Rows   int
	MayBe  []Word // the names it may be, the commonest first; Typed and Value are alike

	// Contested says that one of those may also be somebody else's, who can't be
	// the same person: J Linden, where there are Mr Linden and Miss Linden.
	Contested bool
}

// mostNamesakes is how many names may share a word that still tells something:
// more share one such as "hospital".
const mostNamesakes = 500

// NameQuestions lists the names that may be one, by column and name.
func (t *Text) NameQuestions() []NameQuestion {
	var all []NameQuestion
	for _, v := range t.names {
		all = append(all, v.questions()...)
	}
	return all
}

// shownName is a name with what its words say together.
type shownName struct {
	words.Name
	value   string
	rows    int
	settled bool // the settings say that it stands for itself
}

// less says whether a name tells less than another.
func (n *shownName) less(o *shownName) bool {
	if n.Name.Fuller(o.Name) != o.Name.Fuller(n.Name) {
		return o.Name.Fuller(n.Name)
	}
	if (n.Sex == "") != (o.Sex == "") {
		return n.Sex == ""
	}
	return cmp.Or(cmp.Compare(n.rows, o.rows), cmp.Compare(n.value, o.value)) < 0
}

// shownNames are the names of a column as they are shown.
func (v *Vocabulary) shownNames() []*shownName {
	byValue := make(map[string]*shownName)
	for w := range v.named {
		if w.Rows == 0 {
			continue
		}
		n := byValue[w.Value]
		if n == nil {
			n = &shownName{Name: words.ReadName(w.Value), value: w.Value}
			byValue[w.Value] = n
			for typed, as := range v.explains {
				n.settled = n.settled || words.Clean(as) == w.Value && words.ReadName(typed).Key == n.Key
			}
		}
		n.rows += w.Rows
	}
	var all []*shownName
	for _, n := range byValue {
		all = append(all, n)
	}
	slices.SortFunc(all, func(a, b *shownName) int { return cmp.Compare(a.value, b.value) })
	return all
}

func (v *Vocabulary) questions() []NameQuestion {
	names := v.shownNames()
	sharing := make(map[string][]*shownName)
	for _, n := range names {
		for w := range strings.FieldsSeq(n.Key) {
			if utf8.RuneCountInString(w) >= 3 {
				sharing[w] = append(sharing[w], n)
			}
		}
	}
	var all []NameQuestion
	claims := make(map[string][]*shownName) // by the name that they may be
	for _, n := range names {
		if n.settled {
			continue
		}
		q := NameQuestion{Column: v.Column, Name: n.value, Rows: n.rows}
		for w := range strings.FieldsSeq(n.Key) {
			if len(sharing[w]) > mostNamesakes {
				continue
			}
			for _, o := range sharing[w] {
				if o != n && n.less(o) && n.MayBe(o.Name) && !slices.ContainsFunc(q.MayBe, func(w Word) bool { return w.Value == o.value }) {
					q.MayBe = append(q.MayBe, Word{Typed: o.value, Value: o.value, Known: true, Rows: o.rows})
					claims[o.value] = append(claims[o.value], n)
				}
			}
		}
		if len(q.MayBe) > 0 {
			slices.SortStableFunc(q.MayBe, func(a, b Word) int {
				return cmp.Or(-cmp.Compare(a.Rows, b.Rows), cmp.Compare(a.Value, b.Value))
			})
			all = append(all, q)
		}
	}
	for i := range all {
		for _, w := range all[i].MayBe {
			of := words.ReadName(all[i].Name)
			all[i].Contested = all[i].Contested || slices.ContainsFunc(claims[w.Value], func(n *shownName) bool { return n.value != all[i].Name && !n.MayBe(of) })
		}
	}
	return all
}

// NamesAsked are the names of a column that one asked for may stand for: the
// one that is written so, but for case, else those that are compared as equal.
func (t *Text) NamesAsked(name, wanted string) []string {
	var all []string
	asked := words.ReadName(wanted)
	for _, v := range t.names {
		if v.Column != name {
			continue
		}
		for w, n := range v.named {
			switch {
			case strings.EqualFold(w.Value, wanted):
				return []string{w.Value}
			case n.Key == asked.Key && (n.Sex == asked.Sex || n.Sex == "" || asked.Sex == "") && !slices.Contains(all, w.Value):
				all = append(all, w.Value)
			}
		}
	}
	return all
}
