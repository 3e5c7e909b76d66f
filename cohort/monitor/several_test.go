package monitor

import (
	"math"
	"strings"
	"testing"
)

// Three practices of the same joints share the chance: each has 1 − 0.95^(1/3), and
// all of them together no more than 0.05.
func TestSeveral(t *testing.T) {
	practices := [][]Joint{random(1, 150), random(2, 900), random(3, 40), nil}
	together, err := Several(practices, three, Options{Through: 15500})
	if err != nil {
		t.Fatal(err)
	}
	if len(together.Charts) != 4 || !(together.Chance > 0 && together.Chance <= .05) {
		t.Fatalf("%d charts, chance %v", len(together.Charts), together.Chance)
	}
	none := 1.0
	for i, c := range together.Charts {
		share := 1 - math.Pow(.95, .25)
		if c.Chance > share || c.Through != 15500 {
			t.Errorf("practice %d: chance %v, want at most %v; through %d", i, c.Chance, share, c.Through)
		}
		none *= 1 - c.Chance
		if len(practices[i]) == 0 {
			continue
		}
		alone, err := New(practices[i], three, Options{Through: 15500})
		if err != nil {
			t.Fatal(err)
		}
		if c.All != alone.All || c.From != alone.From || c.Limit < alone.Limit {
			t.Errorf("practice %d: %+v from %d with the line at %v; by itself %+v from %d at %v", i, c.All, c.From, c.Limit, alone.All, alone.From, alone.Limit)
		}
	}
	if !near(together.Chance, 1-none, 1e-12) {
		t.Errorf("chance %v, want %v", together.Chance, 1-none)
	}

	// One error of the hazards, common to all: chances that are no longer independent
	// add up to less.
	doubtful, err := Several(practices, three, Options{Through: 15500, Error: .2})
	if err != nil {
		t.Fatal(err)
	}
	none = 1
	for i, c := range doubtful.Charts {
		none *= 1 - c.Chance
		if c.Limit < together.Charts[i].Limit {
			t.Errorf("practice %d: the line at %v, without an error at %v", i, c.Limit, together.Charts[i].Limit)
		}
	}
	if !(doubtful.Chance > .005 && doubtful.Chance < 1-none) {
		t.Errorf("chance %v, if they were independent %v", doubtful.Chance, 1-none)
	}

	one, err := Several(practices[1:2], three, Options{Through: 15500})
	if err != nil {
		t.Fatal(err)
	}
	if alone, _ := New(practices[1], three, Options{Through: 15500}); one.Charts[0].Limit != alone.Limit || !near(one.Chance, alone.Chance, 1e-12) {
		t.Errorf("one of one: %v at %v, by itself %v at %v", one.Chance, one.Charts[0].Limit, alone.Chance, alone.Limit)
	}
}

func TestSeveralErrors(t *testing.T) {
	bad := ten()
	bad[2].Exit = 0
	for want, f := range map[string]func() error{
		"laid down for several": func() error { _, err := Several([][]Joint{ten()}, three, Options{Planned: 3}); return err },
		"no joint":              func() error { _, err := Several(nil, three, Options{}); return err },
		"no joint to watch":     func() error { _, err := Several([][]Joint{nil, nil}, three, Options{}); return err },
		"row 4":                 func() error { _, err := Several([][]Joint{ten(), bad}, three, Options{}); return err },
		"never falls": func() error {
			_, err := Several([][]Joint{ten()}, []Hazard{{At: func(days int) float64 { return -float64(days) }}}, Options{})
			return err
		},
	} {
		if err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}
