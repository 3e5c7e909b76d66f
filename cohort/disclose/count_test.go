package disclose

import "testing"

// What is told of a count, by hand: 0 is 0, 1 to 7 are 5, others the nearest 5.
func TestRounded(t *testing.T) {
	for n := range int64(1000) {
		want := Count{5*((n+2)/5) - 2, 5*((n+2)/5) + 2}
		switch {
		case n == 0:
			want = Count{}
		case n < 8:
			want = Count{1, 7}
		}
		c := rounded(n)
		if c != want || n < c.least || n > c.most {
			t.Errorf("%d: %+v, want %+v", n, c, want)
		}
		if s := c.Shown(); n > 0 && (s%5 != 0 || rounded(s) != c) {
			t.Errorf("%d is shown as %d", n, s)
		}
	}
}

// What the numbers told give away, by hand.
func TestNarrow(t *testing.T) {
	for _, test := range []struct {
		name   string
		parts  []int64
		narrow bool
	}{
		{"two of one", []int64{1, 1}, false},
		{"seven of one: each is one, since all are 7 at most", []int64{1, 1, 1, 1, 1, 1, 1}, true},
		{"four eights are 30, and none is small", []int64{8, 8, 8, 8}, false},
		{"18 is 20, less 10 that is 12 at most", []int64{12, 6}, false},
		{"18 and 12 are 20 and 10, and 1 is what is left of them", []int64{12, 12, 1}, false},
		{"17 at most, less twice 8", []int64{8, 8, 1}, true},
	} {
		s := new(system)
		total := int64(0)
		for _, n := range test.parts {
			total += n
		}
		sum := []int{s.tell(total, rounded(total))}
		for i, n := range test.parts {
			sum = append(sum, s.tell(n, rounded(n)))
			s.hold(i, sum[i+1], -1)
		}
		s.sums = append(s.sums, sum)
		if _, narrow := s.narrow(); narrow != test.narrow {
			t.Errorf("%s: narrow %v, want %v", test.name, narrow, test.narrow)
		}
	}
}
