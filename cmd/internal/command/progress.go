package command

import (
	"fmt"
	"io"
	"os"
	"time"

	"example.org/holdfast/cohort"
)

// progress tells on a terminal how far a long reading has come.
type progress struct {
	w       io.Writer // nil: nothing is told
	now     func() time.Time
	started time.Time
	shown   time.Time
}

// quick is how long a reading takes before anything is told of it, and between how long
// it is told again.
const (
	quick   = time.Second
	between = 200 * time.Millisecond
)

func (a *app) progress() *progress {
	p := &progress{now: time.Now, started: time.Now()}
	if isTerminal(a.stderr) && os.Getenv("TERM") != "dumb" {
		p.w = a.stderr
	}
	return p
}

// say writes over what was said last.
func (p *progress) say(what string) {
	now := p.now()
	if p.w == nil || now.Sub(p.started) < quick || now.Sub(p.shown) < between {
		return
	}
	p.shown = now
	fmt.Fprint(p.w, "\r\x1b[K"+what)
}

// report tells the rows read, how many a second, and how long the rest will take at the
// rate of the bytes read so far.
func (p *progress) report(r cohort.Progress) {
	took := p.now().Sub(p.started)
	what := fmt.Sprintf("reading: %d rows, %.0f a second", r.Rows, float64(r.Rows)/max(took.Seconds(), 1e-9))
	if r.Total > 0 && r.Read > 0 {
		left := time.Duration(float64(took) * float64(r.Total-min(r.Read, r.Total)) / float64(r.Read))
		what += fmt.Sprintf(", about %s left", left.Round(time.Second))
	}
	p.say(what)
}

func (p *progress) clear() {
	if !p.shown.IsZero() {
		fmt.Fprint(p.w, "\r\x1b[K")
	}
}
