package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "example.org/holdfast/"

// source is one Go file of the tree.
type source struct {
	folder string // from the root, with slashes
	name   string
	file   *ast.File
	fset   *token.FileSet
}

func (s source) test() bool   { return strings.HasSuffix(s.name, "_test.go") }
func (s source) path() string { return path.Join(s.folder, s.name) }

// imports are what the file imports.
func (s source) imports() []string {
	var all []string
	for _, spec := range s.file.Imports {
		if p, err := strconv.Unquote(spec.Path.Value); err == nil {
			all = append(all, p)
		}
	}
	return all
}

// tree is every Go file of the module, tests and files for other systems too.
func tree(t *testing.T) []source {
	t.Helper()
	root := filepath.Join("..", "..")
	if _, err := os.Stat(filepath.Join(root, "go.mod")); err != nil {
		t.Fatal(err)
	}
	var all []source
	err := filepath.WalkDir(root, func(name string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && name != root && (strings.HasPrefix(d.Name(), ".") || d.Name() == "testdata"):
			return filepath.SkipDir
		case d.IsDir() || !strings.HasSuffix(name, ".go"):
			return nil
		}
		fset := token.NewFileSet()
		f, err := parser.ParseFile(fset, name, nil, parser.SkipObjectResolution|parser.ParseComments)
		if err != nil {
			return err
		}
		from, err := filepath.Rel(root, name)
		if err != nil {
			return err
		}
		from = filepath.ToSlash(from)
		all = append(all, source{path.Dir(from), path.Base(from), f, fset})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 100 {
		t.Fatalf("%d Go files: this is not the tree", len(all))
	}
	return all
}

// below says whether an import path or a folder is another or lies below it.
func below(p, other string) bool { return p == other || strings.HasPrefix(p, other+"/") }

func standard(p string) bool {
	first, _, _ := strings.Cut(p, "/")
	return !strings.Contains(first, ".")
}

// May import no more than this, beside the standard library and what lies below
// them. A folder that is not there is no fault: the rule is for the day on which
// it is. Tests may import anything.
var mayImport = []struct {
	folder  string
	imports []string
}{
	{"survival", []string{"gonum.org/v1/gonum"}},
	{"survival/tally", []string{module + "survival"}},
	{"cohort/internal/row", nil},
	{"cohort/internal/link", []string{module + "cohort/internal/row"}},
	{"cohort/internal/parallel", nil},
	{"cohort/internal/store", []string{module + "cohort/internal/row", module + "cohort/internal/dates", module + "cohort/internal/parallel"}},
	{"cohort/internal/table", []string{module + "cohort/internal/row", module + "cohort/internal/store", module + "cohort/internal/column", module + "cohort/internal/words",
		module + "cohort/internal/dates", module + "cohort/internal/sheet", "golang.org/x/text/unicode/norm"}},
	{"cohort/internal/column", []string{module + "cohort/internal/words"}},
	{"cohort/internal/dates", nil},
	{"cohort/internal/words", []string{"golang.org/x/text/unicode/norm"}},
	{"cohort/internal/sheet", []string{"github.com/apache/arrow", "golang.org/x/text/encoding"}},
	{"cohort/internal/sheet/internal/workbook", nil},
	{"cmd/holdfast", []string{module + "cmd/internal/command"}},
	{"cmd/holdfast-page", []string{module + "cmd/internal/page"}},
}

func TestPackagesImportWhatTheyMay(t *testing.T) {
	for _, s := range tree(t) {
		if s.test() {
			continue
		}
		// The nearest folder with a rule decides; a package below another that
		// has one is held to it.
		rule := -1
		for i, r := range mayImport {
			if below(s.folder, r.folder) && (r.folder != "cmd/holdfast" || s.folder == r.folder) && (rule < 0 || len(r.folder) > len(mayImport[rule].folder)) {
				rule = i
			}
		}
		if rule < 0 {
			continue
		}
		r := mayImport[rule]
		for _, p := range s.imports() {
			if !standard(p) && !below(p, module+r.folder) && !slices.ContainsFunc(r.imports, func(may string) bool { return below(p, may) }) {
				t.Errorf("%s imports %s", s.path(), p)
			}
		}
	}
}

// Packages that only these folders may import, and what lies below them. Where
// tests is set, tests everywhere may too.
var importedBy = []struct {
	imported string
	by       []string
	tests    bool
}{
	{"github.com/apache/arrow", []string{"cohort/internal/sheet", "cohort/internal/testtable"}, false},
	{"github.com/olekukonko/tablewriter", []string{"cmd/internal/document"}, false},
	{"gonum.org/v1/plot", []string{"cohort/figure"}, true},
	{"codeberg.org/go-pdf/fpdf", []string{"cohort/figure", "cohort/text", "cmd/internal/document/pdf"}, true},
	{"github.com/spf13", []string{"cmd/internal/command"}, true},
	{"github.com/pelletier/go-toml", []string{"cmd/internal/settings"}, true},
	{"github.com/xuri/excelize", []string{"cohort/internal/testtable", "examples/practice"}, true},
	{"github.com/google/go-cmp", nil, true},
	{"github.com/rogpeppe/go-internal", nil, true},
	{module + "cohort/internal/testtable", nil, true},
	{module + "cohort/internal/testaudit", nil, true},
	{module + "cohort/internal/testvalues", nil, true},
	{"testing", []string{"cohort/internal/testaudit", "cohort/internal/testvalues"}, true},
	{module + "cohort/internal/sheet", []string{"cohort/internal/sheet", "cohort/internal/table", "cohort/internal/testtable", "cohort/exchange"}, true},
	// Nothing is sent anywhere, and nothing fetched.
	{"net", nil, false},
	{"net/http", nil, false},
	{"unsafe", nil, true},
}

func TestPackagesAreImportedWhereTheyMayBe(t *testing.T) {
	all := tree(t)
	for _, r := range importedBy {
		for _, s := range all {
			if s.test() && r.tests || slices.ContainsFunc(r.by, func(f string) bool { return below(s.folder, f) }) {
				continue
			}
			for _, p := range s.imports() {
				if p == r.imported || !standard(p) && below(p, r.imported) {
					t.Errorf("%s imports %s", s.path(), p)
				}
			}
		}
	}
}

const longest = 80

// A function fits a screen.
func TestFunctionsAreShort(t *testing.T) {
	for _, s := range tree(t) {
		for _, d := range s.file.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok || s.test() {
				continue
			}
			if lines := s.fset.Position(f.End()).Line - s.fset.Position(f.Pos()).Line + 1; lines > longest {
				t.Errorf("%s %s: %d lines, more than %d", s.path(), f.Name.Name, lines, longest)
			}
		}
	}
}

// No package hands out a slice or a map that any other could change for all: it has a
// function that makes one.
func TestNothingExportedCanBeChanged(t *testing.T) {
	for _, s := range tree(t) {
		if s.test() || below(s.folder, "cohort/internal/testtable") {
			continue
		}
		for _, d := range s.file.Decls {
			g, ok := d.(*ast.GenDecl)
			if !ok || g.Tok != token.VAR {
				continue
			}
			for _, spec := range g.Specs {
				v := spec.(*ast.ValueSpec)
				kinds := []ast.Expr{v.Type}
				for _, value := range v.Values {
					if literal, ok := value.(*ast.CompositeLit); ok {
						kinds = append(kinds, literal.Type)
					}
				}
				for _, kind := range kinds {
					array, isArray := kind.(*ast.ArrayType)
					_, isMap := kind.(*ast.MapType)
					if (isMap || isArray && array.Len == nil) && v.Names[0].IsExported() {
						t.Errorf("%s: %s can be changed", s.path(), v.Names[0].Name)
					}
				}
			}
		}
	}
}

// The columns that have no rule of their own are named by their descriptor alone:
// adding one is adding a literal, and for its words a vocabulary.
func TestAColumnIsOneLiteral(t *testing.T) {
	names := []string{"activity", "approach", "asa", "grade", "head_size", "smoking", "technique"}
	found := make(map[string]bool)
	for _, s := range tree(t) {
		if s.test() || below(s.folder, "examples") || below(s.folder, "cohort/internal/testtable") {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			literal, ok := n.(*ast.BasicLit)
			if !ok || literal.Kind != token.STRING {
				return true
			}
			if name, err := strconv.Unquote(literal.Value); err == nil && slices.Contains(names, name) {
				if s.path() != "cohort/internal/column/list.go" {
					t.Errorf("%s names the column %s", s.path(), name)
				}
				found[name] = true
			}
			return true
		})
	}
	if len(found) != len(names) {
		t.Errorf("found %v of %v", slices.Sorted(maps.Keys(found)), names)
	}
}

// Files are for Linux or for all systems and processors: .ci/run looks at the
// code for one other system alone. The two that find separators, one way for one processor and
// another for the rest, are in a package that it looks at for both.
func TestFilesAreForLinuxOrForAll(t *testing.T) {
	for _, s := range tree(t) {
		if slices.Contains([]string{"cohort/internal/sheet/marks_amd64.go", "cohort/internal/sheet/marks_other.go"}, s.path()) {
			continue
		}
		name := strings.TrimSuffix(strings.TrimSuffix(s.name, ".go"), "_test")
		for _, other := range []string{"windows", "darwin", "unix", "amd64", "arm64", "386", "arm", "js", "wasm"} {
			if strings.HasSuffix(name, "_"+other) {
				t.Errorf("%s is for %s", s.path(), other)
			}
		}
		for _, c := range s.file.Comments {
			for _, line := range c.List {
				if line.Pos() < s.file.Package && strings.HasPrefix(line.Text, "//go:build") {
					t.Errorf("%s: %s", s.path(), line.Text)
				}
			}
		}
	}
}
