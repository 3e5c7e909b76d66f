package command

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"hash"
	"io"
	"io/fs"
	"os"
	"path/filepath"

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

// digestsOf are those of inputs by name; standard is that of standard input,
// which has been read.
func digestsOf(names []string, standard digest) (map[string]digest, error) {
	all := make(map[string]digest)
	for _, name := range names {
		if name == "" || name == "none" {
			continue
		}
		if _, ok := all[name]; ok {
			continue
		}
		if name == "-" {
			all[name] = standard
			continue
		}
		d := newDigest()
		err := filepath.WalkDir(name, func(file string, e fs.DirEntry, err error) error { // of a folder, all files
			if err != nil || e.IsDir() {
				return err
			}
			if file != name {
				io.WriteString(d, file[len(name):]+"\x00")
			}
			f, err := os.Open(file)
			if err != nil {
				return err
			}
			_, err = io.Copy(d, f)
			return errors.Join(err, f.Close())
		})
		if err != nil {
			return nil, err
		}
		all[name] = d
	}
	return all, nil
}

// fingerprints are those of inputs, each once.
func fingerprints(names []string, digests map[string]digest) []report.Print {
	var all []report.Print
	shown := make(map[string]bool)
	for _, name := range names {
		d, ok := digests[name]
		if !ok || shown[name] {
			continue
		}
		shown[name] = true
		title := filepath.Base(cohort.ShownName(name))
		if name == "-" {
			title = "standard input"
		}
		all = append(all, report.Print{Name: title, SHA256: hex.EncodeToString(d.print.Sum(nil))})
	}
	return all
}

// lettersKey is the key of the letters for tables.
func lettersKey(tables []string, digests map[string]digest) []byte {
	var key []byte
	for _, name := range tables {
		key = digests[name].letters.Sum(key)
	}
	return key
}
