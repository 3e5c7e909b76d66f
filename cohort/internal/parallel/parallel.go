// Package parallel runs a function for many numbers on all processors.
package parallel

import (
	"runtime"
	"sync"
	"sync/atomic"
)

// Each runs f for 0 to n−1, in no order.
func Each(n int, f func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers <= 1 {
		for i := range n {
			f(i)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
				f(i)
			}
		})
	}
	wg.Wait()
}
