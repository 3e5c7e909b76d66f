package main

// smallest is the number of joints below which a group is not published.
const smallest = 1000

// level is a set of attributes a figure states besides joint and procedure.
type level struct{ bearing, fixation, age, sex bool }

// levels are published one after the other, widest first.
var levels = []level{
	{},
	{bearing: true},
	{fixation: true},
	{age: true},
	{sex: true},
	{bearing: true, fixation: true},
	{bearing: true, age: true},
	{fixation: true, age: true},
	{bearing: true, fixation: true, age: true},
}

// invent makes the cells and sums them to the published groups, by joint and
// procedure, then by level, then in the order of the model's tables.
func invent() []group {
	cells := population()
	var out []group
	type procedure struct{ joint, procedure string }
	done := map[procedure]bool{}
	for _, first := range cells {
		p := procedure{first.joint, first.procedure}
		if done[p] {
			continue
		}
		done[p] = true
		for _, l := range levels {
			at := map[group]int{}
			var groups []group
			for _, c := range cells {
				if c.joint != p.joint || c.procedure != p.procedure || l.bearing && c.bearing == "" {
					continue
				}
				key := group{joint: c.joint, procedure: c.procedure}
				if l.bearing {
					key.bearing = c.bearing
				}
				if l.fixation {
					key.fixation = c.fixation
				}
				if l.age {
					key.ageBand = c.ageBand
				}
				if l.sex {
					key.sex = c.sex
				}
				i, ok := at[key]
				if !ok {
					i = len(groups)
					at[key] = i
					groups = append(groups, key)
				}
				groups[i].add(c)
			}
			for _, g := range groups {
				if g.joints >= smallest {
					out = append(out, g)
				}
			}
		}
	}
	return out
}

// population is every cell of every design that holds joints.
func population() []cell {
	var out []cell
	for _, d := range designs {
		for _, fixation := range []string{"cemented", "porous", "hybrid", "reverse hybrid"} {
			for age := range ageBands {
				for sex := range sexes {
					share := d.male
					if sex == 0 {
						share = 100 - d.male
					}
					// Whole numbers, so that no machine rounds otherwise.
					n := (d.joints*d.ages[age]*d.fixations[age][fixation]*share + 500_000) / 1_000_000
					if n > 0 {
						out = append(out, follow(d, fixation, age, sex, n))
					}
				}
			}
		}
	}
	return out
}
