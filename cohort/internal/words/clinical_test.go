package words

import "testing"

// Diagnoses as they are typed: common practice, no source.
func TestDiagnosis(t *testing.T) {
	means(t, "Diagnosis", Diagnosis, map[string][]string{
		Osteoarthritis: {"OA", "O.A.", "OA left hip", "OA L hip", "(R) OA", "primary OA", "Osteo-arthritis", "end-stage OA", "OA medial compartment", "Medial OA knee", "OA grade 4", "secondary OA",
			"DJD", "Coxarthrose", "Gonarthrose", "Arthrose", "arthrosis", "tricompartmental OA", "Degenerative arthritis"},
		Fracture:              {"#NOF", "# NOF", "NOF", "fractured NOF", "NOF fracture", "Neck of femur fracture", "hip fracture", "acute fracture", "intracapsular fracture", "displaced intracapsular fracture L", "Schenkelhalsfraktur"},
		AvascularNecrosis:     {"AVN", "A.V.N.", "Osteonecrosis", "avascular necrosis of the femoral head", "AVN R hip", "AVN with OA", "OA secondary to AVN", "Hüftkopfnekrose"},
		InflammatoryArthritis: {"RA", "Rheumatoid", "rheumatoid arthritis", "Inflammatory", "psoriatic arthritis", "Ankylosing spondylitis", "JIA", "inflammatory arthropathy"},
		ChildhoodDisease: {"DDH", "CDH", "Hip dysplasia", "Dysplasia", "OA secondary to DDH", "OA due to dysplasia", "OA with Perthes", "Perthes'", "Legg-Calvé-Perthes disease", "SUFE", "slipped upper femoral epiphysis",
			"dysplastic OA", "dysplastic hip arthritis"},
		PostTraumatic:  {"Post traumatic", "post-traumatic OA", "Posttraumatic arthritis", "PTOA", "OA following fracture", "OA secondary to old fracture", "failed fixation", "previous fracture"},
		OtherDiagnosis: {"Other", "misc", "sonstige"},
	})
	unknownIn(t, "Diagnosis", Diagnosis, "OA / AVN", "OA + DDH", "OA, RA", "arthritis", "trauma", "fracture with OA", "pain", "tumour", "failed hemiarthroplasty", "septic arthritis", "DDH with Perthes and OA", "left hip", "Paget")
}

func TestActivity(t *testing.T) {
	means(t, "Activity", Activity, map[string][]string{
		"low": {"Low", "L", "sedentary", "low demand", "low activity"}, "moderate": {"Mod", "medium", "M", "moderately active"}, "high": {"HIGH", "H", "very active", "high demand"},
		"7": {"7.0", "7,0", "'7"}, "6.5": {"6,5"}, "0": nil, "10": nil,
	})
	unknownIn(t, "Activity", Activity, "active", "low-moderate", "7/10", "-3", "walks a lot")
}

func TestPhysicalStatus(t *testing.T) {
	means(t, "PhysicalStatus", PhysicalStatus, map[string][]string{
		"1": {"I", "ASA 1", "ASA I", "asa1", "1.0"}, "2": {"II", "ii", "ASA 2", "ASA II", "2E", "IIE", "2 E", "2.0", "2,0", "ASA grade 2", "P2", "ASA-2", "ASA: II", "ASA PS II"},
		"3": {"III", "ASA III", "3e"}, "4": {"IV", "ASA 4"}, "5": {"V"},
	})
	unknownIn(t, "PhysicalStatus", PhysicalStatus, "6", "VI", "2.5", "2,5", "2-3", "2/3", "IIII", "22", "ASA", "E", "9", "fit")
}

func TestBodyMassIndex(t *testing.T) {
	means(t, "BodyMassIndex", BodyMassIndex, map[string][]string{"27.4": {"27,4", "27.40", "27.4 kg/m2", "27,4 kg/m²", "27.4kg/m2"}, "31": {"31.0"}})
	unknownIn(t, "BodyMassIndex", BodyMassIndex, "obese", "27/31", "95 kg", "BMI 27", ">40")
}

func TestSmoking(t *testing.T) {
	means(t, "Smoking", Smoking, map[string][]string{
		"never": {"Never", "never smoked", "never-smoker"}, "former": {"ex", "Ex-smoker", "ex smoker", "former smoker", "previous", "quit", "stopped"},
		"non-smoker": {"No", "N", "non smoker", "nonsmoker", "Nichtraucher"}, "current": {"Yes", "Y", "smoker", "current smoker", "Smokes"},
	})
	unknownIn(t, "Smoking", Smoking, "20/day", "10 pack years", "1", "0", "never/ex", "vapes")
}

func TestTechnique(t *testing.T) {
	means(t, "Technique", Technique, map[string][]string{
		"manual": {"Manual", "conventional", "Conventional instruments", "standard", "non-navigated", "free-hand"}, "navigated": {"nav", "Navigation", "Computer navigated", "computer-assisted", "CAS"},
		"robotic-assisted": {"robot", "Robotic", "robot-assisted", "Robotic arm assisted", "robotically assisted surgery"}, "patient-specific": {"PSI", "patient specific instruments", "Patient-matched guides"},
	})
	unknownIn(t, "Technique", Technique, "yes", "no", "robot: no", "robotic and navigated", "new")
}

func TestApproach(t *testing.T) {
	means(t, "Approach", Approach, map[string][]string{
		"posterior": {"Post", "posterior approach", "Postero-lateral", "mini posterior", "Kocher-Langenbeck"}, "lateral": {"Lat", "direct lateral", "Hardinge", "modified Hardinge", "transgluteal"},
		"anterolateral": {"antero-lateral", "Watson-Jones", "ALA"}, "anterior": {"DAA", "Direct anterior", "Smith-Petersen", "Hueter"}, "trochanteric": {"trochanteric osteotomy", "ETO"},
		"medial parapatellar": {"MPP", "parapatellar", "Medial para-patellar"}, "subvastus": {"sub-vastus", "mini subvastus"}, "midvastus": {"mid vastus"}, "lateral parapatellar": {"LPP"},
		"tibial tubercle osteotomy": {"TTO"}, "other": nil,
	})
	unknownIn(t, "Approach", Approach, "medial", "minimally invasive", "P", "A", "posterior/lateral", "through the back of it")
}

func TestGrade(t *testing.T) {
	means(t, "Grade", Grade, map[string][]string{
		"consultant": {"Cons", "Consultant surgeon", "attending"}, "staff grade": {"SAS", "associate specialist", "Specialty doctor"}, "fellow": {"Fellow", "clinical fellow", "fellow (supervised)"},
		"trainee supervised":   {"ST6 supervised", "ST6 (consultant scrubbed)", "Registrar, supervised by consultant", "SpR with consultant scrubbed", "trainee under supervision", "Consultant supervised trainee"},
		"trainee unsupervised": {"ST8 unsupervised", "registrar (independent)"}, "trainee": {"ST3", "ST 7", "SpR", "registrar", "Resident", "PGY4", "SHO", "CT2"}, "other": nil,
	})
	unknownIn(t, "Grade", Grade, "consultant + ST5", "consultant ST5", "consultant supervised", "consultant scrubbed", "supervised", "assistant", "ST9", "e")
}

func TestHeadSize(t *testing.T) {
	means(t, "HeadSize", HeadSize, map[string][]string{
		"22": {"22.2", "22.225", "22,2 mm"}, "28": {"28mm", "28 mm", "28.0", "28 MM", "28 mm head", "'28"}, "32": {"32 mm +4", "32/+4", "32 +0", "32 -3.5", "32 mm +3.5 mm"}, "36": {"36", "36mm"}, "54": nil,
	})
	unknownIn(t, "HeadSize", HeadSize, "28/36", "28-36", "22-28", "L", "320", "3.2", "70", "31.5", "mm", "36 XL")
}

func TestNumber(t *testing.T) {
	for cell, want := range map[string]float64{"27": 27, "27.4": 27.4, "27,4": 27.4, " 27.40 ": 27.4, "'27.4": 27.4, "27.": 27, "0": 0, "27.400000000000002": 27.400000000000002, "9999": 9999} {
		if got, ok := Number(cell); !ok || got != want {
			t.Errorf("Number(%q) = %v, %v", cell, got, ok)
		}
	}
	for _, cell := range []string{"", "-3", "+3", "1e3", "2,7,4", "27.4.1", ".5", "27 kg", "12345", "x", "1/2", "27.4000000000000000000000001"} {
		if got, ok := Number(cell); ok {
			t.Errorf("Number(%q) = %v", cell, got)
		}
	}
}
