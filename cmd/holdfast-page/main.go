// Command holdfast-page is the program inside the page that works without a
// connection: it answers what the page asks on standard input. See package page.
package main

import (
	"fmt"
	"os"

	"example.org/holdfast/cmd/internal/page"
)

func main() {
	if err := page.Serve(os.Stdin, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "holdfast-page:", err)
		os.Exit(1)
	}
}
