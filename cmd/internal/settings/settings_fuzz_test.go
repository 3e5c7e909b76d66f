package settings

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Whatever a settings file holds, it is read or refused with its name.
func FuzzSettings(f *testing.F) {
	for _, s := range []string{
		"", "closing_date = 2024-12-31\n", "[columns]\n\"Op\" = \"operation_date\"\n", "[words.bearing]\n\"std\" = \"MoP\"\n",
		"by = [\"bearing\"]\nage_bands = [55, 65]\npivot = 30\nlevel = 0.9\n", "[where]\nsurgeon = [\"A\"]\n", "bya = 1\n", "by = 1\n", "by = [",
		"published = [\"a.csv\", \"none\"]\nworst_case = true\n", "deaths_complete_to = \"x\"\n", "\xff\xfe",
	} {
		f.Add(s)
	}
	name := filepath.Join(f.TempDir(), "own.toml")
	f.Fuzz(func(t *testing.T, text string) {
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Read(name); err != nil && !strings.Contains(err.Error(), "own.toml") {
			t.Errorf("%v", err)
		}
	})
}
