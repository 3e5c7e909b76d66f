package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
)

// checkList is a list of a check that is not of rows to do something about.
type checkList struct {
	name  string
	write func(k *checking, effects []cohort.Effect) error
}

var checkLists = []checkList{
	{"effects", func(k *checking, effects []cohort.Effect) error { k.checkEffects(effects); return nil }},
	{"headings", func(k *checking, _ []cohort.Effect) error {
		for i := range k.c.Files {
			k.checkHeadings(k.c, i)
		}
		return nil
	}},
	{"completeness", func(k *checking, _ []cohort.Effect) error { k.checkYears(k.c); return nil }},
	{"follow-up", func(k *checking, _ []cohort.Effect) error { k.checkFollowUp(k.c.LostAfter(), k.followUp); return nil }},
	{"names", func(k *checking, _ []cohort.Effect) error { k.nameQuestions(k.c); return nil }},
	{"words", func(k *checking, _ []cohort.Effect) error {
		k.unknownWords(k.c)
		k.checkWords(k.c)
		return nil
	}},
}

func otherLists() []string {
	var names []string
	for _, l := range checkLists {
		names = append(names, l.name)
	}
	return names
}

// CheckLists are the names by which lists of a check can be asked for.
func CheckLists() []string {
	var names []string
	for _, in := range instructions {
		names = append(names, in.list)
	}
	return slices.Concat(names, []string{"unseen", "no-bearing", "no-fixation"}, otherLists())
}

// oneList writes one list alone. Its name is one of [CheckLists].
func (k *checking) oneList(effects []cohort.Effect) error {
	for _, t := range k.tasks {
		if t.list == k.o.List {
			t.nothing = false // all rows are wanted
			k.task(k.c, t, math.MaxInt)
			return nil
		}
	}
	for _, l := range checkLists {
		if l.name == k.o.List {
			if err := l.write(k, effects); err != nil || len(k.Blocks) > 0 {
				return err
			}
		}
	}
	if !slices.Contains(CheckLists(), k.o.List) {
		return fmt.Errorf("there is no list %q; there are: %s", k.o.List, strings.Join(CheckLists(), ", "))
	}
	k.paragraph("There is nothing of that kind.")
	return nil
}
