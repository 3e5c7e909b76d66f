package exchange

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/survival/tally"
)

// HoldsTally is what a tally says that it holds, as a checked cohort says
// [HoldsJoints].
const HoldsTally = "tally"

const tallyVersion = 2

// Caution stands in the header of every tally.
const Caution = "Not anonymous: it holds single revisions and deaths by the day. For bodies that may exchange such data; not for publication."

// ErrDamaged says that a tally was cut short, changed or damaged after it was made.
var ErrDamaged = errors.New("damaged, or changed after it was made")

var tallyDefinitions = []string{
	"One row is a number of joints, alike in all its columns, that left observation on the same day of their follow-up in the same way. There is no row of a single joint as such, and no identifier.",
	"days is whole days from the operation to the first event, else to death, else to the earlier of the day last seen and the closing date. One year is 365.25 days; y years are reached on day 365.25 times y, without the fraction.",
	"possible_years is the last of the header's years that the closing date reaches after the operation, whatever became of the joint.",
	"On one day, events precede censoring. Revision and death on one day: revision.",
	"Patients are counted by each choice of the fields grouped by; they can't be added up from the rows. A patient at two places is counted at each.",
}

// header is what a tally says of itself, as JSON under [AboutKey]. Headers are compared
// where tallies are pooled; see [header.differs].
type header struct {
	Holds       string    `json:"holds"`
	Version     int       `json:"version"`
	Caution     string    `json:"caution"`
	Closing     string    `json:"closing_date"`
	DeathsEnd   bool      `json:"closing_date_is_that_of_deaths,omitempty"`
	Endpoint    string    `json:"endpoint"`
	Reasons     []string  `json:"endpoint_reasons,omitempty"`
	LostAfter   int       `json:"lost_after_days"`
	DaysPerYear float64   `json:"days_per_year"`
	AgeBands    []int     `json:"age_bands"` // lower bounds after the first
	AgesAs      string    `json:"ages"`      // years, bands or none
	Ages        []int     `json:"age_bounds"`
	Years       []float64 `json:"years"`
	By          []string  `json:"by"`
	Further     []string  `json:"further,omitempty"` // columns beside those, within which revisions are expected of units
	Coarsened   Coarse    `json:"days_coarsened_to,omitempty"`
	CoarseSaid  string    `json:"largest_error_of_that,omitempty"`
	Scope       []string  `json:"narrowed_to,omitempty"`
	Assumed     []string  `json:"assumed,omitempty"`

	Vocabulary  map[string][]string `json:"vocabulary"`
	Has         []string            `json:"columns_of_the_tables"`
	Definitions []string            `json:"definitions"`
	Columns     []Column            `json:"columns"`

	Tables    int          `json:"tables"`
	Invented  bool         `json:"invented,omitempty"` // some table said so of itself
	Account   account      `json:"account"`
	Deaths    deaths       `json:"deaths"`
	DeathList deathList    `json:"list_of_deaths"`
	Revisions []reasonRows `json:"revisions_recorded_apart"`
	Patients  []margin     `json:"patients"`
	Longest   []longest    `json:"longest_possible"` // follow-up
	FollowUp  []followed   `json:"follow_up"`

	Checksum string `json:"checksum"` // SHA-256 of the header without it, and of the rows
}

type (
	account struct {
		InFiles           int          `json:"rows_in_files"`
		Read              int          `json:"rows_read"`
		Used              int          `json:"rows_used"`
		SetAside          int          `json:"rows_set_aside"`
		Reasons           []reasonRows `json:"reasons"`
		Warnings          []reasonRows `json:"warnings"`
		RevisedUndated    int          `json:"revised_without_a_date"`
		Lost              int          `json:"lost_to_follow_up"`
		Assumed           int          `json:"follow_up_assumed"`
		Known             int          `json:"follow_up_known"`
		NoRevisions       bool         `json:"no_revision_recorded"`
		RepeatsElsewhere  int          `json:"repeats_of_another_table"`
		PossibleRevisions int          `json:"possible_revisions"`
		Unjoined          []reasonRows `json:"revisions_not_joined"`
		UnjoinedJoints    int          `json:"joints_they_could_be_of"`
		UnjoinedOfWhole   int          `json:"revisions_not_joined_of_the_whole"`
	}
	reasonRows struct {
		Reason string `json:"reason"`
		Rows   int    `json:"rows"`
	}
	deaths struct {
		Column   bool    `json:"column"`
		Used     int     `json:"joints_of_the_dead"`
		Expected float64 `json:"expected"`
	}
	deathList struct {
		Patients      int    `json:"patients"`
		Joined        int    `json:"joined"`
		Unusable      int    `json:"unusable"`
		Contradicting int    `json:"contradicting"`
		CompleteTo    string `json:"complete_to,omitempty"`
	}
	// margin is the patients by some fields.
	margin struct {
		Fields []string `json:"fields"`
		Groups []group  `json:"groups"`
	}
	longest struct {
		Joint     string `json:"joint"`
		Procedure string `json:"procedure"`
		Days      int    `json:"days"`
	}
	group struct {
		Words    []string `json:"words"`
		Patients int64    `json:"patients"`
	}
)

// text is the JSON of a header.
func (h *header) text() (string, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(h); err != nil {
		return "", err
	}
	return string(bytes.TrimSpace(b.Bytes())), nil
}

// readHeader reads the JSON of a header.
func readHeader(text string) (*header, error) {
	h := new(header)
	if err := json.Unmarshal([]byte(text), h); err != nil {
		return nil, ErrDamaged
	}
	switch {
	case h.Holds != HoldsTally:
		return nil, fmt.Errorf("it holds a %s, no tally", h.Holds)
	case h.Version != tallyVersion:
		return nil, fmt.Errorf("a tally of version %d: this program reads version %d", h.Version, tallyVersion)
	case !h.Coarsened.known():
		return nil, fmt.Errorf("a tally whose days are coarsened to %q, which this program does not know", string(h.Coarsened))
	case h.DaysPerYear != cohort.DaysPerYear:
		return nil, fmt.Errorf("a tally whose year has %v days, not %v", h.DaysPerYear, cohort.DaysPerYear)
	}
	if what := h.unsound(); what != "" {
		return nil, fmt.Errorf("%w: its %s can't be so", ErrDamaged, what)
	}
	return h, nil
}

// unsound names what in a header no tally says; "" for nothing. The checksum finds what
// was changed; this what was never made.
func (h *header) unsound() string {
	bounds := func(all []int) bool {
		return slices.IsSorted(all) && len(slices.Compact(slices.Clone(all))) == len(all) && !slices.ContainsFunc(all, func(a int) bool { return a < 1 || a > 150 })
	}
	years := slices.Clone(h.Years)
	var names []string
	for _, c := range h.rowColumns() {
		names = append(names, c.Name)
	}
	slices.Sort(names)
	switch {
	case !slices.Contains([]string{"years", "bands", "none"}, h.AgesAs), !bounds(h.AgeBands), !bounds(h.Ages):
		return "ages"
	case h.AgesAs != "bands" && slices.ContainsFunc(h.AgeBands, func(a int) bool { return !slices.Contains(h.Ages, a) }):
		return "ages"
	case !slices.IsSorted(years), len(slices.Compact(years)) != len(h.Years), slices.ContainsFunc(h.Years, func(y float64) bool { return !(y > 0 && y <= 200) }):
		return "years"
	case len(slices.Compact(names)) != len(h.rowColumns()), slices.Contains(names, ""):
		return "columns"
	case h.LostAfter < 1, h.Tables < 0, h.Account.negative():
		return "account"
	case !(h.Deaths.Expected >= 0 && h.Deaths.Expected < 1e12), h.Deaths.Used < 0:
		return "deaths"
	}
	for _, m := range h.Patients {
		if slices.ContainsFunc(m.Groups, func(g group) bool { return len(g.Words) != len(m.Fields) || g.Patients < 0 }) {
			return "patients"
		}
	}
	if slices.ContainsFunc(h.FollowUp, func(f followed) bool {
		return min(f.Joints, f.Revised, f.Died, f.Living, f.Recent, f.NeverSeen, f.Lost, f.Assumed) < 0
	}) {
		return "follow-up"
	}
	if slices.ContainsFunc(h.Longest, func(l longest) bool { return l.Days < 0 || l.Days > tally.MaxDay }) {
		return "longest follow-up"
	}
	return ""
}

// negative says whether a number of an account is below 0.
func (a *account) negative() bool {
	least := min(a.InFiles, a.Read, a.Used, a.SetAside, a.RevisedUndated, a.Lost, a.Assumed, a.Known, a.RepeatsElsewhere, a.PossibleRevisions, a.UnjoinedJoints, a.UnjoinedOfWhole)
	return least < 0 || a.Used+a.SetAside != a.Read
}

func accountOf(a cohort.Account) account {
	return account{
		InFiles: a.InFiles, Read: a.Read, Used: a.Used, SetAside: a.SetAside, Reasons: reasonsOf(a.Reasons), Warnings: reasonsOf(a.Warnings),
		RevisedUndated: a.RevisedUndated, Lost: a.Lost, Assumed: a.Assumed, Known: a.Known, NoRevisions: a.NoRevisions,
		RepeatsElsewhere: a.RepeatsElsewhere, PossibleRevisions: a.PossibleRevisions, Unjoined: reasonsOf(a.Unjoined),
		UnjoinedJoints: a.UnjoinedJoints, UnjoinedOfWhole: a.UnjoinedOfWhole,
	}
}

// about is what a header says of its tables as wholes; name is that of the file.
func (h *header) about(name string) (cohort.About, error) {
	closing, err := cohort.ParseDay(h.Closing)
	if err != nil {
		return cohort.About{}, ErrDamaged
	}
	file := cohort.File{Name: name, Format: cohort.TallyFormat, Rows: h.Account.InFiles, Holds: "primaries"}
	if h.Invented {
		file.Preamble = []string{sheet.Invented}
	}
	a := cohort.About{
		Files:   []cohort.File{file},
		Closing: cohort.Closing{Day: closing, Asked: true, DeathsEnd: h.DeathsEnd}, LostAfter: h.LostAfter, AgeBands: cohort.AgeBands(h.AgeBands),
		Account: cohort.Account{
			InFiles: h.Account.InFiles, Read: h.Account.Read, Used: h.Account.Used, SetAside: h.Account.SetAside,
			RevisedUndated: h.Account.RevisedUndated, Lost: h.Account.Lost, Assumed: h.Account.Assumed, Known: h.Account.Known, NoRevisions: h.Account.NoRevisions,
			RepeatsElsewhere: h.Account.RepeatsElsewhere, PossibleRevisions: h.Account.PossibleRevisions,
			UnjoinedJoints: h.Account.UnjoinedJoints, UnjoinedOfWhole: h.Account.UnjoinedOfWhole,
		},
		Deaths:    cohort.Deaths{Column: h.Deaths.Column, Used: h.Deaths.Used, Expected: h.Deaths.Expected},
		DeathList: cohort.DeathList{Patients: h.DeathList.Patients, Joined: h.DeathList.Joined, Unusable: h.DeathList.Unusable, Contradicting: h.DeathList.Contradicting},
		Scope:     pairs(h.Scope), Assumed: pairs(h.Assumed),
	}
	if !h.Deaths.Column {
		a.Deaths.Without = []string{name}
	}
	if to := h.DeathList.CompleteTo; to != "" {
		day, err := cohort.ParseDay(to)
		if err != nil {
			return a, ErrDamaged
		}
		a.DeathList.CompleteTo = &day
	}
	for _, list := range []struct {
		to   *[]cohort.ReasonCount
		from []reasonRows
	}{{&a.Account.Reasons, h.Account.Reasons}, {&a.Account.Warnings, h.Account.Warnings}, {&a.Account.Unjoined, h.Account.Unjoined}, {&a.Revisions, h.Revisions}} {
		if *list.to, err = reasonCounts(list.from); err != nil {
			return a, err
		}
	}
	return a, nil
}

// differs names the first thing in which two headers must agree and don't; "" if they
// may be pooled.
func (h *header) differs(o *header) string {
	for _, d := range []struct {
		what string
		a, b any
	}{
		{"closing date", h.Closing, o.Closing}, {"endpoint", h.Endpoint, o.Endpoint}, {"days after which a joint is lost", h.LostAfter, o.LostAfter},
		{"lower bounds of the age bands", h.AgeBands, o.AgeBands}, {"how age is given", h.AgesAs, o.AgesAs}, {"ages at which joints are parted", h.Ages, o.Ages},
		{"years of possible follow-up at which joints are parted", h.Years, o.Years},
		{"columns grouped by", h.By, o.By}, {"coarsening of days", h.Coarsened.title(), o.Coarsened.title()}, {"part of the tables", h.Scope, o.Scope}, {"what was assumed", h.Assumed, o.Assumed}, {"further columns", h.Further, o.Further},
	} {
		if a, b := fmt.Sprint(d.a), fmt.Sprint(d.b); a != b {
			return fmt.Sprintf("%s: %s and %s", d.what, a, b)
		}
	}
	for _, f := range ofWords {
		if !slices.Equal(h.Vocabulary[f], o.Vocabulary[f]) {
			return fmt.Sprintf("the words of %s: made by two versions of the program", f)
		}
	}
	return ""
}

// pairs are conditions written column=value.
func pairs(all []string) []cohort.Condition {
	var conditions []cohort.Condition
	for _, s := range all {
		column, value, _ := strings.Cut(s, "=")
		conditions = append(conditions, cohort.Condition{Column: column, Value: value})
	}
	return conditions
}
