package contrast

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/gonum/mathext"

	"example.org/holdfast/cohort"
	"example.org/holdfast/survival"
)

func normalQuantile(p float64) float64 { return mathext.NormalQuantile(p) }

// OfSeries is a p value in words: in how many of such series chance alone would
// divide the revisions as unevenly.
func OfSeries(p float64) string {
	for _, of := range []float64{100, 1000, 10_000} {
		if n := math.Round(p * of); n >= 10 || n >= 1 && of == 10_000 || of == 100 && n >= 5 {
			return fmt.Sprintf("%.0f of %s such series", n, thousands(of))
		}
	}
	return "fewer than 1 of 10,000 such series"
}

func thousands(x float64) string {
	s := strconv.FormatFloat(x, 'f', 0, 64)
	if len(s) > 4 {
		s = s[:len(s)-3] + "," + s[len(s)-3:]
	}
	return s
}

// Said is one sentence on the groups of a joint and procedure: whether chance alone
// would divide the revisions as unevenly, within the strata if there are any.
func (k *Contrast) Said(p *Part) string {
	switch {
	case p.Refused != "":
		return p.Refused
	case p.Revised < FewestForP:
		return fmt.Sprintf("With %d revised, whether groups by %s differ can't be told: look at observed and expected.", p.Revised, cohort.Title(k.Between))
	}
	where := ""
	if p.Within != nil {
		where = " within " + titles(k.Within)
	}
	return fmt.Sprintf("If all groups by %s had one revision rate%s, revisions would divide as unevenly as this in %s.", cohort.Title(k.Between), where, OfSeries(k.asked(p).P))
}

// asked is the test within strata, if there are any.
func (k *Contrast) asked(p *Part) *survival.Test {
	if p.Within != nil {
		return p.Within
	}
	return p.LogRank
}

// list writes "a", "a and b" or "a, b and c".
func list(items []string) string {
	switch len(items) {
	case 0:
		return ""
	case 1:
		return items[0]
	}
	return strings.Join(items[:len(items)-1], ", ") + " and " + items[len(items)-1]
}

// titles are fields as they are called in a text.
func titles(fields []string) string {
	var names []string
	for _, f := range fields {
		names = append(names, cohort.Title(f))
	}
	return list(names)
}

// method says in words how the numbers were made.
func method(k *Contrast, o Options) []string {
	event := "Event: first revision, any operation that adds, removes or exchanges a component"
	if len(k.Endpoint.Reasons) > 0 {
		event = fmt.Sprintf("Event: first revision, for %s; revision for another reason ends follow-up, as death does", strings.Join(k.Endpoint.Reasons, " or "))
	}
	m := []string{
		event + ". Unit: the joint. Time: whole days from operation; a year is 365.25 days.",
		"Expected if alike: the revisions each group would have if, on every day, those at risk had one rate; the test is the log-rank test (Mantel 1966). Within: the same in each stratum, added up.",
		"Differences of cumulative revision: limits from both intervals (MOVER; Zou & Donner 2008). Reading, from intervals of the beta product (incidence: Clopper–Pearson on the effective number): \"above\" or \"below\" if the difference's limits exclude 0; \"too few to say\" with fewer than 10 at risk in a group or, if neither, fewer than 6 revised by then in both; else \"compatible with\", which is no evidence of a difference and not \"as good as\".",
		"Ratios of rates: proportional hazards (Cox, Efron's ties), or with few revisions the penalised likelihood of Firth with profile limits. By period: a ratio up to 1 year, from 1 to 5 and after.",
	}
	if o.Gray {
		m = append(m, "For researchers: Gray's test and the ratios of Fine and Gray are of the cumulative incidence, death competing.")
	}
	return m
}

// cautions stand with every contrast.
func cautions(k *Contrast) []string {
	title := cohort.Title(k.Between)
	chosen := fmt.Sprintf("Groups by %s are not alike in who the patients were, and the difference may be theirs.", title)
	if cohort.Chosen(k.Between) {
		chosen = fmt.Sprintf("%s %s is chosen for a patient: what made the surgeon choose it may also make revision likelier.", article(title), title)
	}
	return []string{
		chosen + " Within and adjusted cover only the columns named.",
		"No evidence of a difference is not \"as good as\". Small numbers; revisions done elsewhere may be missing.",
		"A description of one practice's own table, not a verdict on it, and not a basis for a decision about one patient. It does not replace the national registry, the department's governance, or licensed clinical judgement.",
	}
}

func article(noun string) string {
	if strings.ContainsRune("aeiouAEIOU", rune(noun[0])) {
		return "An"
	}
	return "A"
}
