package cohort

import (
	"cmp"
	"slices"
)

// TallyFormat is the Format of a file that is counts without rows (package exchange): it
// has no headings.
const TallyFormat = "a tally"

// About is what is known of tables as wholes, beside their joints.
type About struct {
	Files     []File
	Closing   Closing
	Scope     []Condition // the conditions rows have to meet, in canonical words
	Assumed   []Condition // values assumed for columns the tables lack
	Account   Account
	Deaths    Deaths
	DeathList DeathList
	Revisions []ReasonCount // what became of the rows of tables of revisions
	LostAfter int           // days
	AgeBands  []AgeBand
	Notes     []string // what else is to be said of them
	Coarsened string   // of tallies that tell days less finely, what that could have done; else ""
	Sites     []Site   // of pooled tallies, the account of each; nil of tables
}

// Site is what one of several pooled tallies says of its tables.
type Site struct {
	Name    string
	Tables  int
	Account Account
	Deaths  Deaths
}

// About is what is known of the cohort's tables as wholes.
func (c *Cohort) About() About {
	return About{
		Files: c.Files, Closing: c.Closing, Scope: c.Scope, Assumed: c.Assumed, Account: c.Account(), Deaths: c.Deaths(),
		DeathList: c.DeathList(), Revisions: c.Outcomes(), LostAfter: c.LostAfter(), AgeBands: c.AgeBands(),
	}
}

// Add is the account of the rows of two sets of tables together, of which no row
// belongs to one of the other.
func (a Account) Add(o Account) Account {
	a.InFiles += o.InFiles
	a.Read += o.Read
	a.Used += o.Used
	a.SetAside += o.SetAside
	a.Reasons = addReasons(a.Reasons, o.Reasons)
	a.Warnings = addReasons(a.Warnings, o.Warnings)
	a.RevisedUndated += o.RevisedUndated
	a.Lost += o.Lost
	a.Assumed += o.Assumed
	a.Known += o.Known
	a.NoRevisions = a.NoRevisions && o.NoRevisions
	a.RepeatsElsewhere += o.RepeatsElsewhere
	a.PossibleRevisions += o.PossibleRevisions
	a.Unjoined = addReasons(a.Unjoined, o.Unjoined)
	a.UnjoinedJoints += o.UnjoinedJoints
	a.UnjoinedOfWhole += o.UnjoinedOfWhole
	return a
}

// addReasons adds up counts, in the order of the reasons.
func addReasons(a, b []ReasonCount) []ReasonCount {
	sum := slices.Clone(a)
	for _, r := range b {
		if i := slices.IndexFunc(sum, func(s ReasonCount) bool { return s.Reason == r.Reason }); i >= 0 {
			sum[i].Rows += r.Rows
		} else {
			sum = append(sum, r)
		}
	}
	slices.SortFunc(sum, func(x, y ReasonCount) int { return cmp.Compare(x.Reason, y.Reason) })
	return sum
}

// Add is the deaths of the rows of two sets of tables together.
func (d Deaths) Add(o Deaths) Deaths {
	d.Without = slices.Concat(d.Without, o.Without)
	d.Column = d.Column && o.Column
	d.Used += o.Used
	d.Expected += o.Expected
	if d.Used > 0 {
		d.Expected = 0
	}
	d.Recorded = d.recorded()
	return d
}

// Add is the lists of deaths of two sets of tables together.
func (d DeathList) Add(o DeathList) DeathList {
	d.add(o)
	if o.CompleteTo != nil && (d.CompleteTo == nil || *o.CompleteTo < *d.CompleteTo) {
		d.CompleteTo = o.CompleteTo
	}
	return d
}
