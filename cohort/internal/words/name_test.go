package words

import "testing"

// Names are compared without case, accents, punctuation and titles.
func TestReadName(t *testing.T) {
	for _, test := range []struct {
		want  Name
		typed []string
	}{
		{Name{"linden", ""}, []string{"Linden", "LINDEN", " linden ", "Dr Linden", "Dr. Linden", "Prof. Dr. med. Linden", "Linden (Prof)", "A/Prof Linden", "Dr.Linden"}},
		{Name{"linden", Male}, []string{"Mr Linden", "MR. LINDEN", "Linden, Mr", "Herr Dr. Linden", "Prof Sir Linden"}},
		{Name{"linden", Female}, []string{"Mrs Linden", "Miss Linden", "Ms. Linden", "Frau Dr. Linden"}},
		{Name{"jr linden", ""}, []string{"J R Linden", "J.R. Linden", "J. R. Linden", "JR Linden", "J.R.Linden"}},
		{Name{"st marys", ""}, []string{"St Mary's", "St. Marys", "ST MARY’S"}},
		{Name{"obrien", ""}, []string{"O'Brien", "OBrien", "Dr O’Brien"}},
		{Name{"smith jones", ""}, []string{"Smith-Jones", "smith jones", "Smith–Jones"}},
		{Name{"muller", ""}, []string{"Müller", "Muller", "Dr Mu\u0308ller"}},
		{Name{"mr", ""}, []string{"Mr", "Mr."}}, // a title alone is no name without its title
		{Name{"7", ""}, []string{"7", " 7 "}},
		{Name{"07", ""}, []string{"07"}},
		{Name{"s 1", ""}, []string{"S-1", "S 1"}},
		{Name{"s1", ""}, []string{"S1"}},
		{Name{}, []string{"", "?", "---"}},
	} {
		for _, typed := range test.typed {
			if got := ReadName(typed); got != test.want {
				t.Errorf("%q: %+v, want %+v", typed, got, test.want)
			}
		}
	}
}

func TestNamesThatMayBeOne(t *testing.T) {
	for _, test := range []struct {
		a, b string
		want bool
	}{
		{"Linden", "J Linden", true},
		{"Linden", "Mr John Linden", true},
		{"J Linden", "John Linden", true},
		{"JR Linden", "J Linden", true},
		{"Linden, J", "J Linden", true},
		{"J Linden", "J R Linden", true},
		{"Linden", "Linden-Ross", true},
		{"Surgeon 1-2", "Surgeon 2-1", false},
		{"Surgeon 1", "Surgeon 1-2", false},
		{"Ward 3, General", "General, Ward 3, North", true},
		{"General", "General, Ward 3", true},
		{"St Mary's", "St Mary's Hospital", true},
		{"J Linden", "R Linden", false},
		{"John Linden", "James Linden", false},
		{"Mr Linden", "Mrs J Linden", false},
		{"Linden", "Lindens", false},
		{"Linden", "Ross", false},
		{"J", "John Linden", false}, // an initial alone is anybody's
		{"Unit 1", "Unit 2", false},
		{"S1", "S2", false},
		{"A", "A B", false},
		{"", "Linden", false},
	} {
		for _, names := range [][2]string{{test.a, test.b}, {test.b, test.a}} {
			if got := ReadName(names[0]).MayBe(ReadName(names[1])); got != test.want {
				t.Errorf("%q and %q: %v, want %v", names[0], names[1], got, test.want)
			}
		}
	}
	if !ReadName("J Linden").Fuller(ReadName("Linden")) || ReadName("Linden").Fuller(ReadName("J Linden")) || ReadName("J Linden").Fuller(ReadName("J Linden")) {
		t.Error("the fuller name is not that of more words")
	}
}
