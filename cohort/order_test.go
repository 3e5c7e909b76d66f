package cohort_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"go/types"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// steps are the files of the package in the order of its steps: first what is
// said of a table and asked of it, then the way from cells to joints, then what
// is counted from them. A file uses what stands in files before it.
var steps = []string{
	"year.go", "columns.go", "table.go", "reason.go", "options.go", "closing.go", "linking.go", "cohort.go", "problem.go", "field.go", "scope.go", "account.go",
	"where.go", "list.go", "mostly.go", "folder.go", "reading.go", "read.go", "group.go", "atoms.go", "joint.go", "followup.go", "effect.go", "about.go",
}

// The code runs one way: no file uses what is declared in a file of a later step.
func TestFilesRunInOrder(t *testing.T) {
	names, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	names = slices.DeleteFunc(names, func(n string) bool { return strings.HasSuffix(n, "_test.go") || n == "doc.go" })
	var files, listed []string
	files, listed = slices.Sorted(slices.Values(names)), slices.Sorted(slices.Values(steps))
	if !slices.Equal(files, listed) {
		t.Fatalf("the files are %v, and those with a step %v", files, listed)
	}
	found := make(map[string]string) // an example of each
	for _, u := range usesBetween(t, names) {
		if slices.Index(steps, u.from) < slices.Index(steps, u.to) {
			found[u.from+" → "+u.to] = u.example
		}
	}
	for _, arrow := range slices.Sorted(maps.Keys(found)) {
		t.Errorf("%s runs against the order: %s", arrow, found[arrow])
	}
}

// use is that one file uses something declared in another.
type use struct{ from, to, example string }

// usesBetween finds the uses of functions, types, constants, variables and
// methods of the package. What other packages declare is not looked up: their
// names are all unknown, which the uses among the files do not hang on.
func usesBetween(t *testing.T, names []string) []use {
	t.Helper()
	fset := token.NewFileSet()
	var files []*ast.File
	for _, name := range names {
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		f, err := parser.ParseFile(fset, name, b, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		files = append(files, f)
	}
	info := types.Info{Uses: make(map[*ast.Ident]types.Object)}
	config := types.Config{Importer: nothing{}, Error: func(error) {}}
	pkg, _ := config.Check("cohort", fset, files, &info)
	var all []use
	for id, o := range info.Uses {
		if o.Pkg() != pkg || !declared(o) {
			continue
		}
		from, to := fset.Position(id.Pos()), fset.Position(o.Pos())
		if from.Filename != to.Filename {
			all = append(all, use{from.Filename, to.Filename, fmt.Sprintf("line %d uses %s", from.Line, o.Name())})
		}
	}
	if len(all) < 100 {
		t.Fatalf("%d uses between files: they were not found", len(all))
	}
	slices.SortFunc(all, func(a, b use) int { return strings.Compare(a.example, b.example) })
	return all
}

// declared says whether an object is one of the package itself, or a method.
func declared(o types.Object) bool {
	if o.Parent() == o.Pkg().Scope() {
		return true
	}
	f, ok := o.(*types.Func)
	return ok && f.Signature().Recv() != nil
}

// nothing imports empty packages.
type nothing struct{}

func (nothing) Import(path string) (*types.Package, error) {
	p := types.NewPackage(path, path[strings.LastIndexByte(path, '/')+1:])
	p.MarkComplete()
	return p, nil
}
