package plan

import (
	"errors"
	"fmt"
	"sort"
)

// ErrNever: true revision is not below the bound, so that no number of joints
// shows that it is.
var ErrNever = errors.New("plan: no number of joints shows that revision is at most a bound which it is not below")

// FewestWith is the least number of joints, all followed, of which revised are
// revised, that shows revision to be at most the bound: whose upper limit of
// Clopper and Pearson is not above it. With none revised, a bound of 5 % and level
// .95 it is 72.
func FewestWith(revised int, bound, level float64) int {
	least := revised + 1
	return least + sort.Search(1<<40, func(more int) bool { return upTo(revised, least+more, bound) <= (1-level)/2 })
}

// JointsNeeded is the least number of joints all followed such that, if truth is
// the true revision, that number and every larger one shows with the probability
// power that revision is at most the bound: a number alone may do better by luck
// of whole counts than one more joint. Errors: [ErrNever], or numbers that are no
// probabilities.
//
// For a bound of 5 %, power .8 and level .95: truth 1 % 173, 2 % 338, 3 % 851, 4 % 3594.
func JointsNeeded(truth, bound, power, level float64) (int, error) {
	for _, p := range []float64{truth, bound, power, level} {
		if !(p > 0 && p < 1) {
			return 0, fmt.Errorf("plan: %v is not between 0 and 1", p)
		}
	}
	if truth >= bound {
		return 0, ErrNever
	}
	// With k revised allowed from n_k joints on, the chance falls until n_{k+1} allows
	// one more. It holds from n_k on if it does at the end of this and every later run.
	needed, held := 0, 0
	next := FewestWith(0, bound, level)
	for k := 0; held < 2*k/3+30; k++ {
		n := next
		next = FewestWith(k+1, bound, level)
		if upTo(k, next-1, truth) < power {
			held = 0
			continue
		}
		if held == 0 {
			needed = n
		}
		held++
		if n > mostJoints {
			return 0, fmt.Errorf("plan: more than %d joints", mostJoints)
		}
	}
	return needed, nil
}

// mostJoints is more than any practice or register will ever have.
const mostJoints = 100_000_000
