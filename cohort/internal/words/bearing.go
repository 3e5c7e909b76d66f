package words

import (
	"slices"
	"strings"
)

const (
	metalWords = `metal, metall, metaal, metallic, met, m, cocr, co cr, cocrmo, co cr mo, cobalt chrome, cobaltchrome,
		cobalt chromium, chrome cobalt, cobalt chrome molybdenum, cobalt chromium molybdenum, kobalt chrom, chrom kobalt, kobaltchrom,
		stainless steel, steel, stainless, edelstahl, titanium`
	ceramicWords = `ceramic, ceramics, ceram, cer, c, keramik, keramikk, keramiek, ceramique, ceramica, ceramico,
		alumina, aluminium oxide, aluminum oxide, al2o3, zirconia, zirconium dioxide, zro2, zirconia toughened alumina, zta,
		alumina toughened zirconia, alumina matrix composite, silicon nitride`
	ceramicisedWords = `ceramicised metal, ceramicized metal, oxzr, ox zr, oxidised zirconium, oxidized zirconium,
		oxidised zr, oxidized zr, ceramicised zirconium, ceramicized zirconium`
	polyWords        = `p, pe, poly, polyethylene, poly ethylene, polyethene, polythene, polyethylen, polyathylen, polyethyleen, polyeten, polietileno, plastic, all poly`
	uhmwWords        = `uhmwpe, uhmw pe, uhmwp, uhmw, ultra high molecular weight polyethylene`
	crosslinkedWords = `crosslinked, cross linked, crosslink, cross link, x linked, xlinked, x link, xlink, hxl,
		xlpe, xlp, xpe, hxlpe, hxlp, hxpe, hclpe, vepe, ve pe, vexlpe, ve xlpe, vehxlpe, ve hxlpe, ve hxlp,
		vitamin e, vit e, vite, vitamine e, vitamin e pe, hochvernetzt, hochvernetztes, reticule`
	conventionalWords = `conventional, conv, non crosslinked, non cross linked, noncrosslinked, not crosslinked, not cross linked,
		uncrosslinked, non x linked, non xl, non xlpe, non hxlpe`
	dualWords       = `dual mobility, dual mob, dm, dmc, dual mobility cup, double mobility, double mobilite, doppelmobil, dual mobility liner`
	polyFillers     = `highly, high, hi, ultra, moderately, infused, diffused, doped, blended, stabilised, stabilized, enriched, annealed, remelted`
	materialFillers = `mm, material, alloy, the`
)

// Classes of polyethylene words inside this package.
const (
	poly = "poly"
	uhmw = "uhmw" // polyethylene as it was before there was any other
	xl   = "xl"   // cross-linked beside polyethylene, but also a size
)

var hipBearings = []string{
	"metal-on-polyethylene", "metal-on-crosslinked-polyethylene",
	"ceramic-on-polyethylene", "ceramic-on-crosslinked-polyethylene",
	"ceramic-on-ceramic", "metal-on-metal", "ceramic-on-metal",
	"ceramicised-metal-on-polyethylene", "ceramicised-metal-on-crosslinked-polyethylene",
	DualMobility,
}

// HipBearings returns the canonical bearings of a hip in the order in which
// they are shown. The caller may change it.
func HipBearings() []string { return slices.Clone(hipBearings) }

var (
	heads = newVocabulary(
		Metal, metalWords,
		Ceramic, ceramicWords,
		CeramicisedMetal, ceramicisedWords,
		filler, materialFillers+`, head, heads, femoral, ball, kopf`,
	)
	liners = newVocabulary(
		poly, polyWords+","+uhmwWords,
		Crosslinked, crosslinkedWords,
		Conventional, conventionalWords,
		xl, xl,
		DualMobility, dualWords,
		Metal, metalWords,
		Ceramic, ceramicWords,
		filler, materialFillers+","+polyFillers+`, liner, insert, inlay, acetabular, cup, neutral, lipped, elevated, hooded`,
	)
	polyethylenes = newVocabulary(
		poly, polyWords,
		uhmw, uhmwWords,
		Crosslinked, crosslinkedWords+", xl",
		Conventional, conventionalWords+", standard, std",
		filler, materialFillers+","+polyFillers+`, insert, inlay, liner`,
	)
	knees = newVocabulary(
		FixedBearing, `fixed, fb, fix, fixiert, fixes, feste, festes, fixe, vast, fast, fijo, fija`,
		MobileBearing, `mobile, mb, rotating platform, rp, meniscal, rotating, mobile rotating platform, mobil, mobiles, beweglich, bewegliches, mobiel, rorlig, movil`,
		filler, `bearing, bearings, insert, inlay, platform, the`,
	)
	bearingFillers = newVocabulary(filler, `bearing, bearings, bearing surface, articulation, couple, combination, mm, hip`)
	connectors     = newVocabulary("on", `on, o, auf, sur, op, pa, sobre, and`)
	notBearings    = newVocabulary("hemiarthroplasty", `bipolar, unipolar, monopolar`)
	hipInitials    = initials()
)

// initials spells out the abbreviations that run head, o and liner together:
// MoP, CoXLPE, MoM.
func initials() map[string][]string {
	spelt := make(map[string][]string)
	for _, head := range []string{"m", "c"} {
		for _, liner := range []string{
			"m", "c", "p", "pe", "poly", "uhmwpe", "xlpe", "xlp", "xpe", "hxlpe", "hxlp", "hxpe", "vepe",
		} {
			spelt[head+"o"+liner] = []string{head, "on", liner}
		}
		spelt[head+"opxl"] = []string{head, "on", "p", xl}
	}
	return spelt
}

// Head reads the material of a head: metal, ceramic or ceramicised-metal. A
// size ("CoCr 28 mm +4") is passed over. Zirconia is a ceramic, oxidised
// zirconium is ceramicised metal, and "zirconium" alone is unknown.
func Head(s string) Meaning {
	if class, ok := head(withoutSizes(tokens(s))); ok {
		return known(class)
	}
	return unknown(s)
}

func head(words []string) (string, bool) {
	found, ok := heads.classes(words)
	if !ok {
		return "", false
	}
	return found.only()
}

// Liner reads the class of a liner: polyethylene (unspecified or
// conventional), crosslinked-polyethylene, ceramic, metal or dual-mobility.
// Vitamin E polyethylene is cross-linked. "XL" alone is unknown, since it may
// be a size.
func Liner(s string) Meaning {
	if class, ok := liner(withoutSizes(tokens(s))); ok {
		return known(class)
	}
	return unknown(s)
}

func liner(words []string) (string, bool) {
	found, ok := liners.classes(words)
	switch {
	case !ok:
		return "", false
	case found[DualMobility] && found.within(DualMobility, poly, Crosslinked, Conventional, xl, Metal):
		return DualMobility, true
	case found.within(Metal):
		return Metal, true
	case found.within(Ceramic):
		return Ceramic, true
	case found.within(poly, Crosslinked, xl) && (found[Crosslinked] || found[xl] && found[poly]):
		return CrosslinkedPE, true
	case found.within(poly, Conventional) && found[poly]:
		return PlainPolyethylene, true
	}
	return "", false
}

// Polyethylene reads the kind of polyethylene of a knee: conventional or
// crosslinked. "UHMWPE" beside nothing that says cross-linked is the
// conventional kind. A word that does not say, such as "PE", is unknown.
func Polyethylene(s string) Meaning {
	if found, ok := polyethylenes.classes(tokens(s)); ok {
		for _, kind := range []string{Crosslinked, Conventional} {
			if found[kind] && found.within(kind, poly, uhmw) {
				return known(kind)
			}
		}
		if found[uhmw] && found.within(uhmw, poly) {
			return known(Conventional)
		}
	}
	return unknown(s)
}

// DeriveBearing gives the bearing of a hip from the canonical classes of head
// and liner. With a dual-mobility liner the head does not matter and may be
// empty. It reports false for combinations that have no canonical bearing,
// such as metal on ceramic.
//
// Ceramicised metal on polyethylene that nobody says is cross-linked has a
// value of its own, ceramicised-metal-on-polyethylene: it is neither left
// out nor taken for the cross-linked one.
func DeriveBearing(head, liner string) (string, bool) {
	if liner == DualMobility {
		return DualMobility, true
	}
	if head == "" || liner == "" {
		return "", false
	}
	if value := head + "-on-" + liner; slices.Contains(hipBearings, value) {
		return value, true
	}
	return "", false
}

// BearingMeaning is what a bearing cell says.
type BearingMeaning struct {
	Meaning
	// Refused says that the cell has a word that is no bearing at all; the
	// cell is then not a group of its own.
	Refused bool
}

// Bearing reads a bearing: for a hip the combination, head first, or dual
// mobility; for a knee fixed or mobile. With an empty joint either is
// accepted. For another joint every word is unknown.
//
// "Ceramicised metal" alone is read as on cross-linked polyethylene.
// "Bipolar" and "unipolar" belong to hemiarthroplasty and are refused.
func Bearing(joint, s string) BearingMeaning {
	words := tokens(s)
	for _, word := range words {
		if notBearings.has(word) {
			return BearingMeaning{Meaning: unknown(s), Refused: true}
		}
	}
	if joint == Hip || joint == "" {
		if value, ok := hipBearing(words); ok {
			return BearingMeaning{Meaning: known(value)}
		}
	}
	if joint == Knee || joint == "" {
		return BearingMeaning{Meaning: knees.read(s)}
	}
	return BearingMeaning{Meaning: unknown(s)}
}

// HasPolyethylene reports whether a canonical bearing of a hip names
// polyethylene. Dual mobility implies it.
func HasPolyethylene(bearing string) bool {
	return strings.HasSuffix(bearing, "polyethylene") || bearing == DualMobility
}

// Refines reports whether one canonical bearing says the same as another and
// more: that the polyethylene is cross-linked, or that a bearing on
// polyethylene is dual mobility.
func Refines(finer, coarser string) bool {
	if head, ok := strings.CutSuffix(coarser, "-on-"+PlainPolyethylene); ok {
		return finer == head+"-on-"+CrosslinkedPE || finer == DualMobility
	}
	return finer == DualMobility && strings.HasSuffix(coarser, "-on-"+CrosslinkedPE)
}

// longestBearing is more words than any bearing has; a longer cell is not
// tried at every place where head and liner might meet.
const longestBearing = 24

func hipBearing(typed []string) (string, bool) {
	if len(typed) > longestBearing {
		return "", false
	}
	var words []string
	for rest := withoutSizes(typed); len(rest) > 0; {
		if _, n := bearingFillers.next(rest); n > 0 {
			rest = rest[n:]
			continue
		}
		if spelt, ok := hipInitials[rest[0]]; ok {
			words = append(words, spelt...)
		} else {
			words = append(words, rest[0])
		}
		rest = rest[1:]
	}
	switch strings.Join(words, " ") {
	case "ceramicised metal", "ceramicized metal":
		return DeriveBearing(CeramicisedMetal, CrosslinkedPE)
	}
	if dualMobility(words) {
		return DualMobility, true
	}
	for i := 1; i < len(words); i++ {
		h, ok := head(words[:i])
		if !ok {
			continue
		}
		rest := words[i:]
		if _, n := connectors.next(rest); n > 0 {
			rest = rest[n:]
		}
		if l, ok := liner(rest); ok {
			return DeriveBearing(h, l)
		}
	}
	return "", false
}

// dualMobility reports whether dual mobility is named and every other word is
// a material or a connector.
func dualMobility(words []string) bool {
	found := false
	for len(words) > 0 {
		class, n := liners.next(words)
		if n == 0 {
			_, n = heads.next(words)
		}
		if n == 0 {
			_, n = connectors.next(words)
		}
		if n == 0 {
			return false
		}
		found = found || class == DualMobility
		words = words[n:]
	}
	return found
}

// withoutSizes drops numbers of one or two digits, with or without mm, and the
// "and" of a plus sign before one.
func withoutSizes(words []string) []string {
	var kept []string
	for i, word := range words {
		if size(word) || word == "and" && i+1 < len(words) && size(words[i+1]) {
			continue
		}
		kept = append(kept, word)
	}
	return kept
}

func size(word string) bool {
	word = strings.TrimSuffix(word, "mm")
	return (len(word) == 1 || len(word) == 2) && strings.Trim(word, "0123456789") == ""
}
