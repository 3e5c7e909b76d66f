package cohort

import (
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"example.org/holdfast/cohort/internal/table"
)

// noPartition is how a partition without a value is written.
const noPartition = "__HIVE_DEFAULT_PARTITION__"

// tablesOf are the tables of a source: itself, or, if it is a folder, the Parquet files
// in it and in the folders below. A folder called hospital=A says that column hospital is
// A in every row of its files, as programs write tables that are partitioned by columns.
// Files and folders whose names begin with a point or an underscore are passed over.
func tablesOf(s Source) ([]table.Source, error) {
	if info, err := os.Stat(s.Name); s.Reader != nil || err != nil || !info.IsDir() {
		return []table.Source{{Name: s.Name, Reader: s.Reader, Sheet: s.Sheet}}, nil
	}
	var all []table.Source
	err := filepath.WalkDir(s.Name, func(name string, d fs.DirEntry, err error) error {
		hidden := name != s.Name && strings.ContainsAny(d.Name()[:1], "._")
		switch {
		case err != nil:
			return err
		case hidden && d.IsDir():
			return filepath.SkipDir
		case hidden, d.IsDir(), !strings.EqualFold(filepath.Ext(name), ".parquet"):
			return nil
		}
		below, err := filepath.Rel(s.Name, filepath.Dir(name))
		if err != nil {
			return err
		}
		fixed, err := partitions(below)
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		all = append(all, table.Source{Name: name, Folder: s.Name, Fixed: fixed})
		return nil
	})
	if err != nil {
		return nil, err
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("%s: %w, and there is no Parquet file in it; other kinds of table are named one by one", s.Name, table.ErrDirectory)
	}
	for _, t := range all[1:] {
		if !slices.EqualFunc(t.Fixed, all[0].Fixed, func(a, b [2]string) bool { return a[0] == b[0] }) {
			return nil, fmt.Errorf("%s and %s stand in folders of different columns: a folder is read whose files are all parted by the same", all[0].Name, t.Name)
		}
	}
	return all, nil
}

// partitions are the columns and values that the folders of a path say.
func partitions(path string) (fixed [][2]string, err error) {
	for part := range strings.SplitSeq(filepath.ToSlash(path), "/") {
		column, value, ok := strings.Cut(part, "=")
		if !ok || column == "" {
			continue
		}
		if value, err = url.PathUnescape(value); err != nil {
			return nil, err
		}
		if value == noPartition {
			value = ""
		}
		if slices.ContainsFunc(fixed, func(f [2]string) bool { return f[0] == column }) {
			return nil, fmt.Errorf("two folders say what %s is", column)
		}
		fixed = append(fixed, [2]string{column, value})
	}
	return fixed, nil
}
