package report

import (
	"fmt"
	"strings"

	"example.org/holdfast/cohort/benchmark"
)

// references number the published sources in the order in which they are
// first named; where one source has figures of several populations, these have
// letters.
type references struct {
	sources []*source
	byKey   map[[2]string]*source
	marked  bool // a mark was written
	told    bool // and it was said where to look it up
}

type source struct {
	key, citation string
	number        int
	populations   []population
	letters       map[population]int
}

// population is what a figure is of.
type population struct {
	attributes string
	rest       string // what the source covers, its period and number
}

func newReferences() *references { return &references{byKey: make(map[[2]string]*source)} }

// add records a figure's source and population.
func (r *references) add(s *benchmark.Series, f benchmark.Figure) (src *source, letter int) {
	key := [2]string{s.Source, s.Citation}
	src = r.byKey[key]
	if src == nil {
		src = &source{key: s.Source, citation: s.Citation, number: len(r.sources) + 1, letters: make(map[population]int)}
		r.sources = append(r.sources, src)
		r.byKey[key] = src
	}
	what := populationOf(s, f)
	n, ok := src.letters[what]
	if !ok {
		n = len(src.populations)
		src.letters[what] = n
		src.populations = append(src.populations, what)
	}
	return src, n
}

// mark is a figure's reference, such as [2b].
func (r *references) mark(s *benchmark.Series, f benchmark.Figure) string {
	src, n := r.add(s, f)
	r.marked = true
	return fmt.Sprintf("[%d%s]", src.number, letters(n))
}

// explain says under the first table with a mark where the sources stand.
func (r *references) explain(f *footnotes) {
	if r.marked && !r.told {
		r.told = true
		f.sign("[1a]", "see Published sources below")
	}
}

func populationOf(s *benchmark.Series, f benchmark.Figure) population {
	p := population{attributes: attributes(s)}
	if s.Estimand != benchmark.OneMinusKaplanMeier {
		p.attributes += ": " + s.Estimand.String()
	}
	if f.Joints > 0 {
		p.attributes += "; " + few(f.Joints, "joint", "joints")
	}
	var rest []string
	if f.Covers != "" {
		rest = append(rest, f.Covers)
	}
	if when := period(s); when != "" {
		rest = append(rest, "operations "+when)
	}
	p.rest = strings.Join(rest, "; ")
	return p
}

// attributes are those a series states, and the important ones that it pools.
func attributes(s *benchmark.Series) string {
	or := func(word, open string) string {
		if word == "" {
			return open
		}
		return strings.ReplaceAll(word, "|", " or ")
	}
	age := "all ages"
	if a := s.Age.String(); a != "" {
		age = "age " + a
	}
	words := []string{or(s.Joint, "all joints"), or(s.Procedure, "all procedures"), or(s.Bearing, "all bearings"), or(s.Fixation, "all fixations"), age}
	if s.Sex != "" {
		words = append(words, s.Sex)
	}
	return strings.Join(words, ", ")
}

func period(s *benchmark.Series) string {
	switch {
	case s.PeriodFrom == 0 && s.PeriodTo == 0:
		return ""
	case s.PeriodFrom == s.PeriodTo:
		return fmt.Sprint(s.PeriodFrom)
	case s.PeriodFrom == 0:
		return fmt.Sprintf("to %d", s.PeriodTo)
	case s.PeriodTo == 0:
		return fmt.Sprintf("from %d", s.PeriodFrom)
	}
	return fmt.Sprintf("%d–%d", s.PeriodFrom, s.PeriodTo)
}

// references writes the sources with what their figures are of. What all
// figures of a source have in common is said once.
func (p *page) references(r *references) {
	for _, s := range r.sources {
		common := s.populations[0].rest
		for _, what := range s.populations {
			if what.rest != common {
				common = ""
			}
		}
		text := s.key
		if s.citation != "" {
			text += ". " + s.citation
		}
		if common != "" {
			text = strings.TrimSuffix(text, ".") + ". Covers: " + common + "."
		}
		items := []item{{Mark: fmt.Sprintf("[%d]", s.number), Text: text}}
		for i, what := range s.populations {
			text := what.attributes
			if common == "" && what.rest != "" {
				text += "; " + what.rest
			}
			items = append(items, item{Mark: "  " + letters(i), Text: text})
		}
		p.items(items)
	}
}
