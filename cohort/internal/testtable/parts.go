package testtable

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
)

// partDamages give columns from which others are derived.
var partDamages = []Damage{
	{Name: "head and liner", Does: "the bearings of hips as the materials of head and liner", Kind: EitherFile, stage: parts, groups: []string{"bearing"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				at := t.at("bearing")
				if at < 0 {
					continue
				}
				part := func(row *Row, pick func(bearing) string) Cell {
					i := slices.IndexFunc(bearings, func(b bearing) bool { return b.word == row.Cells[at].Text })
					if i < 0 {
						return Cell{}
					}
					return Cell{Text: pick(bearings[i])}
				}
				t.add(at+1, Column{Name: "liner", Heading: "liner"}, func(row *Row) Cell { return part(row, func(b bearing) string { return b.liner }) })
				t.add(at+1, Column{Name: "head", Heading: "head"}, func(row *Row) Cell { return part(row, func(b bearing) string { return b.head }) })
				for _, row := range t.Rows {
					if row.Cells[at+1].Text != "" {
						row.Cells[at].Text = ""
					}
				}
			}
		}},
	{Name: "fixation of components", Does: "cup, stem, tibia and femur instead of the fixation", Kind: EitherFile, stage: parts, groups: []string{"fixation"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				at := t.at("fixation")
				if at < 0 {
					continue
				}
				joint := t.at("joint")
				for n, part := range []string{"cup_fixation", "stem_fixation", "tibia_fixation", "femur_fixation"} {
					t.add(at+1+n, Column{Name: part, Heading: part}, func(row *Row) Cell {
						first := n%2 == 0 // cup or tibia
						if (row.Cells[joint].Text == "hip") != (n < 2) {
							return Cell{}
						}
						hip := n < 2
						switch row.Cells[at].Text {
						case "hybrid":
							return Cell{Text: map[bool]string{true: "porous", false: "cemented"}[first == hip]}
						case "reverse hybrid":
							return Cell{Text: map[bool]string{true: "cemented", false: "porous"}[first == hip]}
						}
						return Cell{Text: row.Cells[at].Text}
					})
				}
				t.drop("fixation")
			}
		}},
	{Name: "birth dates instead of ages", Does: "dates of birth, from which the age follows", Kind: EitherFile, stage: parts, groups: []string{"age"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				if at := t.at("age"); at >= 0 {
					t.Columns[at] = Column{Name: "birth_date", Heading: "birth_date"}
					for _, row := range t.Rows {
						if row.Cells[at].Text != "" {
							row.Cells[at].Text = d.Joints[row.Joint].birth
						}
					}
				}
			}
		}},
	{Name: "ages with a fraction", Does: "67.8, or 67,8 where commas don't separate cells", Kind: EitherFile, stage: parts, groups: []string{"age"},
		apply: func(d *Draft, r *rand.Rand) {
			mark := []string{".", ","}[r.IntN(2)]
			d.each("age", func(c *Cell, _ *Row) {
				if c.Text == "" {
					return
				}
				tenths := r.IntN(10)
				c.Text += mark + strconv.Itoa(tenths)
				if f, err := strconv.ParseFloat(strings.Replace(c.Text, ",", ".", 1), 64); err == nil && r.IntN(2) == 0 {
					c.Book = f
				}
			})
		}},
	{Name: "revised as a number", Does: "1 and 0 for yes and no", Kind: EitherFile, stage: spelling, groups: []string{"revised"},
		apply: func(d *Draft, r *rand.Rand) {
			d.each("revised", func(c *Cell, _ *Row) {
				n := map[string]int{"yes": 1, "no": 0}[c.Text]
				if c.Text == "" {
					return
				}
				c.Text = strconv.Itoa(n)
				c.Book = []any{n, n == 1, float64(n)}[r.IntN(3)]
			})
		}},
	{Name: "no revised column", Does: "only the date says who was revised", Kind: EitherFile, stage: parts, groups: []string{"revised"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, t := range d.Tables {
				t.drop("revised")
			}
		}},
	{Name: "patients as numbers", Does: "numbers of patients, in a workbook as a number in one row and as text in the next", Kind: EitherFile, stage: parts, groups: []string{"patient"},
		apply: func(d *Draft, r *rand.Rand) {
			d.each("patient", func(c *Cell, _ *Row) {
				if c.Text = strings.TrimPrefix(c.Text, "ZQX-"); r.IntN(2) == 0 {
					if n, err := strconv.Atoi(c.Text); err == nil {
						c.Book = n
					}
				}
			})
		}},
}

// spellings are words that mean the same, by column and canonical word.
type spellings map[string]map[string][]string

var english = spellings{
	"joint":     {"hip": {"Hip", "HIP", "hips"}, "knee": {"Knee", "KNEE", "knee joint"}},
	"side":      {"left": {"L", "Lt", "LEFT", "lhs", "Left side"}, "right": {"R", "Rt.", "RIGHT", "rhs"}},
	"procedure": {"total": {"Total", "total replacement", "TOTAL arthroplasty"}, "resurfacing": {"Resurfacing", "HRA", "surface replacement"}, "unicompartmental": {"UKR", "uni", "UKA medial", "Unicondylar"}},
	"bearing": {
		"metal-on-polyethylene":               {"MoP", "M/P", "metal on poly", "CoCr 28 mm / UHMWPE"},
		"metal-on-crosslinked-polyethylene":   {"MoXLPE", "metal-XLPE", "MoP (XL)", "Metal on highly cross-linked polyethylene"},
		"ceramic-on-polyethylene":             {"CoP", "C/P", "ceramic - poly"},
		"ceramic-on-crosslinked-polyethylene": {"CoXLPE", "CoP(XL)", "Ceramic on vitamin E poly"},
		"ceramic-on-ceramic":                  {"CoC", "cer-cer", "C.o.C.", "alumina on alumina"},
		"metal-on-metal":                      {"MoM", "M/M", "metal-metal"},
		"dual-mobility":                       {"DM", "Dual Mobility", "dual mob cup"},
		"fixed":                               {"Fixed", "FB", "fixed bearing"},
		"mobile":                              {"Mobile", "rotating platform", "MB"},
	},
	"head":            {"metal": {"CoCr", "Metal 28 mm", "steel"}, "ceramic": {"Ceramic", "ZTA", "alumina 32mm"}},
	"liner":           {"polyethylene": {"PE", "UHMWPE", "poly"}, "crosslinked-polyethylene": {"XLPE", "HXLPE", "vit E poly"}, "ceramic": {"Ceramic", "cer"}, "metal": {"Metal", "CoCr"}, "dual-mobility": {"DM", "dual mobility"}},
	"fixation":        {"cemented": {"Cemented", "cem", "fully cemented"}, "porous": {"uncemented", "Cementless", "press-fit", "HA coated"}, "hybrid": {"Hybrid", "HYBRID fixation"}, "reverse hybrid": {"Reverse hybrid", "inverse hybrid"}},
	"cup_fixation":    {"cemented": {"Cemented", "cement"}, "porous": {"uncemented", "Press-Fit"}},
	"stem_fixation":   {"cemented": {"Cemented", "cem."}, "porous": {"cementless", "HAC"}},
	"tibia_fixation":  {"cemented": {"Cemented"}, "porous": {"un-cemented"}},
	"femur_fixation":  {"cemented": {"CEMENTED"}, "porous": {"not cemented"}},
	"sex":             {"female": {"F", "Female", "woman", "FEM"}, "male": {"M", "Male", "man"}},
	"revised":         {"yes": {"Y", "YES", "true", "Revised"}, "no": {"N", "No", "false", "in situ", "none"}},
	"revision_reason": {"infection": {"Infected", "PJI", "Deep infection"}, "aseptic loosening": {"loosening", "Aseptic loosening of cup"}, "dislocation or instability": {"Dislocation", "recurrent dislocation", "unstable"}, "periprosthetic fracture": {"PPF", "Periprosthetic fracture"}},
	"operation_type":  {"primary": {"Primary", "PRIM"}, "revision": {"Revision", "rev", "Re-revision"}},
}

var continental = spellings{
	"joint":           {"hip": {"Hüfte", "hanche", "hoft"}, "knee": {"Knie", "genou", "rodilla"}},
	"side":            {"left": {"links", "gauche", "venstre", "izquierda"}, "right": {"rechts", "droite", "højre", "derecha"}},
	"procedure":       {"total": {"totale"}, "unicompartmental": {"unikondylär"}},
	"bearing":         {"metal-on-polyethylene": {"Metall auf Polyethylen", "métal / PE"}, "ceramic-on-ceramic": {"Keramik auf Keramik", "céramique-céramique"}, "metal-on-metal": {"Metall/Metall"}, "ceramic-on-polyethylene": {"Keramik / Polyäthylen"}},
	"fixation":        {"cemented": {"zementiert", "cimentée", "sementert"}, "porous": {"zementfrei", "sans ciment", "ocementerad"}, "hybrid": {"Hybride"}, "reverse hybrid": {"omvänd hybrid"}},
	"sex":             {"female": {"weiblich", "femme", "mujer"}, "male": {"männlich", "homme", "varón"}},
	"revised":         {"yes": {"ja", "oui"}, "no": {"nein", "non", "nej"}},
	"revision_reason": {"infection": {"Infektion", "infecté"}, "aseptic loosening": {"Lockerung", "descellement"}, "dislocation or instability": {"Luxation", "luxación"}},
}

// respell types each word in one of its spellings, or as it is.
func respell(d *Draft, r *rand.Rand, s spellings) {
	for _, column := range sortedKeys(s) {
		d.each(column, func(c *Cell, _ *Row) {
			if c.Book != nil {
				return
			}
			if words := s[column][c.Text]; len(words) > 0 && r.IntN(5) > 0 {
				c.Text = words[r.IntN(len(words))]
			}
		})
	}
}

func sortedKeys[V any](m map[string]V) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// wordyColumns are the columns whose words have a meaning apart from case.
var wordyColumns = []string{"joint", "side", "procedure", "bearing", "head", "liner", "fixation", "cup_fixation", "stem_fixation",
	"tibia_fixation", "femur_fixation", "sex", "revised", "revision_reason", "operation_type"}

// absent puts words for a missing value into empty cells.
func absent(d *Draft, r *rand.Rand, common []string, own map[string][]string) {
	for _, column := range []string{"bearing", "fixation", "age", "birth_date", "revision_date", "revision_reason", "death_date", "last_seen_date", "diagnosis"} {
		words := slices.Concat(common, own[column])
		if len(words) == 0 {
			continue
		}
		d.each(column, func(c *Cell, row *Row) {
			if c.Text == "" && c.Book == nil && r.IntN(3) > 0 {
				c.Text = words[r.IntN(len(words))]
			}
		})
	}
}

var wordDamages = []Damage{
	{Name: "other spellings", Does: "abbreviations and synonyms for words, in any case", Kind: EitherFile, stage: spelling, groups: []string{"words", "revised"},
		apply: func(d *Draft, r *rand.Rand) { respell(d, r, english) }},
	{Name: "words of other languages", Does: "German, French, Spanish and Nordic words, with accents", Kind: EitherFile, stage: spelling, groups: []string{"words", "revised", "accents"},
		apply: func(d *Draft, r *rand.Rand) { respell(d, r, continental) }},
	{Name: "words in capitals", Does: "canonical words in capitals", Kind: EitherFile, stage: spelling, groups: []string{"words", "revised"},
		apply: func(d *Draft, _ *rand.Rand) {
			for _, column := range wordyColumns {
				d.each(column, func(c *Cell, _ *Row) { c.Text = strings.ToUpper(c.Text) })
			}
		}},
	{Name: "words for missing values", Does: "n/a, -, ?, not known", Kind: EitherFile, stage: gaps, groups: []string{"gaps"},
		apply: func(d *Draft, r *rand.Rand) {
			absent(d, r, []string{"n/a", "-", "?", "NA", "not known", "—", "."}, nil)
		}},
	{Name: "0 for missing values", Does: "0 where 0 can't be a value", Kind: EitherFile, stage: gaps, groups: []string{"gaps"},
		apply: func(d *Draft, r *rand.Rand) {
			zero := []string{"0"}
			absent(d, r, nil, map[string][]string{"age": zero, "birth_date": zero, "revision_date": zero, "death_date": zero, "last_seen_date": zero, "revision_reason": zero})
			for _, column := range []string{"revision_date", "death_date", "age"} {
				d.each(column, func(c *Cell, _ *Row) {
					if c.Text == "0" && r.IntN(2) == 0 {
						c.Book = 0
					}
				})
			}
		}},
	{Name: "words for nothing happened", Does: "not revised and alive in the columns of dates", Kind: EitherFile, stage: gaps, groups: []string{"gaps"},
		apply: func(d *Draft, r *rand.Rand) {
			absent(d, r, nil, map[string][]string{"revision_date": {"no", "not revised", "in situ"}, "death_date": {"alive", "no", "living"}})
		}},
	{Name: "a word of the user's own for missing values", Does: "99 and xx, named in the settings", Kind: EitherFile, stage: gaps, groups: []string{"gaps"},
		apply: func(d *Draft, r *rand.Rand) {
			absent(d, r, []string{"xx", "99"}, nil)
			d.each("age", func(c *Cell, _ *Row) {
				if c.Text == "99" {
					c.Text = "xx" // 99 may be an age
				}
			})
			d.Options.Missing = []string{"xx", "99"}
		}},
	{Name: "errors in empty cells", Does: "#N/A and #REF! where there is no value", Kind: EitherFile, stage: gaps, groups: []string{"gaps"}, Says: nil,
		apply: func(d *Draft, r *rand.Rand) {
			for _, column := range []string{"bearing", "fixation", "revision_date", "death_date", "age"} {
				d.each(column, func(c *Cell, _ *Row) {
					if c.Text == "" && c.Book == nil && r.IntN(3) == 0 {
						*c = errorCell([]string{"#N/A", "#REF!", "#VALUE!", "#DIV/0!"}[r.IntN(4)])
					}
				})
			}
		}},
}

func numeric(a, b, y int, mark string) string {
	return fmt.Sprintf("%02d%s%02d%s%d", a, mark, b, mark, y)
}
