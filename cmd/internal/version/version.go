// Package version says which version a program was built from.
package version

import "runtime/debug"

// released is the version of a program that is handed on; the linker sets it. It
// is "" for one built from a clone.
var released string

// Built is the version that the program was built from.
func Built() string {
	if released != "" {
		return released
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "(unknown)"
	}
	version, modified := info.Main.Version, ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			version += " " + s.Value
		case s.Key == "vcs.modified" && s.Value == "true":
			modified = " (modified)"
		}
	}
	return version + modified
}
