package command

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"

	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cohort"
)

// digest is what the contents of one input come to: the fingerprint that a
// report shows, and a secret for the letters that stand for names, which can't
// be had from that.
type digest struct{ print, letters hash.Hash }

func newDigest() digest {
	d := digest{sha256.New(), sha256.New()}
	io.WriteString(d.letters, "letters")
	return d
}

// Write takes the contents in.
func (d digest) Write(b []byte) (int, error) {
	d.letters.Write(b)
	return d.print.Write(b)
}

// digests are those of a run's inputs by name, taken from their bytes as these are
// read: for each reading one. Nil are none, where nobody asks for any.
type digests map[string][]digest

// of takes in what is read of an input from now on.
func (d digests) of(name string) io.Writer {
	if d == nil {
		return nil
	}
	one := newDigest()
	d[name] = append(d[name], one)
	return one
}

// open opens an input that is read from its beginning, and takes it in.
func (d digests) open(name string) (io.ReadCloser, error) {
	f, err := os.Open(name)
	if err != nil || d == nil {
		return f, err
	}
	return &taken{io.TeeReader(f, d.of(name)), f}, nil
}

// taken is an input that is taken in, to its end even if nobody reads so far.
type taken struct {
	io.Reader
	file *os.File
}

func (t *taken) Close() error {
	_, err := io.Copy(io.Discard, t)
	return errors.Join(err, t.file.Close())
}

// sum is a digest when all was taken in.
type sum struct{ print, letters []byte }

// sums are those of the inputs that were read.
func (d digests) sums(inputs []string) (map[string]sum, error) {
	all := make(map[string]sum)
	for _, name := range inputs {
		read := name
		if name == "-" {
			read = standardInput
		}
		one, err := d.sum(read)
		if err != nil {
			return nil, err
		}
		if one.print == nil {
			one, err = d.folder(name)
		}
		if err != nil {
			return nil, err
		}
		if one.print != nil {
			all[name] = one
		}
	}
	return all, nil
}

// sum is that of a file, if it was read; if more than once, it must have been the same.
func (d digests) sum(file string) (s sum, err error) {
	for i, read := range d[file] {
		one := sum{read.print.Sum(nil), read.letters.Sum(nil)}
		if i > 0 && !bytes.Equal(one.print, s.print) {
			return sum{}, fmt.Errorf("%s: %w", cohort.ShownName(file), cohort.ErrChanged)
		}
		s = one
	}
	return s, nil
}

// folder is that of a folder, if files of it were read: of their names and contents.
func (d digests) folder(name string) (sum, error) {
	all, some := newDigest(), false
	for _, file := range slices.Sorted(maps.Keys(d)) {
		below, err := filepath.Rel(name, file)
		if name == "" || err != nil || !filepath.IsLocal(below) {
			continue
		}
		one, err := d.sum(file)
		if err != nil {
			return sum{}, err
		}
		some = true
		io.WriteString(all, filepath.ToSlash(below)+"\x00")
		all.print.Write(one.print)
		all.letters.Write(one.letters)
	}
	if !some {
		return sum{}, nil
	}
	return sum{all.print.Sum(nil), all.letters.Sum(nil)}, nil
}

// fingerprints are those of inputs, each once.
func fingerprints(names []string, sums map[string]sum) []report.Print {
	var all []report.Print
	shown := make(map[string]bool)
	for _, name := range names {
		s, ok := sums[name]
		if !ok || shown[name] {
			continue
		}
		shown[name] = true
		title := filepath.Base(cohort.ShownName(name))
		if name == "-" {
			title = standardInput
		}
		all = append(all, report.Print{Name: title, SHA256: hex.EncodeToString(s.print)})
	}
	return all
}

// lettersKey is the key of the letters for tables.
func lettersKey(tables []string, sums map[string]sum) []byte {
	var key []byte
	for _, name := range tables {
		key = append(key, sums[name].letters...)
	}
	return key
}
