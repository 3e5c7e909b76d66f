package words

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// The expected meanings in these tests are common usage in orthopaedic
// practice, without a source, except where a comment says otherwise.

// means checks a function on cells listed per canonical value.
func means(t *testing.T, name string, read func(string) Meaning, table map[string][]string) {
	t.Helper()
	for want, cells := range table {
		for _, cell := range append(cells, want) {
			if got := read(cell); got != known(want) {
				t.Errorf("%s(%q) = %+v, want %q, known", name, cell, got, want)
			}
		}
	}
}

// unknownIn checks that cells are given back cleaned and unknown.
func unknownIn(t *testing.T, name string, read func(string) Meaning, cells ...string) {
	t.Helper()
	for _, cell := range cells {
		if got, want := read(cell), (Meaning{Value: Clean(cell)}); got != want {
			t.Errorf("%s(%q) = %+v, want %+v", name, cell, got, want)
		}
	}
}

func bearingOf(joint string) func(string) Meaning {
	return func(s string) Meaning { return Bearing(joint, s).Meaning }
}

func TestHipBearing(t *testing.T) {
	table := map[string][]string{
		"metal-on-polyethylene": {"MoP", "M/P", "MOP", "mop", "metal/poly", "metal on PE", "MoPE", "CoCr/UHMWPE", "m-o-p", "M-P", "M.o.P.",
			" metal  on\u00a0poly ", "Metal-on-Poly", "metal on polyethylene", "CoCr on conventional PE", "stainless steel / UHMWPE", "metal on plastic",
			"MoP (28 mm)", "32mm MoP", "metal head / poly liner", "metal head on poly liner", "metal + poly", "Metall auf PE", "métal sur polyéthylène", "metal on non-crosslinked PE",
			"MoP (non-XL)", "bearing: metal on poly", "MoP conventional"},
		"metal-on-crosslinked-polyethylene": {"MoXLPE", "MoXLP", "MoXPE", "MoHXLPE", "M on XLPE", "metal-XLPE", "MoP (XL)", "MoP(XL)", "MoPXL",
			"metal on highly cross-linked polyethylene", "metal on crosslinked poly", "CoCr/HXLPE", "CoCr on XLPE", "M/XLPE", "metal on vitamin E poly", "MoVEPE",
			"metal on X-linked PE", "MoP (vit E)", "MoP HXLP"},
		"ceramic-on-polyethylene": {"CoP", "C/P", "CoPE", "ceramic/poly", "COP", "Keramik/PE", "céramique sur polyéthylène", "alumina on UHMWPE", "cer-poly",
			"zirconia/PE", "C-O-P"},
		"ceramic-on-crosslinked-polyethylene": {"CoXLPE", "CoXPE", "CoHXLPE", "CoXLP", "CoP(XL)", "CoP (XL)", "ceramic on XLPE", "ceramic-HXLPE", "ZTA on vitamin E polyethylene",
			"Ceramic + XLPE"},
		"ceramic-on-ceramic": {"CoC", "C/C", "cer-cer", "ceramic/ceramic", "Keramik-Keramik", "COC", "alumina on alumina", "c-o-c"},
		"metal-on-metal":     {"MoM", "M/M", "metal/metal", "CoCr on CoCr", "Metall-Metall", "MOM", "36mm MoM"},
		"ceramic-on-metal":   {"CoM", "ceramic/metal", "C/M", "ceramic on CoCr"},
		"ceramicised-metal-on-crosslinked-polyethylene": {"OxZr/XLPE", "oxidised zirconium on XLPE", "oxidized zirconium on XLPE", "ceramicised metal", "Ceramicized metal",
			"OxZr on highly crosslinked PE", "ceramicised metal on XLPE"},
		"ceramicised-metal-on-polyethylene": {"OxZr/PE", "oxidised zirconium on poly", "ceramicised metal on polyethylene"},
		"dual-mobility": {"DM", "dual mob", "Dual mobility", "dual-mobility", "double mobility", "dual mobility (metal / XLPE)", "ceramic on dual mobility", "dual mobility cup",
			"double mobilité"},
	}
	means(t, "Bearing hip", bearingOf(Hip), table)
	means(t, "Bearing any", bearingOf(""), table)
	if len(table) != len(hipBearings) {
		t.Errorf("%d bearings tested, there are %d", len(table), len(hipBearings))
	}
	unknownIn(t, "Bearing hip", bearingOf(Hip),
		"CoCr", "Co", "Co P", "CoX", "MoC", "metal on ceramic", "Mo", "M", "P", "MP", "CC", "MM", "mm", "poly on metal", "XLPE/metal", "XLPE", "poly", "ceramic",
		"metal", "OxZr", "OxZr/ceramic", "MoPs", "CoPX", "CoCoC", "xMoP", "MoP?or CoP", "MoP or CoP", "MoP/CoP", "MoM MoP", "ceramic on poly on metal",
		"CoCr/CoC", "fixed", "mobile", "metal on", "on poly", "metal on on poly", "zirconium on XLPE", "MoXL", "MoP XL non-XL", "constrained", "tripolar", "36", "Médial pivot")
}

func TestKneeBearing(t *testing.T) {
	table := map[string][]string{
		"fixed":  {"Fixed bearing", "FB", "fixed-bearing", "Fixed insert", "vast", "fijo", "fixe"},
		"mobile": {"Mobile bearing", "MB", "rotating platform", "RP", "mobile bearing (rotating platform)", "mobil", "mobiles Inlay", "mobiel", "rörlig", "móvil", "meniscal bearing", "mobile-bearing"},
	}
	means(t, "Bearing knee", bearingOf(Knee), table)
	means(t, "Bearing any", bearingOf(""), table)
	unknownIn(t, "Bearing knee", bearingOf(Knee), "MoP", "CoC", "dual mobility", "fixed or mobile", "PS", "bearing", "fixedly")
	unknownIn(t, "Bearing shoulder", bearingOf("shoulder"), "MoP", "fixed")
}

func TestBearingRefused(t *testing.T) {
	for _, joint := range []string{Hip, Knee, "", "shoulder"} {
		for _, cell := range []string{"bipolar", "Bi-polar hemi? bipolar", "BIPOLAR", "Bipolar head", "unipolar", "monopolar"} {
			if got, want := Bearing(joint, cell), (BearingMeaning{Meaning{Value: Clean(cell)}, true}); got != want {
				t.Errorf("Bearing(%q, %q) = %+v, want %+v", joint, cell, got, want)
			}
		}
	}
	for _, cell := range []string{"MoP", "bipolars", "polar", ""} {
		if Bearing(Hip, cell).Refused {
			t.Errorf("Bearing refuses %q", cell)
		}
	}
}

func TestHead(t *testing.T) {
	means(t, "Head", Head, map[string][]string{
		"metal": {"CoCr", "Co-Cr", "cobalt chrome", "Cobalt-Chrome", "cobalt chromium", "stainless steel", "M", "Metal 28mm", "CoCr 28 mm +4", "32 metal", "CoCrMo", "titanium",
			"metal head"},
		"ceramic":           {"alumina", "zirconia", "zirconia-toughened alumina", "ZTA", "C", "Ceramic 36", "Keramik", "céramique", "ceramic (alumina)", "cer"},
		"ceramicised-metal": {"OxZr", "oxidised zirconium", "oxidized zirconium", "Ceramicised metal", "ceramicized metal", "Ox-Zr 32mm"},
	})
	unknownIn(t, "Head", Head, "zirconium", "CoC", "CoP", "Co", "delta", "36", "28 mm", "head", "metal or ceramic", "ceramic coated metal", "XLPE", "bipolar", "metallurgy", "cerium")
}

func TestLiner(t *testing.T) {
	means(t, "Liner", Liner, map[string][]string{
		"polyethylene": {"poly", "PE", "UHMWPE", "P", "conventional polyethylene", "Polyethylene liner", "plastic", "non-crosslinked PE", "lipped poly", "uncrosslinked polyethylene",
			"ultra-high molecular weight polyethylene", "poly 36mm"},
		"crosslinked-polyethylene": {"XLPE", "HXLPE", "HXLP", "VEPE", "vitamin E polyethylene", "Vit E", "highly cross-linked polyethylene", "crosslinked poly", "X-linked PE",
			"highly crosslinked", "XL poly", "vitamin E infused HXLPE", "PE (crosslinked)", "XLPE 32 mm lipped"},
		"ceramic":       {"Ceramic", "alumina", "C", "cer liner"},
		"metal":         {"CoCr", "Metal", "M"},
		"dual-mobility": {"DM", "dual mobility", "dual mobility XLPE", "Dual mobility (metal liner)"},
	})
	unknownIn(t, "Liner", Liner, "XL", "conventional", "standard", "non-crosslinked", "crosslinked non-crosslinked poly", "ceramic poly", "metal/XLPE", "antioxidant PE", "PEEK",
		"OxZr", "constrained", "liner", "neutral", "polyethylenes")
}

func TestPolyethylene(t *testing.T) {
	means(t, "Polyethylene", Polyethylene, map[string][]string{
		"conventional": {"conventional PE", "standard", "std poly", "conv", "non-crosslinked", "not cross-linked", "UHMWPE (conventional)", "UHMWPE", "UHMW poly"},
		"crosslinked":  {"XLPE", "cross-linked UHMWPE", "HXLPE", "highly cross-linked", "XL", "vitamin E", "x-linked", "cross-linked polyethylene"},
	})
	unknownIn(t, "Polyethylene", Polyethylene, "poly", "PE", "standard XLPE", "yes", "insert")
}

func TestDeriveBearing(t *testing.T) {
	// One row per head, one column per liner; "-" has no canonical bearing.
	liners := []string{PlainPolyethylene, CrosslinkedPE, Ceramic, Metal, DualMobility, "", "wood"}
	for head, row := range map[string][]string{
		Metal:            {"metal-on-polyethylene", "metal-on-crosslinked-polyethylene", "-", "metal-on-metal", "dual-mobility", "-", "-"},
		Ceramic:          {"ceramic-on-polyethylene", "ceramic-on-crosslinked-polyethylene", "ceramic-on-ceramic", "ceramic-on-metal", "dual-mobility", "-", "-"},
		CeramicisedMetal: {"ceramicised-metal-on-polyethylene", "ceramicised-metal-on-crosslinked-polyethylene", "-", "-", "dual-mobility", "-", "-"},
		"":               {"-", "-", "-", "-", "dual-mobility", "-", "-"},
		"wood":           {"-", "-", "-", "-", "dual-mobility", "-", "-"},
	} {
		for i, want := range row {
			got, ok := DeriveBearing(head, liners[i])
			if ok != (want != "-") || ok && got != want || !ok && got != "" {
				t.Errorf("DeriveBearing(%q, %q) = %q, %v, want %q", head, liners[i], got, ok, want)
			}
		}
	}
}

func TestRefines(t *testing.T) {
	var got [][2]string
	for _, finer := range append(HipBearings(), FixedBearing, MobileBearing) {
		for _, coarser := range append(HipBearings(), FixedBearing, MobileBearing) {
			if Refines(finer, coarser) {
				got = append(got, [2]string{finer, coarser})
			}
		}
	}
	want := [][2]string{
		{"metal-on-crosslinked-polyethylene", "metal-on-polyethylene"},
		{"ceramic-on-crosslinked-polyethylene", "ceramic-on-polyethylene"},
		{"ceramicised-metal-on-crosslinked-polyethylene", "ceramicised-metal-on-polyethylene"},
		{"dual-mobility", "metal-on-polyethylene"}, {"dual-mobility", "metal-on-crosslinked-polyethylene"},
		{"dual-mobility", "ceramic-on-polyethylene"}, {"dual-mobility", "ceramic-on-crosslinked-polyethylene"},
		{"dual-mobility", "ceramicised-metal-on-polyethylene"}, {"dual-mobility", "ceramicised-metal-on-crosslinked-polyethylene"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("Refines (-want +got):\n%s", diff)
	}
}

func TestHasPolyethylene(t *testing.T) {
	for _, bearing := range append(HipBearings(), FixedBearing, MobileBearing) {
		want := strings.Contains(bearing, "polyethylene") || bearing == "dual-mobility"
		if got := HasPolyethylene(bearing); got != want {
			t.Errorf("HasPolyethylene(%q) = %v", bearing, got)
		}
	}
}

func TestFixation(t *testing.T) {
	means(t, "Fixation", Fixation, map[string][]string{
		"cemented": {"Cement", "cem", "Cemented", "fully cemented", "zementiert", "cimenté", "cementerad", "all cemented", "both components cemented",
			"cemented stem, cemented cup"},
		"porous": {"cementless", "uncemented", "unceme.", "un-cemented", "press-fit", "pressfit", "HA", "HA-coated", "cementless (HA)", "biological", "no cement", "non-cemented", "not cemented",
			"zementfrei", "sans ciment", "porous coated", "uncemented HA press fit", "hydroxyapatite", "stem uncemented cup uncemented"},
		"hybrid": {"Hybrid", "hyb", "Hyb.", "hybrid fixation", "cemented stem, uncemented cup", "uncemented cup / cemented stem", "cup porous, stem cemented",
			"uncemented acetabulum, cemented femoral component", "tibia cemented, femur porous"},
		"reverse hybrid": {"Reverse Hybrid", "inverse hybrid", "inverted hybrid", "rev. hybrid", "rev hyb", "reverse-hybrid", "cemented cup, uncemented stem", "omvendt hybrid",
			"femur cemented, tibia uncemented"},
	})
	unknownIn(t, "Fixation", Fixation, "C", "U", "H", "cemented or uncemented", "cemented/uncemented", "cemented cup", "stem", "cemented HA", "no", "hybrids",
		"cup cemented stem", "cemented cup, stem uncemented", "cemented stem, cemented stem", "cemented stem uncemented tibia", "screw")
}

func TestComponentFixation(t *testing.T) {
	means(t, "ComponentFixation", ComponentFixation, map[string][]string{
		"cemented": {"cement", "cemented stem", "Zementiert"},
		"porous":   {"uncemented", "press-fit", "HA coated", "cementless cup", "no cement"},
	})
	unknownIn(t, "ComponentFixation", ComponentFixation, "hybrid", "reverse hybrid", "yes", "cup", "cemented porous")
}

func TestDeriveFixation(t *testing.T) {
	for _, test := range []struct{ joint, first, second, want string }{
		{Hip, Cemented, Cemented, Cemented},
		{Hip, Porous, Porous, Porous},
		{Hip, Porous, Cemented, Hybrid}, // porous cup, cemented stem
		{Hip, Cemented, Porous, ReverseHybrid},
		{Knee, Cemented, Cemented, Cemented},
		{Knee, Porous, Porous, Porous},
		{Knee, Cemented, Porous, Hybrid}, // cemented tibia, porous femur
		{Knee, Porous, Cemented, ReverseHybrid},
		{"ankle", Porous, Porous, Porous},
		{"", Cemented, Cemented, Cemented},
		{"ankle", Porous, Cemented, ""},
		{"", Porous, Cemented, ""},
		{Hip, "", Cemented, ""},
		{Hip, Porous, "", ""},
		{Hip, Hybrid, Hybrid, ""},
		{Knee, "glued", Porous, ""},
	} {
		got, ok := DeriveFixation(test.joint, test.first, test.second)
		if got != test.want || ok != (test.want != "") {
			t.Errorf("DeriveFixation(%q, %q, %q) = %q, %v, want %q", test.joint, test.first, test.second, got, ok, test.want)
		}
	}
}

func TestSide(t *testing.T) {
	means(t, "Side", Side, map[string][]string{
		"left":      {"L", "Lt", "Left", "lt.", "LEFT", "left hip", "links", "li", "li.", "Lks.", "gauche", "izquierda", "izda.", "venstre", "vänster", "(L)"},
		"right":     {"R", "Rt", "Right", "right knee", "rechts", "re", "Re.", "droite", "derecha", "dcha.", "højre", "høyre", "höger", "R "},
		"bilateral": {"B", "Bilat", "Bilateral", "both", "L+R", "L & R", "left and right", "right + left", "B/L", "both knees", "beidseits", "bds.", "beids."},
	})
	unknownIn(t, "Side", Side, "L/R", "left right", "D", "G", "leftish", "and", "left or right", "hip", "1", "left both")
}

func TestSex(t *testing.T) {
	means(t, "Sex", Sex, map[string][]string{
		"female": {"F", "f", "Female", "woman", "weiblich", "w", "femme", "kvinne", "Kvinna", "vrouw", "mujer", "FEMALE"},
		"male":   {"M", "m", "Male", "man", "männlich", "homme", "mann", "hombre"},
	})
	unknownIn(t, "Sex", Sex, "1", "2", "D", "H", "X", "other", "non-binary", "M/F", "male or female", "femal")
}

func TestYesNo(t *testing.T) {
	for name, read := range map[string]func(string) Meaning{"Dead": Dead, "Revised": Revised} {
		means(t, name, read, map[string][]string{
			"yes": {"Y", "Yes", "TRUE", "T", "1", "1.0", "ja", "J", "oui", "sí", "Wahr"},
			"no":  {"N", "No", "false", "F", "0", "0.0", "nein", "non", "nej", "nei", "nee", "Falsch"},
		})
		unknownIn(t, name, read, "2", "maybe", "yes/no", "x", "yes?no", "nope")
	}
	means(t, "Dead", Dead, map[string][]string{
		"yes": {"dead", "RIP", "R.I.P.", "late", "Deceased", "died", "verstorben", "décédé", "død"},
		"no":  {"Alive", "living", "not dead", "lebt", "en vie"},
	})
	means(t, "Revised", Revised, map[string][]string{
		"yes": {"Revised", "redone", "exchanged", "Poly swap", "liner exchange", "revision", "revidiert", "révisé"},
		"no":  {"not revised", "in situ", "unrevised", "none", "no revision", "No (in situ)"},
	})
	unknownIn(t, "Dead", Dead, "revised", "in situ", "lost")
	unknownIn(t, "Revised", Revised, "dead", "deceased", "alive", "pending")
}

func TestJoint(t *testing.T) {
	means(t, "Joint", Joint, map[string][]string{
		"hip":      {"Hip", "HIP", "hips", "left hip", "THR", "Hüfte", "hanche", "hip joint", "H"},
		"knee":     {"Knee", "k", "knees", "Knie", "TKR", "UKR", "genou", "right knee"},
		"shoulder": {"Shoulder"}, "elbow": {"ELBOW"}, "ankle": {"Ankle"}, "wrist": {},
	})
	for cell, want := range map[string]string{
		"Toe": "toe", "MTP  Joint 1": "mtp joint 1", "hip or knee": "hip or knee", "Hip & Knee": "hip & knee", "H/K": "h/k", "left": "left", "hipster": "hipster", "": "",
	} {
		if got := Joint(cell); got != (Meaning{Value: want}) {
			t.Errorf("Joint(%q) = %+v, want %q, unknown", cell, got, want)
		}
	}
}

func TestReason(t *testing.T) {
	means(t, "Reason", Reason, map[string][]string{
		"infection": {"Infection", "infected", "PJI", "deep infection", "septic loosening", "sepsis", "periprosthetic joint infection", "Infektion", "Infekt", "Spätinfekt", "suspected infection", "?infection"},
		"aseptic loosening": {"aseptic loosening", "Aseptic loosening - cup", "loosening", "loose stem", "aseptic loosening of tibial component", "aseptic loosening (both)",
			"aseptic loosening femur", "Lockerung", "Pfannenlockerung", "lossning", "descellement", "loosening of acetabular component"},
		"lysis":                            {"osteolysis", "bone lysis"},
		"dislocation or instability":       {"dislocation", "instability", "recurrent dislocation", "Dislocation/instability", "unstable knee", "bearing dislocation", "Luxation", "subluxation"},
		"periprosthetic fracture":          {"peri-prosthetic fracture", "Periprosthetic #fracture", "PPF", "periprosthetic femoral fracture", "femoral fracture", "Periprothetische Fraktur"},
		"wear or liner failure":            {"wear", "poly wear", "liner wear", "polyethylene wear", "liner dissociation", "liner failure", "ceramic liner fracture", "insert wear"},
		"adverse reaction to metal debris": {"ARMD", "metallosis", "ALVAL", "pseudotumour", "ALTR", "Adverse reaction to metal debris"},
		"component fracture":               {"stem fracture", "implant fracture", "broken stem", "ceramic head fracture", "femoral component fracture", "implant breakage"},
		"malposition":                      {"malalignment", "malrotation", "cup malposition", "component malposition", "mal-alignment"},
		"pain":                             {"unexplained pain", "painful", "knee pain", "Schmerzen", "persistent pain"},
		"stiffness":                        {"stiff", "arthrofibrosis", "stiff knee"},
		"progression of disease":           {"disease progression", "progression of OA", "lateral progression", "progression", "progression of arthritis"},
		"patellar problem":                 {"patellar maltracking", "patella problem", "secondary patella resurfacing", "patellar dislocation"},
		"leg length":                       {"leg length discrepancy", "LLD", "leg-length"},
		"other":                            {"Other", "misc", "other reason", "autre", "Sonstige"},
	})
	unknownIn(t, "Reason", Reason, "infection and loosening", "fracture", "not infected", "no infection", "pain or stiffness", "femoral neck fracture", "head fracture", "wear/lysis",
		"cup", "deep", "infectious", "PP", "A", "1")
}

func TestProcedure(t *testing.T) {
	total := func(joint string) ProcedureMeaning {
		return ProcedureMeaning{Procedure: "total", Joint: joint, Known: true}
	}
	with := func(m ProcedureMeaning, side, fixation string) ProcedureMeaning {
		m.Side, m.Fixation = side, fixation
		return m
	}
	uni := ProcedureMeaning{Procedure: "unicompartmental", Joint: "knee", Known: true}
	pfj := ProcedureMeaning{Procedure: "patellofemoral", Joint: "knee", Known: true}
	hra := ProcedureMeaning{Procedure: "resurfacing", Joint: "hip", Known: true}
	hemi := ProcedureMeaning{Procedure: "hemiarthroplasty", Known: true}
	hemiHip := ProcedureMeaning{Procedure: "hemiarthroplasty", Joint: "hip", Known: true}
	for _, test := range []struct {
		want  ProcedureMeaning
		cells []string
	}{
		{total(""), []string{"total", "Total replacement", "total arthroplasty", "primary total"}},
		{total("hip"), []string{"THR", "THA", "total hip replacement", "Total Hip Arthroplasty", "total hip", "primary THR", "T.H.R.", "hip: total", "Primary total hip replacement",
			"Hüft-TEP", "HTEP", "H-TEP", "HTEP (primär)", "PTC", "prothèse totale de hanche", "THR for OA", "robotic THR", "elective THR", "THR (total hip replacement)", "THR for fracture", "conversion of DHS to THR",
			"conversion from failed fixation to THR"}},
		{total("knee"), []string{"TKR", "TKA", "total knee replacement", "Total knee", "Primary TKR", "Knie-TEP", "KTEP", "K-TEP", "PTR", "Totalprothese Knie", "TEP, Knie", "prothèse totale du genou", "cruciate retaining TKR",
			"TKR with patella resurfacing", "TKR + patellar resurfacing"}},
		{total("shoulder"), []string{"TSR", "total shoulder replacement"}},
		{total("ankle"), []string{"total ankle replacement"}},
		{with(total("hip"), "left", ""), []string{"Left THR", "L THR", "THR (L)", "THR left", "Lt. total hip replacement"}},
		{with(total("knee"), "right", ""), []string{"Right TKR", "TKR R", "R TKA"}},
		{with(total("knee"), "bilateral", ""), []string{"bilateral TKR", "TKR L+R", "bilat TKR", "1st stage bilateral TKR"}},
		{with(total("hip"), "", "cemented"), []string{"cemented THR", "THR, cemented"}},
		{with(total("hip"), "left", "porous"), []string{"Left uncemented THR", "L THR cementless"}},
		{with(total("hip"), "", "reverse hybrid"), []string{"reverse hybrid THR", "rev hybrid THR"}},
		{uni, []string{"unicompartmental", "UKR", "UKA", "UKR medial", "UKR lateral", "Medial UKR", "partial", "partial knee", "partial knee replacement",
			"uni", "Uni knee", "Schlittenprothese", "Schlitten medial", "unicondylar knee replacement", "PKR", "uni-compartmental", "knee unicompartmental"}},
		{with(uni, "left", ""), []string{"left medial UKR", "UKR medial L"}},
		{pfj, []string{"PFJ", "PFA", "patellofemoral", "Patello-femoral replacement", "patellofemoral joint replacement", "PFJ replacement", "PFR"}},
		{hra, []string{"HRA", "HR", "hip resurfacing", "Hip Resurfacing Arthroplasty", "resurfacing hip", "resurfacing of the hip"}},
		{ProcedureMeaning{Procedure: "resurfacing", Known: true}, []string{"resurfacing"}},
		{hemi, []string{"hemiarthroplasty", "Hemi", "bipolar hemiarthroplasty", "Duokopfprothese", "hemi-arthroplasty", "unipolar hemi"}},
		{hemiHip, []string{"hip hemiarthroplasty", "hemi hip"}},

		// Revisions, the procedure understood.
		{ProcedureMeaning{Procedure: "total", Joint: "hip", Known: true, Revision: true}, []string{"revision THR", "Rev THR", "re-revision THR", "THR revision", "THR exchange", "THR 1st stage",
			"2nd stage THR", "Revision total hip replacement"}},
		{ProcedureMeaning{Procedure: "total", Joint: "knee", Known: true, Revision: true}, []string{"rev TKR", "TKR revision", "TKR, exchange"}},
		{ProcedureMeaning{Procedure: "total", Joint: "knee", Side: "left", Known: true, Revision: true}, []string{"rev TKR L", "Left revision TKR"}},
		{ProcedureMeaning{Procedure: "unicompartmental", Joint: "knee", Known: true, Revision: true}, []string{"revision UKR"}},
	} {
		for _, cell := range test.cells {
			if diff := cmp.Diff(test.want, Procedure(cell)); diff != "" {
				t.Errorf("Procedure(%q) (-want +got):\n%s", cell, diff)
			}
		}
	}
	for _, cell := range []string{"1st stage", "first stage", "exchange", "DAIR with exchange", "DAIR + liner exchange", "revision", "liner exchange", "Girdlestone", "removal of prosthesis",
		"conversion of hemi to THR", "conversion hemiarthroplasty to THR", "conversion of UKR to TKR", "UKR converted to TKR", "conversion of hip resurfacing to THR", "THR-Wechsel", "TKR revision for infection XYZ",
		"excision arthroplasty", "secondary patellar resurfacing", "patella resurfacing", "something revision something", "reprise de PTH", "two stage exchange"} {
		if m := Procedure(cell); !m.Revision || m.Reoperation {
			t.Errorf("Procedure(%q) = %+v, want a revision", cell, m)
		}
	}
	for _, cell := range []string{"DAIR", "washout", "TKR washout", "MUA", "MUA left knee", "closed reduction", "ORIF", "manipulation under anaesthetic", "arthroscopy", "washout of THR xyz"} {
		if m := Procedure(cell); m.Revision || !m.Reoperation || m.Known || m.Procedure != cell {
			t.Errorf("Procedure(%q) = %+v, want a reoperation", cell, m)
		}
	}
	for cell, want := range map[string]ProcedureMeaning{
		"hip replacement":              {Joint: "hip"},
		"Left  knee arthroplasty":      {Joint: "knee", Side: "left"},
		"hip":                          {Joint: "hip"},
		"THR TKR":                      {},
		"hip UKR":                      {},
		"partial hip replacement":      {Joint: "hip"},
		"knee resurfacing":             {Joint: "knee"},
		"lateral":                      {},
		"medial TKR":                   {Joint: "knee"},
		"bipolar THR":                  {Joint: "hip"},
		"conversion THR":               {Joint: "hip"},
		"DHS":                          {},
		"THR DHS":                      {Joint: "hip"},
		"cemented uncemented THR":      {Joint: "hip"},
		"THR with unheard-of addition": {Joint: "hip"},
		"TKR UKR":                      {Joint: "knee"},
		"one stage":                    {},
		"RTHR":                         {},
		"reverse THR":                  {Joint: "hip"},
		"revers":                       {},
		"primary":                      {},
		"THRX":                         {},
		"secondary THR":                {Joint: "hip"},
		"L R THR":                      {Joint: "hip"},
		"":                             {},
	} {
		want.Procedure = Clean(cell)
		if cell == "L R THR" { // two sides without "and": the procedure is known, the side is not
			want.Procedure, want.Known = "total", true
		}
		if diff := cmp.Diff(want, Procedure(cell)); diff != "" {
			t.Errorf("Procedure(%q) (-want +got):\n%s", cell, diff)
		}
	}
}

func TestOperationType(t *testing.T) {
	means(t, "OperationType", OperationType, map[string][]string{
		"primary":     {"Primary", "PRIMARY", "prim", "primary THR", "THR", "primary joint replacement", "Primär", "P", "Prim", "1°", "1º", "1ry"},
		"revision":    {"Revision", "rev", "re-revision", "1st stage revision", "revision THR", "exchange", "Wechsel", "R", "Rev", "Redo", "re-do", "2°", "2º", "secondary", "poly swap"},
		"reoperation": {"DAIR", "washout", "reoperation washout"},
	})
	unknownIn(t, "OperationType", OperationType, "L", "PR", "elective", "1", "2", "1° or 2°", "conversion", "primary something")
}

// What a cell of that column says that is no type, and what is not understood.
func TestNoOperationType(t *testing.T) {
	for cell, want := range map[string]bool{
		"elective": true, "Emergency": true, "hip replacement": true, "left": true,
		"": true, "conversion": false, "C": false, "DHS": false, "primary something": false, "R": false, "THR": false,
	} {
		if got := NoOperationType(cell); got != want {
			t.Errorf("NoOperationType(%q) = %v", cell, got)
		}
	}
}

func TestNames(t *testing.T) {
	for _, test := range []struct {
		cell             string
		somebody, mayBut bool
	}{
		{"PERSON, Test", true, true}, {"Person, T.", true, true}, {"L (Test Person)", false, true}, {"Test Person", false, true}, {"Cem - Test Persona b. 1944", true, true},
		{"born 1944", true, false}, {"28/36, 2019", true, false},
		{"Alpha Beta", false, true}, {"Persona T.", false, true}, {"T. Persona", false, true}, {"Persona T", false, false}, {"L. R.", false, false},
		{"metal, ceramic", false, false}, {"Metal, Ceramic", false, false}, {"Total Hip Replacement With Cup", false, false}, {"Custom", false, false}, {"custom made", false, false},
		{"", false, false}, {"Head 36", false, false}, {"size 1944mm2", true, false},
	} {
		if a, b := NamesSomebody(test.cell), MayName(test.cell); a != test.somebody || b != test.mayBut {
			t.Errorf("%q: %v and %v, want %v and %v", test.cell, a, b, test.somebody, test.mayBut)
		}
	}
}

func TestLabel(t *testing.T) {
	for cell, want := range map[string]bool{
		"Total": true, "TOTALS": true, "Subtotal 2019": true, "sub-total": true, "YEAR 2018": true, "Printed:": true, "Stand: ": true, "Average age": true, "n =": false,
		"p12": false, "THR": false, "Totalis": false, "": false, "total hip": true,
	} {
		if got := Label(cell); got != want {
			t.Errorf("Label(%q) = %v", cell, got)
		}
	}
}

func TestCleanAndFold(t *testing.T) {
	for _, test := range []struct{ typed, clean, fold string }{
		{"  Osteo-arthritis \t of\u00a0hip ", "Osteo-arthritis of hip", "osteo arthritis of hip"},
		{"OSTEO ARTHRITIS OF HIP", "OSTEO ARTHRITIS OF HIP", "osteo arthritis of hip"},
		{"Coxarthrose à droite", "Coxarthrose à droite", "coxarthrose a droite"},
		{"Größe ﬁx", "Größe ﬁx", "grosse fix"},
		{"T.H.R.", "T.H.R.", "thr"},
		{"L.THR n.a. St. 3.5", "L.THR n.a. St. 3.5", "l thr na st 3 5"},
		{"L+R & so", "L+R & so", "l and r and so"},
		{"højre", "højre", "hojre"},
		{"—", "—", ""},
		{"", "", ""},
	} {
		if got := Clean(test.typed); got != test.clean {
			t.Errorf("Clean(%q) = %q, want %q", test.typed, got, test.clean)
		}
		if got := Fold(test.typed); got != test.fold {
			t.Errorf("Fold(%q) = %q, want %q", test.typed, got, test.fold)
		}
	}
}

// Phrases stand in the vocabularies as Fold leaves them, or nothing would ever
// match them.
func TestPhrasesAreFolded(t *testing.T) {
	if len(vocabularies) < 15 {
		t.Fatalf("%d vocabularies", len(vocabularies))
	}
	for _, v := range append([]*vocabulary{spreadsheetErrors, labels, identifying}, vocabularies...) {
		v.built()
		for phrase := range v.phrases {
			if phrase == "" || Fold(phrase) != phrase {
				t.Errorf("phrase %q folds to %q", phrase, Fold(phrase))
			}
		}
	}
}

// The time taken grows in step with the length of a cell.
func BenchmarkBearing(b *testing.B) {
	for _, size := range []int{10, 1000, 100_000} {
		b.Run(fmt.Sprintf("bytes=%d", size), func(b *testing.B) {
			cell := strings.Repeat("CoCr XLPE ", size/10)
			b.SetBytes(int64(size))
			b.ReportAllocs()
			for b.Loop() {
				Bearing(Hip, cell)
			}
		})
	}
}

// Plain text is split as any other is.
func TestPlainTokens(t *testing.T) {
	every := make([]byte, 0, 128)
	for c := range byte(128) {
		if !strings.ContainsRune(".+&", rune(c)) {
			every = append(every, c)
		}
	}
	for _, s := range []string{"", " ", "THR", "Total  hip/replacement (L)", "H01-000001", "x_y\tz", string(every), "Subtotal 2019:"} {
		got, ok := plainTokens(s)
		if diff := cmp.Diff(mixedTokens(s), got, cmpopts.EquateEmpty()); diff != "" || !ok {
			t.Errorf("%q: %s", s, diff)
		}
	}
	for _, s := range []string{"T.H.R.", "L + R", "cup & stem", "Hüfte", "a\u00a0b"} {
		if _, ok := plainTokens(s); ok {
			t.Errorf("%q is taken for plain", s)
		}
	}
}
