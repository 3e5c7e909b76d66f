package table

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/holdfast/cohort/internal/dates"
	"example.org/holdfast/cohort/internal/row"
	"example.org/holdfast/cohort/internal/sheet"
	"example.org/holdfast/cohort/internal/store"
	"github.com/google/go-cmp/cmp"
)

// Cells of each type that mean something, mean nothing, or stand at an edge.
var (
	keptTexts = []string{"hip", "knee", "left", "R", "THR", " hip ", "\u00a0knee", "CoP", "ceramic on a very long polyethylene", "hip \xff", "CoP\xff", "M\xff\xff\xff", "\xff\xff\xff", "hip\x00", "hip\x00\x00", "ceramic on meta\xff", "ceramic on metal", "", " ", "n/a", "NULL",
		"unknown", "Total", "yes", "no", "P0012", "'0012", "0012", "2019-04-03", "3/4/2019", "67", "00", "05", "67 years", "1954", "Jane Linden", "operation_date", "cemented", "0"}
	keptDays   = []int32{0, 18262, 17989, -25567, -25568, 84005, 84006, -693594, 2932896, math.MaxInt32, math.MinInt32, 11323, 20000}
	keptWholes = []int32{0, 1, -1, 67, 999, 1954, 99, 43558, 999_999, 1_000_000, 20190403, math.MaxInt32, math.MinInt32}
)

// keptTable is an invented table of typed columns, in a number of runs.
func keptTable(t *testing.T, r *rand.Rand, kind sheet.Kind) []byte {
	t.Helper()
	var fields []sheet.Field
	few := r.IntN(2) == 0 // words, so that those of a row are found by their places in dictionaries
	for _, name := range []string{"patient", "operation_date", "joint", "side", "procedure", "bearing", "fixation", "age", "birth_year", "sex", "bmi", "revised", "dead",
		"revision_date", "death_date", "last_seen_date", "notes"} {
		if name == "operation_date" || r.IntN(8) > 0 && !(few && name == "bmi") {
			types := []sheet.Type{sheet.Text, sheet.Text, sheet.Text, sheet.Whole, sheet.Day, sheet.Fraction, sheet.YesNo}
			f := sheet.Field{Name: name, Type: types[r.IntN(len(types))], Optional: r.IntN(2) == 0}
			if few && name != "age" && name != "birth_year" && !strings.HasSuffix(name, "_date") {
				f.Type = sheet.Text
			}
			fields = append(fields, f)
		}
	}
	var b bytes.Buffer
	w, err := sheet.Create(&b, kind, fields, nil)
	if err != nil {
		t.Fatal(err)
	}
	for range 1 + r.IntN(3) {
		rows := 1 + r.IntN(40)*(1+r.IntN(30))
		columns := make([]sheet.Values, len(fields))
		for i, f := range fields {
			c := &columns[i]
			texts := keptTexts
			if few && f.Name != "patient" {
				from := r.IntN(len(texts) - 3)
				texts = texts[from : from+1+r.IntN(3)]
			}
			for range rows {
				switch f.Type {
				case sheet.Text:
					c.Texts = append(c.Texts, texts[r.IntN(len(texts))])
				case sheet.Whole:
					c.Wholes = append(c.Wholes, keptWholes[r.IntN(len(keptWholes))])
				case sheet.Day:
					c.Wholes = append(c.Wholes, keptDays[r.IntN(len(keptDays))])
				case sheet.Fraction:
					c.Fractions = append(c.Fractions, float64(keptWholes[r.IntN(len(keptWholes))])/2)
				case sheet.YesNo:
					c.YesNos = append(c.YesNos, r.IntN(2) == 0)
				}
				if f.Optional {
					c.Missing = append(c.Missing, r.IntN(3) == 0)
				}
			}
		}
		if err := w.Write(columns, rows); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// keptText is an invented table of text, some of it with spaces and apostrophes around.
func keptText(r *rand.Rand) []byte {
	headings := strings.Split("patient,operation_date,joint,side,procedure,bearing,fixation,age,birth_year,sex,bmi,revised,dead,revision_date,death_date,last_seen_date,notes", ",")
	if r.IntN(2) == 0 { // an age stands by itself
		headings[8] = "other"
	}
	if r.IntN(2) == 0 { // words stand by themselves, or side by side with others
		r.Shuffle(len(headings), func(i, k int) { headings[i], headings[k] = headings[k], headings[i] })
	}
	b := []byte(strings.Join(headings, ",") + "\n")
	few := r.IntN(2) == 0 // so that rows are alike in part
	cell := func() string {
		if few && r.IntN(50) > 0 {
			return keptTexts[r.IntN(2)]
		}
		switch r.IntN(7) {
		case 0:
			return dates.ISO(keptDays[r.IntN(len(keptDays))])
		case 1:
			return fmt.Sprint(keptWholes[r.IntN(len(keptWholes))])
		case 2:
			return dates.ISO(r.Int32N(25_000))
		case 3:
			return "ceramic on a very long polyethylene"[:r.IntN(20)]
		case 4:
			return fmt.Sprintf("%02d", r.IntN(12)*r.IntN(9))
		}
		return keptTexts[r.IntN(len(keptTexts))]
	}
	around := []string{"", "", "", "", "", "", " ", "'", "\u00a0"}
	if few {
		around = []string{""}
	}
	above := make([]string, 18)
	times := 1 + r.IntN(2)*r.IntN(5) // that each row stands there: then most have a wording that is known
	for range 1 + r.IntN(200) {
		from := len(b)
		again, alike := cell(), r.IntN(2) == 0 // to the row above
		for i := range 15 + r.IntN(4) {
			if i > 0 {
				b = append(b, ',')
			}
			if r.IntN(3) > 0 {
				again = cell()
			}
			if !alike || r.IntN(10) == 0 {
				above[i] = around[r.IntN(len(around))] + again + around[r.IntN(len(around))]
			}
			b = append(b, above[i]...)
		}
		b = append(b, '\n')
		b = append(b, bytes.Repeat(b[from:], times-1)...)
	}
	return bytes.ReplaceAll(bytes.ToValidUTF8(b, nil), []byte{0}, nil)
}

// keptRead is all that is understood of a table, by names and not by numbers. So many wordings
// are kept at most.
func keptRead(t *testing.T, file []byte, asText bool, most int) []string {
	t.Helper()
	r := NewReader(Options{EveryColumn: true, Extra: []string{"sex", "revision_reason", "bmi"}, Today: 20_000, asText: asText})
	r.in.seed, r.in.most = keptSeed, most
	var all []string
	if err := r.Read(context.Background(), Source{Name: "t.parquet", Reader: bytes.NewReader(file)}, row.Primaries); err != nil {
		all = append(all, err.Error())
	}
	for _, p := range r.Store.InOrder() {
		b, i := r.Store.Blocks[p.Block], int(p.Index)
		line := fmt.Sprint(b.Line(i), b.Flags(i), b.Identifier(i), b.Age(i))
		for c := range store.DateCount {
			line += fmt.Sprint(" ", b.Day(c, i))
		}
		for k, f := range r.Core {
			line += " " + f.Values[b.Codes(k)(i)]
		}
		for k, f := range r.Extra {
			line += " " + f.Values[b.Codes(int(store.CoreCount)+k)(i)]
		}
		all = append(all, line)
	}
	for _, f := range r.Files {
		all = append(all, fmt.Sprint(f.Rows, f.Notes, f.DateOrders, f.SeenEarly, f.missing), fmt.Sprintf("%+v", f.CommonValues(0)))
	}
	for _, table := range r.Store.Tables {
		all = append(all, fmt.Sprint(table.Aside, table.None, table.Orders))
	}
	for _, v := range r.Words {
		known := make(map[string]string)
		for n, w := range v.Words {
			known[w.Typed] = fmt.Sprintf("%+v %v", w, v.first[n])
		}
		all = append(all, fmt.Sprint(v.Column, known))
	}
	return all
}

var keptSeed = NewReader(Options{}).in.seed

// A table is understood alike whether its values are taken as the file keeps them and by
// what is known of most cells, or made text of first and each understood by itself.
func keptAlike(t *testing.T, seed uint64) {
	r := rand.New(rand.NewPCG(seed, 1))
	for kind, file := range [][]byte{keptTable(t, r, sheet.Parquet), keptTable(t, r, sheet.ArrowIPC), keptText(r)} {
		text := keptRead(t, file, true, mostWordings)
		for _, most := range []int{mostWordings, 1 + r.IntN(20)} {
			if diff := cmp.Diff(text, keptRead(t, file, false, most)); diff != "" {
				t.Errorf("seed %d, kind %d, %d wordings: −text +kept\n%s", seed, kind, most, diff)
			}
		}
	}
}

func TestKeptValuesAreReadLikeText(t *testing.T) {
	seeds := uint64(10)
	if testing.Short() {
		seeds = 3
	}
	for seed := range seeds {
		keptAlike(t, seed)
	}
}

func FuzzKeptValues(f *testing.F) {
	f.Add(uint64(1))
	f.Fuzz(keptAlike)
}

// An identifier has one form, however it is found.
func TestIdentifiersAreFoldedAlike(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	var buffer []byte
	for range 2000 {
		c := []byte(keptTexts[r.IntN(len(keptTexts))])
		for range r.IntN(6) {
			c = slices.Insert(c, r.IntN(len(c)+1), " \t\r\n\x00\x1fAZaz@[09\x7fÄß"[r.IntN(17)])
		}
		buffer = foldPatient(buffer, c)
		if got, want := string(buffer), string(foldAny(nil, c)); got != want {
			t.Errorf("%q folds to %q, and byte by byte to %q", c, got, want)
		}
	}
}
