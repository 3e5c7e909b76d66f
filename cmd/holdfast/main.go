// Command holdfast estimates how long hip and knee implants last in one's own
// outcomes table, and sets the result beside published figures. See the README,
// or holdfast --help.
package main

import (
	"os"

	"example.org/holdfast/cmd/internal/command"
)

func main() { os.Exit(command.Main(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) }
