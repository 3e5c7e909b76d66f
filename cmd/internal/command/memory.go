package command

import (
	"math"
	"os"
	"runtime/debug"
	"strconv"
	"strings"
)

// limits of the memory of a group of processes, as Linux tells them.
var groupLimits = []string{"/sys/fs/cgroup/memory.max", "/sys/fs/cgroup/memory/memory.limit_in_bytes"}

// memoryLeft is how many bytes there are for rows: what the environment allows
// (GOMEMLIMIT), the limit of the container, or what the machine has left, whichever
// is least; 0 where none of these is known.
func memoryLeft() int64 {
	least := debug.SetMemoryLimit(-1)
	for _, name := range groupLimits {
		if content, err := os.ReadFile(name); err == nil {
			if n, err := strconv.ParseInt(strings.TrimSpace(string(content)), 10, 64); err == nil {
				least = min(least, n)
			}
		}
	}
	if content, err := os.ReadFile("/proc/meminfo"); err == nil {
		if n, ok := available(string(content)); ok {
			least = min(least, n)
		}
	}
	if least == math.MaxInt64 {
		return 0
	}
	return least
}

// available is what a Linux machine has left, in bytes.
func available(meminfo string) (int64, bool) {
	for line := range strings.Lines(meminfo) {
		if of, ok := strings.CutPrefix(line, "MemAvailable:"); ok {
			n, err := strconv.ParseInt(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(of), "kB")), 10, 64)
			return n * 1024, err == nil
		}
	}
	return 0, false
}
