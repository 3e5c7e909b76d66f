package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/gather"
)

// checkList is a list of a check that is not of rows to do something about.
type checkList struct {
	name  string
	write func(k *checking) error
}

var checkLists = []checkList{
	{"effects", always(func(k *checking) { k.checkEffects(k.Effects) })},
	{"headings", always(func(k *checking) {
		for i := range k.Cohort.Files {
			k.checkHeadings(k.Cohort, i)
		}
	})},
	{"completeness", always(func(k *checking) { k.checkYears(k.Cohort) })},
	{"follow-up", always(func(k *checking) { k.checkFollowUp(k.Cohort.LostAfter(), k.FollowUp) })},
	{"revisions", (*checking).revisions},
	{"names", always(func(k *checking) { k.nameQuestions(k.Cohort) })},
	{"words", always(func(k *checking) {
		k.unknownWords(k.Cohort)
		k.checkWords(k.Cohort)
	})},
}

// always is a list that can be written whatever it holds.
func always(write func(k *checking)) func(k *checking) error {
	return func(k *checking) error {
		write(k)
		return nil
	}
}

func otherLists() []string {
	var names []string
	for _, l := range checkLists {
		names = append(names, l.name)
	}
	return names
}

// CheckLists are the names by which lists of a check can be asked for.
func CheckLists() []string { return append(gather.Lists(), otherLists()...) }

// oneList writes one list alone. Its name is one of [CheckLists].
func (k *checking) oneList() error {
	for _, t := range k.Tasks {
		if t.List == k.o.List {
			t.Nothing = false // all rows are wanted
			k.task(k.Cohort, &t, math.MaxInt)
			return nil
		}
	}
	for _, l := range checkLists {
		if l.name == k.o.List {
			if err := l.write(k); err != nil || len(k.Blocks) > 0 {
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
