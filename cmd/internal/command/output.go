package command

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
)

// output writes to standard output, or to a file that appears only when it is
// whole.
func (a *app) output(name string, write func(io.Writer) error) error {
	if name == "" || name == "-" {
		w := bufio.NewWriterSize(a.stdout, 1<<16)
		if err := write(w); err != nil {
			return err
		}
		if err := a.interrupted(); err != nil {
			return err
		}
		a.written = true
		return w.Flush()
	}
	return a.writeFile(name, write)
}

// writeFile writes a file, unless the program was told to end.
func (a *app) writeFile(name string, write func(io.Writer) error) error {
	if err := a.interrupted(); err != nil {
		return err
	}
	err := writeFile(name, func(w io.Writer) error { return cmp.Or(write(w), a.interrupted()) })
	a.written = a.written || err == nil
	return err
}

// writeBytes writes what is made already.
func (a *app) writeBytes(name string, b []byte) error {
	return a.writeFile(name, func(w io.Writer) error { _, err := w.Write(b); return err })
}

// interrupted is an error once the program was told to end.
func (a *app) interrupted() error {
	if a.ctx == nil {
		return nil
	}
	return a.ctx.Err()
}

// writeFile writes a file next to its place and moves it there when it is
// whole. On an error the old file, if any, is as it was.
func writeFile(name string, write func(io.Writer) error) (err error) {
	mode := os.FileMode(0o666)
	if info, err := os.Stat(name); err == nil {
		if !info.Mode().IsRegular() { // such as /dev/stderr: nothing to keep whole
			f, err := os.OpenFile(name, os.O_WRONLY, 0)
			if err != nil {
				return err
			}
			defer f.Close()
			return write(f)
		}
		mode = info.Mode().Perm()
		if real, err := filepath.EvalSymlinks(name); err == nil {
			name = real // a link stays one
		}
	}
	f, err := createBeside(name, mode)
	if err != nil {
		var path *fs.PathError
		if errors.As(err, &path) {
			err = path.Err // the name asked for, not that of the file beside it
		}
		if folder := filepath.Dir(name); errors.Is(err, fs.ErrNotExist) && !exists(folder) {
			return fmt.Errorf("%s can't be written: there is no folder %s", name, folder)
		}
		return fmt.Errorf("%s can't be written: %w", name, err)
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	w := bufio.NewWriterSize(f, 1<<16)
	if err = write(w); err != nil {
		return err
	}
	if err = w.Flush(); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}

// createBeside makes a new file in the folder of name, with the permissions
// that name is to have.
func createBeside(name string, mode os.FileMode) (*os.File, error) {
	for i := 0; ; i++ {
		temporary := filepath.Join(filepath.Dir(name), "."+filepath.Base(name)+"."+string(rune('a'+i))+".part")
		f, err := os.OpenFile(temporary, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
		if os.IsExist(err) && i < 25 {
			continue
		}
		return f, err
	}
}

// apart refuses to write over a file that is read, and to write two files to
// one place. Names that are "" or "-" are no files.
func apart(outputs, inputs []string) error {
	for i, out := range outputs {
		if out == "" || out == "-" {
			continue
		}
		if slices.ContainsFunc(inputs, func(in string) bool { return sameFile(out, in) }) {
			return usage("%s is a file that is read; choose another name to write to", out)
		}
		if slices.ContainsFunc(outputs[:i], func(other string) bool { return sameFile(out, other) }) {
			return usage("%s can't hold two outputs; choose another name for one of them", out)
		}
	}
	return nil
}

// sameFile says whether two names are of one file. A device is no file here.
func sameFile(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	if errX == nil && errY == nil {
		return x.Mode().IsRegular() && os.SameFile(x, y)
	}
	return errX != nil && errY != nil && filepath.Clean(a) == filepath.Clean(b)
}

func exists(name string) bool {
	_, err := os.Lstat(name)
	return err == nil
}
