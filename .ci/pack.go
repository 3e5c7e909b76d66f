// Command pack makes the files that are handed on, the same bytes from the same
// contents:
//
//	go run .ci/pack.go zip OUT.zip NAME=FILE...   a zip file; a NAME that ends in * can be run
//	go run .ci/pack.go page OUT.html PROGRAM LICENCES   the page, from its parts in cmd/holdfast-page and a program for js/wasm
//	go run .ci/pack.go licences PACKAGE SYSTEM/PROCESSOR...   the licences of all that a program is made of there, on standard output
package main

import (
	"archive/zip"
	"bytes"
	"cmp"
	"compress/flate"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
)

func main() {
	if err := run(os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "pack:", err)
		os.Exit(1)
	}
}

func run(args []string) error {
	switch {
	case len(args) > 2 && args[0] == "zip":
		return pack(args[1], args[2:])
	case len(args) == 4 && args[0] == "page":
		return page(args[1], args[2], args[3])
	case len(args) > 2 && args[0] == "licences":
		return licences(os.Stdout, args[1], args[2:])
	}
	return errors.New("want page OUT.html PROGRAM LICENCES, zip OUT.zip NAME=FILE..., or licences PACKAGE SYSTEM/PROCESSOR...")
}

// day is the time of every file: what is packed says which version it is.
var day = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// pack writes a zip file.
func pack(out string, files []string) error {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	z.RegisterCompressor(zip.Deflate, func(w io.Writer) (io.WriteCloser, error) { return flate.NewWriter(w, flate.BestCompression) })
	for _, f := range files {
		name, from, _ := strings.Cut(f, "=")
		content, err := os.ReadFile(from)
		if err != nil {
			return err
		}
		name, program := strings.CutSuffix(name, "*")
		h := &zip.FileHeader{Name: name, Method: zip.Deflate, Modified: day}
		h.SetMode(0o644)
		if program {
			h.SetMode(0o755)
		}
		w, err := z.CreateHeader(h)
		if err != nil {
			return err
		}
		if _, err := w.Write(content); err != nil {
			return err
		}
	}
	if err := z.Close(); err != nil {
		return err
	}
	return os.WriteFile(out, b.Bytes(), 0o644)
}

// module is one that a program is made of.
type module struct{ Path, Version, Dir string }

// modulesOf are the modules that a program is made of on any of several systems.
func modulesOf(program string, systems []string) (map[string]module, error) {
	found := make(map[string]module)
	for _, s := range systems {
		system, processor, _ := strings.Cut(s, "/")
		list := exec.Command("go", "list", "-deps", "-json=Module", program)
		list.Env = append(os.Environ(), "GOOS="+system, "GOARCH="+processor, "CGO_ENABLED=0")
		list.Stderr = os.Stderr
		out, err := list.Output()
		if err != nil {
			return nil, err
		}
		for d := json.NewDecoder(bytes.NewReader(out)); ; {
			var p struct {
				Module *struct {
					Path, Version, Dir string
					Main               bool
				}
			}
			if err := d.Decode(&p); err == io.EOF {
				break
			} else if err != nil {
				return nil, err
			}
			if m := p.Module; m != nil && !m.Main {
				found[m.Path] = module{m.Path, m.Version, m.Dir}
			}
		}
	}
	return found, nil
}

// licences writes the texts by whose leave a program may be handed on: of Go, and
// of every module in it. One without such a text is an error.
func licences(w io.Writer, program string, systems []string) error {
	found, err := modulesOf(program, systems)
	if err != nil {
		return err
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return err
	}
	version, err := exec.Command("go", "env", "GOVERSION").Output()
	if err != nil {
		return err
	}
	all := []module{{"The Go programming language", strings.TrimSpace(string(version)), strings.TrimSpace(string(root))}}
	for _, m := range found {
		all = append(all, m)
	}
	slices.SortFunc(all[1:], func(a, b module) int { return cmp.Compare(a.Path, b.Path) })
	fmt.Fprintf(w, "Holdfast contains the work of others. These are their licences.\n")
	for _, m := range all {
		texts, err := textsOf(m)
		if err != nil {
			return err
		}
		for _, name := range texts {
			content, err := os.ReadFile(filepath.Join(m.Dir, name))
			if err != nil {
				return err
			}
			fmt.Fprintf(w, "\n%[1]s\n%[2]s %[3]s: %[4]s\n%[1]s\n\n%[5]s\n", strings.Repeat("=", 78), m.Path, m.Version, name, bytes.TrimSpace(bytes.ReplaceAll(content, []byte("\r\n"), []byte("\n"))))
		}
	}
	return nil
}

var licence = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents|ofl)([-._].*)?$`)

// textsOf are the licence files of a module, and of the folders right below it
// that have one of their own.
func textsOf(m module) ([]string, error) {
	var all []string
	for _, pattern := range []string{"*", "*/*"} {
		files, err := filepath.Glob(filepath.Join(m.Dir, pattern))
		if err != nil {
			return nil, err
		}
		for _, f := range files {
			info, err := os.Stat(f)
			if err != nil {
				return nil, err
			}
			if (licence.MatchString(filepath.Base(f)) || filepath.Base(filepath.Dir(f)) == "licenses") && info.Mode().IsRegular() && !strings.HasSuffix(f, ".go") {
				name, err := filepath.Rel(m.Dir, f)
				if err != nil {
					return nil, err
				}
				all = append(all, filepath.ToSlash(name))
			}
		}
		if strings.HasPrefix(m.Path, "The Go") {
			break
		}
	}
	if len(all) == 0 { // some modules have it in what else they say
		if text, err := os.ReadFile(filepath.Join(m.Dir, "README.md")); err == nil && bytes.Contains(text, []byte("Permission is hereby granted")) {
			return []string{"README.md"}, nil
		}
		return nil, fmt.Errorf("%s %s has no licence", m.Path, m.Version)
	}
	return all, nil
}

// page writes the page as one file, with everything inside. Its policy names its
// one script by what it contains, and allows the program inside to run, a worker
// made by the script, and nothing from anywhere.
func page(out, program, licences string) error {
	goroot, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return err
	}
	parts := make(map[string][]byte)
	for name, files := range map[string][]string{
		"page":     {"cmd/holdfast-page/page.html"},
		"style":    {"cmd/internal/document/html/style.css", "cmd/holdfast-page/page.css"},
		"script":   {"cmd/holdfast-page/page.js"},
		"worker":   {filepath.Join(strings.TrimSpace(string(goroot)), "lib/wasm/wasm_exec.js"), "cmd/holdfast-page/worker.js"},
		"example":  {"examples/practice/practice.csv"},
		"licences": {licences},
		"program":  {program},
	} {
		for _, f := range files {
			content, err := os.ReadFile(f)
			if err != nil {
				return err
			}
			parts[name] = append(parts[name], content...)
		}
	}
	for _, name := range []string{"script", "worker", "example", "licences"} {
		if bytes.Contains(bytes.ToLower(parts[name]), []byte("</script")) {
			return fmt.Errorf("%s would end the element that it stands in", name)
		}
	}
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := z.Write(parts["program"]); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	sum := sha256.Sum256(parts["script"])
	policy := "default-src 'none'; script-src 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "' 'wasm-unsafe-eval'; worker-src blob:; style-src 'unsafe-inline'; form-action 'none'; base-uri 'none'"
	var marks []string
	for name, with := range map[string]string{
		"policy": policy, "style": string(parts["style"]), "script": string(parts["script"]), "worker": string(parts["worker"]),
		"program": base64.StdEncoding.EncodeToString(packed.Bytes()), "example": string(parts["example"]), "licences": string(parts["licences"]),
	} {
		mark := "{{" + name + "}}"
		if bytes.Count(parts["page"], []byte(mark)) != 1 {
			return fmt.Errorf("the page has not one %s", mark)
		}
		marks = append(marks, mark, with)
	}
	text := strings.NewReplacer(marks...).Replace(string(parts["page"]))
	return os.WriteFile(out, []byte(text), 0o644)
}
