package command

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// manual writes the page that man shows, from the help of all subcommands.
func (a *app) manual() *cobra.Command {
	return &cobra.Command{
		Use:     "manual",
		Short:   "The manual as one page, in the form that man reads",
		Example: "  holdfast manual > holdfast.1",
		Args:    cobra.NoArgs,
		RunE: a.run(func(c *cobra.Command, _ []string) error {
			return a.output("", func(w io.Writer) error {
				_, err := io.WriteString(w, manualPage(c.Root()))
				return err
			})
		}),
	}
}

// manualPage is the help of a command and of all its subcommands.
func manualPage(root *cobra.Command) string {
	b := new(strings.Builder)
	fmt.Fprintf(b, ".TH %s 1\n.SH NAME\n%s \\- %s\n.SH SYNOPSIS\n.B %[2]s\n.I COMMAND\n[\\fIflags\\fR]\n.br\n.B %[2]s\n.I TABLE\n.SH DESCRIPTION\n",
		strings.ToUpper(root.Name()), root.Name(), roff(strings.ToLower(root.Short[:1])+root.Short[1:]))
	verbatim(b, root.Long)
	b.WriteString(".SH EXAMPLES\n")
	verbatim(b, root.Example)
	root.InitDefaultCompletionCmd()
	var topics []*cobra.Command
	b.WriteString(".SH COMMANDS\n")
	for _, c := range root.Commands() {
		switch {
		case !c.Runnable() && !c.HasSubCommands():
			topics = append(topics, c)
		case c.IsAvailableCommand():
			manualOf(b, c)
		}
	}
	for _, c := range topics {
		fmt.Fprintf(b, ".SH %s\n", roff(strings.ToUpper(c.Short)))
		verbatim(b, c.Long)
	}
	return b.String()
}

// manualOf writes the help of one subcommand, with its flags.
func manualOf(b *strings.Builder, c *cobra.Command) {
	fmt.Fprintf(b, ".SS %s\n%s.\n.PP\n", roff(c.UseLine()), roff(c.Short))
	verbatim(b, c.Long)
	c.Flags().VisitAll(func(f *pflag.Flag) {
		if f.Hidden {
			return
		}
		value, usage := pflag.UnquoteUsage(f)
		if value != "" {
			value = " \\fI" + roff(value) + "\\fR"
		}
		fmt.Fprintf(b, ".TP\n\\fB%s\\fR%s\n%s\n", roff("--"+f.Name), value, roff(usage))
	})
	if c.Example != "" {
		b.WriteString(".PP\nExamples:\n")
		verbatim(b, c.Example)
	}
}

// verbatim writes text with its lines as they are.
func verbatim(b *strings.Builder, text string) {
	if text == "" {
		return
	}
	b.WriteString(".nf\n")
	for line := range strings.Lines(strings.TrimRight(text, "\n") + "\n") {
		b.WriteString(roff(strings.TrimSuffix(line, "\n")) + "\n")
	}
	b.WriteString(".fi\n.PP\n")
}

// roff is a text without what would be an order to the typesetter.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, "-", `\-`).Replace(s)
	if strings.HasPrefix(s, ".") || strings.HasPrefix(s, "'") {
		s = `\&` + s
	}
	return s
}
