package column

import (
	"slices"
	"strings"
	"sync"

	"example.org/holdfast/cohort/internal/words"
)

// Match is what a heading means.
type Match struct {
	// Column is the name of the column, or empty if the heading is not known.
	Column string
	// Short says that it is so only with abbreviations written out: another heading of
	// the column goes before.
	Short bool
	// Exact says that the heading is the column's own name, in any case.
	Exact bool
	// Between lists the columns a heading may mean, where it may mean several
	// or something else; Column is then empty.
	Between []string
}

// unclear lists headings that are known to have more than one meaning.
var unclear = map[string][]string{
	"date":              {OperationDate, RevisionDate, DeathDate, LastSeenDate},
	"datum":             {OperationDate, RevisionDate, DeathDate, LastSeenDate},
	"dod":               {DeathDate}, // or discharge
	"id":                {JointID, Patient},
	"number":            {JointID, Patient},
	"no":                {JointID, Patient},
	"nr":                {JointID, Patient},
	"study id":          {JointID, Patient},
	"study no":          {JointID, Patient},
	"study number":      {JointID, Patient},
	"revision":          {Revised, RevisionDate, OperationType},
	"rev":               {Revised, RevisionDate, OperationType},
	"died":              {Dead, DeathDate},
	"death":             {Dead, DeathDate},
	"rip":               {Dead, DeathDate},
	"status":            {Revised, Dead},
	"outcome":           {Revised, Dead},
	"surgery":           {OperationDate, Procedure, OperationType},
	"type":              {Procedure, OperationType, Bearing, Fixation},
	"reason":            {RevisionReason, Diagnosis},
	"cause":             {RevisionReason, Diagnosis},
	"femoral fixation":  {StemFixation, FemurFixation},
	"fixation femoral":  {StemFixation, FemurFixation},
	"insert":            {Liner, Polyethylene},
	"insert type":       {Liner, Bearing, Polyethylene},
	"follow up":         {LastSeenDate},
	"followup":          {LastSeenDate},
	"follow up date":    {LastSeenDate},
	"fu date":           {LastSeenDate},
	"fu":                {LastSeenDate},
	"f u":               {LastSeenDate},
	"birth":             {BirthDate, BirthYear},
	"operation site":    {Joint, Side, Hospital},
	"site of operation": {Joint, Side, Hospital},
}

// headings gives the column of each variant, folded and without spaces, so
// that "Date of birth", "DateOfBirth" and "date_of_birth" are one.
var headings = sync.OnceValue(func() map[string]string {
	all := make(map[string]string)
	add := func(phrase, name string) {
		key := strings.Join(strings.Fields(phrase), "")
		if old, ok := all[key]; ok && old != name {
			panic("column: heading " + phrase + " is both " + old + " and " + name)
		}
		all[key] = name
	}
	for _, c := range columns {
		add(words.Fold(c.Name), c.Name)
		for phrase := range strings.SplitSeq(c.Headings, ",") {
			add(phrase, c.Name)
		}
	}
	return all
})

// perhaps are headings that are a column's if its cells are like that column's, and
// no other heading is: else "Cup" may be a maker's, "Pat" the patella, and "DOD" the
// day of discharge.
var perhaps = map[string]string{
	"pat": Patient, "h k": Joint, "cup": CupFixation, "stem": StemFixation, "dod": DeathDate, "d o d": DeathDate,
	"cup stem": Fixation, "stem cup": Fixation, "cup and stem": Fixation, "stem and cup": Fixation, "tibia femur": Fixation, "femur tibia": Fixation,
}

// Perhaps is the column that a heading is of if its cells are like that column's; ""
// for none.
func Perhaps(typed string) string { return perhaps[words.Fold(typed)] }

// hints are what people add to a heading to say how cells are to be filled in.
var hints = []string{
	"dd mm yyyy", "mm dd yyyy", "yyyy mm dd", "dd mm yy", "mm dd yy", "dd mmm yyyy", "ddmmyyyy", "mmddyyyy", "yyyymmdd",
	"d m y", "m d y", "y m d", "tt mm jjjj", "jj mm aaaa", "yes no", "y n", "m f", "f m", "l r", "r l", "left right", "male female",
	"h k", "years", "yrs", "required", "optional", "if any", "if known", "if applicable", "if revised", "if dead", "if deceased",
}

// abbreviations are words of headings written in short (common practice, no source).
// Hosp is none of them: it may be the hospital, and the patient's number there.
var abbreviations = map[string]string{
	"jt": "joint", "jnt": "joint", "repl": "replaced", "brg": "bearing", "brng": "bearing", "surf": "surface", "comb": "combination", "combo": "combination",
	"fix": "fixation", "fixn": "fixation", "tib": "tibial", "fem": "femoral", "diam": "diameter", "dia": "diameter",
	"dt": "date", "opn": "operation", "opdt": "op date", "proc": "procedure", "rev": "revision", "revn": "revision", "1st": "first", "indic": "indication",
	"dx": "diagnosis", "diag": "diagnosis", "diagn": "diagnosis", "pt": "patient",
}

// writtenOut is a folded heading with its abbreviations written out.
func writtenOut(folded string) string {
	all := strings.Fields(folded)
	for i, w := range all {
		if long, ok := abbreviations[w]; ok {
			all[i] = long
		}
	}
	return strings.Join(all, " ")
}

// Heading reads the heading of a column. It compares whole headings, without
// regard to case, accents, punctuation and spaces, with each column's name and
// its close variants; a hint at the end, such as "(dd/mm/yyyy)" or "(y/n)", is
// passed over. One that is not known is read with its abbreviations written out. A
// heading that may mean two columns means none.
func Heading(typed string) Match {
	folded := words.Fold(typed)
	if folded == "" {
		return Match{}
	}
	if own := strings.ToLower(strings.TrimSpace(typed)); named(own) != nil {
		return Match{Column: own, Exact: true}
	}
	m := variant(folded)
	if long := writtenOut(folded); m.Column == "" && m.Between == nil && long != folded {
		m = variant(long)
		m.Short = true
	}
	return m
}

// variant is what a folded heading means, with a hint or without.
func variant(folded string) Match {
	for {
		if between, ok := unclear[folded]; ok {
			return Match{Between: slices.Clone(between)}
		}
		if name, ok := headings()[strings.ReplaceAll(folded, " ", "")]; ok {
			return Match{Column: name}
		}
		shorter, ok := withoutHint(folded)
		if !ok {
			return Match{}
		}
		folded = shorter
	}
}

func withoutHint(folded string) (string, bool) {
	for _, hint := range hints {
		if rest, ok := strings.CutSuffix(folded, " "+hint); ok {
			return rest, true
		}
	}
	return "", false
}

// Plain is a heading without regard to case, spacing, hyphens and underscores.
func Plain(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return r == ' ' || r == '_' || r == '-' || r == '\t' || r == '\n' || r == '\u00a0'
	}), " ")
}

// Named is the field of a column name or of a heading as typed.
func Named(names []string, wanted string) (string, bool) {
	if slices.Contains(names, wanted) {
		return wanted, true
	}
	for _, n := range names {
		if Plain(n) == Plain(wanted) {
			return n, true
		}
	}
	return "", false
}
