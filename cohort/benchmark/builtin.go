package benchmark

import (
	"bytes"
	_ "embed"
	"fmt"
	"slices"
	"sync"
)

//go:embed data/figures.csv
var builtinFile []byte

// BuiltinName is what the built-in file is called in messages.
const BuiltinName = "built-in figures"

var builtin = sync.OnceValue(func() []*Series {
	series, _, err := Read(bytes.NewReader(builtinFile), BuiltinName)
	if err != nil {
		panic(fmt.Sprintf("benchmark: %v", err)) // a test reads the file
	}
	for _, s := range series {
		s.User = false
	}
	return series
})

// Builtin are the published figures that come with the package. They are read
// once; the series are shared and must not be changed.
func Builtin() []*Series { return slices.Clone(builtin()) }
