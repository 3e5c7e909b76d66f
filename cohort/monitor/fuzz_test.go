package monitor

import (
	"encoding/binary"
	"math"
	"testing"
)

// FuzzNew: whatever joints and options, there is an error or a chart whose numbers
// agree with one another; never a panic.
func FuzzNew(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz"), 2., .05, int32(0), int32(0), int32(0), 0., 0.)
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz"), .5, .2, int32(12500), int32(30000), int32(-1), 3., .3)
	f.Fuzz(func(t *testing.T, data []byte, ratio, chance float64, from, through, notice int32, planned, relative float64) {
		if ratio > 0 && math.Abs(math.Log(ratio)) < .05 || chance > 0 && chance < 1e-6 || planned > 50 || len(data) > 600 {
			return // right, but slow
		}
		var joints []Joint
		for ; len(data) >= 6; data = data[6:] {
			operation := int32(binary.LittleEndian.Uint16(data))
			joints = append(joints, Joint{
				Row: len(joints), Operation: operation, Exit: operation + int32(binary.LittleEndian.Uint16(data[2:]))/8 - 3,
				Revised: data[4]%3 == 0, Hazard: int(data[5] % 3),
			})
		}
		c, err := New(joints, three, Options{Ratio: ratio, Chance: chance, From: from, Through: through, Notice: notice, Planned: planned, Error: relative})
		if err != nil {
			if c != nil {
				t.Errorf("both a chart and %v", err)
			}
			return
		}
		last := c.Points[len(c.Points)-1]
		if c.From > c.Through || last.Day != c.Through || last.Observed != c.All.Observed || last.Expected != c.All.Expected ||
			!(c.Chance >= 0 && c.Chance <= 1) || c.Known.Observed > c.All.Observed || c.Known.Expected > c.All.Expected || c.All.Observed > c.Joints {
			t.Errorf("%+v", c)
		}
		if len(c.Said()) == 0 || len(c.Rows()) != len(c.Points) {
			t.Error("nothing said, or rows lost")
		}
	})
}
