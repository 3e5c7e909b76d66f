package command

import "testing"

// The lines are those of /proc/meminfo as the manual of Linux (proc_meminfo(5)) has them.
func TestAvailable(t *testing.T) {
	for _, test := range []struct {
		name, text string
		want       int64
		ok         bool
	}{
		{"as it is", "MemTotal:       24602328 kB\nMemFree:          718652 kB\nMemAvailable:   20011532 kB\nBuffers:          184 kB\n", 20011532 * 1024, true},
		{"an old kernel", "MemTotal:       24602328 kB\nMemFree:          718652 kB\n", 0, false},
		{"no number", "MemAvailable:   some kB\n", 0, false},
		{"nothing", "", 0, false},
	} {
		if got, ok := available(test.text); got != test.want || ok != test.ok {
			t.Errorf("%s: %d, %t", test.name, got, ok)
		}
	}
}
