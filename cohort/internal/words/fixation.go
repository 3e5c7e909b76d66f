package words

const cementedWords = `cemented, cement, cem, fully cemented, all cemented, zementiert, cimente, cimentee, cementerad, cementeret,
	sementert, gecementeerd, cementado, cementada`

const porousWords = `porous, cementless, cement less, uncemented, un cemented, non cemented, noncemented, not cemented,
	no cement, without cement, cement free, press fit, pressfit, press fitted, ha, ha coated, hac, hydroxyapatite, hydroxyapatite coated,
	hydroxy apatite, biological, biologic, porous coated, porous coating, ingrowth, bone ingrowth, porous ingrowth, uncem, unceme, uncemen, uncement,
	zementfrei, zementlos, unzementiert, sans ciment, non cimente, non cimentee, ucementeret, ocementerad, usementert,
	ongecementeerd, no cementado, no cementada, sin cemento`

const (
	hybridWords        = `hybrid, hyb, hybride, hibrido, hibrida`
	reverseHybridWords = `reverse hybrid, reversed hybrid, rev hybrid, rev hyb, reverse hyb, inverse hybrid, inverted hybrid, hybrid reverse,
		hybrid inverse, invers hybrid, inverser hybrid, hybride inverse, omvendt hybrid, omvand hybrid, omgekeerde hybride`
	fixationFillers = `fixation, fixed, fully, full, all, both, both components, and, the, implant, implants, components, component`
)

var (
	fixations = newVocabulary(
		Cemented, cementedWords,
		Porous, porousWords,
		Hybrid, hybridWords,
		ReverseHybrid, reverseHybridWords,
		filler, fixationFillers,
		"cup", `cup, acetabulum, acetabular, shell, socket`,
		"stem", `stem`,
		"tibia", `tibia, tibial, tray`,
		"femur", `femur, femoral`,
	)
	componentFixations = newVocabulary(
		Cemented, cementedWords,
		Porous, porousWords,
		filler, fixationFillers+`, cup, acetabulum, acetabular, shell, socket, stem, tibia, tibial, tray, femur, femoral`,
	)
)

// Fixation reads the fixation of a whole joint: cemented, porous, hybrid or
// reverse hybrid. Both components may be spelt out, as in "cemented stem,
// uncemented cup" or "tibia cemented, femur porous". Whatever a table's
// component columns say goes before the word, since hybrid is used in both
// senses for the knee; see DeriveFixation.
func Fixation(s string) Meaning {
	words := tokens(s)
	if found, ok := fixations.classes(words); ok {
		if class, ok := found.only(); ok && found.within(Cemented, Porous, Hybrid, ReverseHybrid) {
			return known(class)
		}
		if value, ok := spelt(words); ok {
			return known(value)
		}
	}
	return unknown(s)
}

// TwoFixations says whether a cell names how two components are fixed and not which of
// them is which, as "Cem/Uncem" does.
func TwoFixations(s string) bool {
	found, ok := fixations.classes(tokens(s))
	return ok && found[Cemented] && found[Porous] && found.within(Cemented, Porous)
}

// spelt reads two components with a fixation each, all before or all after
// their component.
func spelt(words []string) (string, bool) {
	var order []string
	for len(words) > 0 {
		class, n := fixations.next(words)
		if n == 0 {
			return "", false
		}
		if class != filler {
			order = append(order, class)
		}
		words = words[n:]
	}
	if len(order) != 4 {
		return "", false
	}
	how := make(map[string]string)
	for i := 0; i < 4; i += 2 {
		fixation, component := order[i], order[i+1]
		if isComponent(fixation) {
			fixation, component = component, fixation
		}
		if !isComponent(component) || fixation != Cemented && fixation != Porous || isComponent(order[i]) != isComponent(order[0]) {
			return "", false
		}
		how[component] = fixation
	}
	if how["cup"] != "" { // beside a cup the femoral component is the stem
		stem := how["stem"]
		if stem == "" {
			stem = how["femur"]
		}
		return DeriveFixation(Hip, how["cup"], stem)
	}
	return DeriveFixation(Knee, how["tibia"], how["femur"])
}

func isComponent(class string) bool {
	switch class {
	case "cup", "stem", "tibia", "femur":
		return true
	}
	return false
}

// ComponentFixation reads the fixation of one component: cemented or porous.
func ComponentFixation(s string) Meaning { return componentFixations.read(s) }

// DeriveFixation gives the fixation of a joint from the canonical fixations of
// its components: cup and stem of a hip, tibia and femur of a knee. A hybrid
// hip is a porous cup with a cemented stem; a hybrid knee is a cemented tibia
// with a porous femur; the opposites are reverse hybrids. It reports false if
// either is not cemented or porous, or if the two differ and the joint is
// neither hip nor knee.
func DeriveFixation(joint, cupOrTibia, stemOrFemur string) (string, bool) {
	for _, how := range []string{cupOrTibia, stemOrFemur} {
		if how != Cemented && how != Porous {
			return "", false
		}
	}
	switch {
	case cupOrTibia == stemOrFemur:
		return cupOrTibia, true
	case joint == Hip && cupOrTibia == Porous, joint == Knee && cupOrTibia == Cemented:
		return Hybrid, true
	case joint == Hip || joint == Knee:
		return ReverseHybrid, true
	}
	return "", false
}
