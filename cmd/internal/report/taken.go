package report

import (
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cohort"
)

// taken says what was taken as read, and is not asked about.
func (k *checking) taken() []string {
	all := slices.Concat(k.takenFiles(), k.takenHeadings(), k.takenWords())
	c := k.Cohort
	for _, s := range []string{sheetsNotRead(c.Files), takenSeveral(c), takenZeros(c), takenDeaths(c), takenRevisions(c), takenDeathList(c)} {
		if s != "" {
			all = append(all, s)
		}
	}
	if len(c.Assumed) > 0 {
		all = append(all, "Assumed of every row that does not say otherwise: "+conditions(c.Assumed)+".")
	}
	var right []string
	for _, r := range c.Account().Reasons {
		if gather.AsTheyAre(r.Reason) {
			right = append(right, fmt.Sprintf("%s (%s)", r.Reason, few(r.Rows, "row", "rows")))
		}
	}
	if len(right) > 0 {
		all = append(all, "Set aside, rightly if it is so: "+list(right)+": --list as-they-are.")
	}
	return all
}

// takenFiles says how the files were read.
func (k *checking) takenFiles() []string {
	var all []string
	for _, f := range k.Cohort.Files {
		s := f.Title() + ": " + f.Format
		if len(k.Cohort.Files) > 1 {
			s += ", " + few(f.Rows, "row", "rows")
		}
		if f.Holds == "revisions" || f.Holds == "deaths" {
			s += " of " + f.Holds
		}
		if f.HeadingRow > 1 {
			s += fmt.Sprintf(", headings in row %d", f.HeadingRow)
		}
		s += "."
		for _, n := range f.Notes {
			if n != fmt.Sprintf("sheet %q", f.Sheet) {
				s += " " + capital(n) + "."
			}
		}
		if d := dateOrders(f); d != "" {
			s += " " + capital(d) + "."
		}
		all = append(all, s)
	}
	return all
}

// takenHeadings says which headings were taken for a column of another name, and
// which are kept as the user's own.
func (k *checking) takenHeadings() []string {
	var variants, own, left []string
	meant := make(map[string]bool)
	for _, m := range mayStandFor(k.Cohort) {
		meant[m.heading] = true
	}
	seen := make(map[string]bool)
	for _, f := range k.Cohort.Files {
		for _, h := range f.Headings {
			said := typed(heading(h))
			if seen[said+h.Column] || h.Typed == "" {
				continue
			}
			seen[said+h.Column] = true
			switch {
			case h.How == cohort.ByVariant:
				variants = append(variants, said+" as "+label(h.Column))
			case h.How == cohort.Unmatched && h.Typed != HeadingNotShown && !meant[h.Typed]:
				own = append(own, said)
			case h.How == cohort.LeftOut || h.How == cohort.OtherHeading:
				left = append(left, said)
			}
		}
	}
	var all []string
	if len(variants) > 0 {
		all = append(all, "Headings: "+list(variants)+".")
	}
	if len(own) > 0 {
		all = append(all, "Kept under "+one(own, "its own name", "their own names")+", and not used unless asked for: "+several(own)+".")
	}
	if len(left) > 0 {
		all = append(all, "Not used: "+several(left)+".")
	}
	return all
}

// one chooses between two texts by how many there are.
func one[T any](items []T, single, many string) string {
	if len(items) == 1 {
		return single
	}
	return many
}

// takenWords says how many spellings were understood, by column.
func (k *checking) takenWords() []string {
	var all []string
	for _, column := range k.Cohort.Words() {
		values := make(map[string]bool)
		spelt, rows := 0, 0
		for _, w := range column.Words {
			if w.Known {
				spelt++
				rows += w.Rows
				values[w.Taken()] = true
			}
		}
		if spelt > len(values) {
			spelt, words := count(spelt), count(len(values))
			if len(all) == 0 {
				spelt, words = spelt+" spellings", few(len(values), "word", "words")
			}
			all = append(all, fmt.Sprintf("%s of %s as %s", spelt, label(column.Column), words))
		}
	}
	if len(all) == 0 {
		return nil
	}
	return []string{"Typed in different ways and taken for the same: " + strings.Join(all, ", ") + ": --list words."}
}

// takenSeveral says that patients of several tables were taken for the same people.
func takenSeveral(c *cohort.Cohort) string {
	s := c.InSeveralTables()
	if s.Patients == 0 || s.Doubtful() {
		return ""
	}
	return fmt.Sprintf("%s in more than one table, each taken for one person’s: if each table numbers its own, patients_by_table = true.",
		few(s.Patients, "patient’s number stands", "patients’ numbers stand"))
}

// takenZeros says that identifiers were taken for the same but for leading zeros.
func takenZeros(c *cohort.Cohort) string {
	n := c.ZerosIgnored()
	if n == 0 {
		return ""
	}
	return few(n, "patient’s number is", "patients’ numbers are") + " written with and without leading zeros, and taken for one person’s: birth date, year of birth and sex, or an operation agrees."
}

func takenDeaths(c *cohort.Cohort) string {
	if d := c.Deaths(); d.Recorded {
		return fmt.Sprintf("Deaths are recorded: %s.", few(d.Used, "row", "rows"))
	}
	return ""
}

// takenRevisions says what became of the revisions recorded in rows of their
// own; nothing if there is none.
func takenRevisions(c *cohort.Cohort) string {
	joined, later, unjoined := 0, 0, 0
	for _, r := range c.Revisions() {
		switch r.Outcome {
		case cohort.RevisionJoined:
			joined++
		case cohort.RevisionLater:
			later++
		}
	}
	var why []string
	for _, r := range c.Account().Unjoined {
		unjoined += r.Rows
		what := r.Reason.String()
		if r.Reason == cohort.NotPrimary {
			what = "named by the procedure alone, or without a patient"
		}
		why = append(why, fmt.Sprintf("%s (%s)", what, count(r.Rows)))
	}
	if joined+later+unjoined == 0 {
		return ""
	}
	s := fmt.Sprintf("Revisions in rows of their own: %s, of which %s joined to their primaries", count(joined+later+unjoined), count(joined))
	if later > 0 {
		s += fmt.Sprintf(" and %s more of the same joints", count(later))
	}
	if unjoined > 0 {
		s += fmt.Sprintf("; %s not counted: %s", few(unjoined, "is", "are"), strings.Join(why, "; "))
	}
	s += "."
	if more := c.Account().UnjoinedJoints; more > 0 {
		s += fmt.Sprintf(" If each belonged to a joint in use, up to %s more would be revised.", few(more, "joint", "joints"))
	}
	return s
}

func takenDeathList(c *cohort.Cohort) string {
	d := c.DeathList()
	if d.Patients+d.Unusable == 0 {
		return ""
	}
	s := fmt.Sprintf("List of deaths: %s, of whom %s in the table", few(d.Patients, "patient", "patients"), count(d.Joined))
	if d.CompleteTo != nil {
		s += ", complete to " + d.CompleteTo.String()
	}
	if d.Unusable > 0 {
		s += "; " + few(d.Unusable, "row has", "rows have") + " no patient or no possible date"
	}
	if d.Contradicting > 0 {
		s += "; " + few(d.Contradicting, "row gives", "rows give") + " a patient another day, and the earlier is used"
	}
	return s + "."
}
