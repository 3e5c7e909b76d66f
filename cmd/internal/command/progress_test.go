package command

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"example.org/holdfast/cohort"
)

// On a terminal a long reading tells rows, rate and the time left, not too often, and
// leaves nothing; elsewhere it tells nothing.
func TestProgressIsTold(t *testing.T) {
	var screen bytes.Buffer
	clock := time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC)
	p := &progress{w: &screen, now: func() time.Time { return clock }, started: clock}
	for _, step := range []struct {
		after time.Duration
		at    cohort.Progress
		want  string
	}{
		{900 * time.Millisecond, cohort.Progress{Rows: 90_000, Read: 9, Total: 100}, ""}, // quick work tells nothing
		{1100 * time.Millisecond, cohort.Progress{Rows: 200_000, Read: 20, Total: 100}, "reading: 200000 rows, 100000 a second, about 8s left"},
		{100 * time.Millisecond, cohort.Progress{Rows: 210_000, Read: 21, Total: 100}, ""}, // too soon
		{1900 * time.Millisecond, cohort.Progress{Rows: 400_000, Read: 40, Total: 0}, "reading: 400000 rows, 100000 a second"},
		{6 * time.Second, cohort.Progress{Rows: 1_000_000, Read: 110, Total: 100}, "reading: 1000000 rows, 100000 a second, about 0s left"},
	} {
		clock = clock.Add(step.after)
		screen.Reset()
		p.report(step.at)
		if got := strings.TrimPrefix(screen.String(), "\r\x1b[K"); got != step.want {
			t.Errorf("after %s: %q, want %q", step.after, got, step.want)
		}
	}
	screen.Reset()
	p.clear()
	if screen.String() != "\r\x1b[K" {
		t.Errorf("left: %q", screen.String())
	}
	piped := (&app{stderr: &screen}).progress()
	piped.started = piped.started.Add(-time.Hour)
	screen.Reset()
	piped.report(cohort.Progress{Rows: 1, Read: 1, Total: 2})
	if piped.clear(); screen.Len() > 0 {
		t.Errorf("told where there is no terminal: %q", screen.String())
	}
}
