package command

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"example.org/holdfast/cmd/internal/gather"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/exchange"
)

type tallyFlags struct {
	auditFlags
	coarsen string
	counts  string
}

func (a *app) tally() *cobra.Command {
	f := new(tallyFlags)
	c := &cobra.Command{
		Use:   "tally TABLE... --closing-date DAY --out FILE.parquet",
		Short: "Counts of a table without its rows, to be pooled with others'",
		Long: `Reads outcomes tables as holdfast audit does and writes what they come to without
their rows: for joints alike in what is grouped by and in all that a published
figure may state, how many left observation on which day of their follow-up, and
why; how many patients each group has; and the account of the rows read and set
aside. holdfast audit, report, draw, plan and contrast take such files in place of
tables, or beside them, and give what all the rows together would, to the last digit;
only patients are the sum over the files. What needs rows or calendar days (holdfast
check and monitor, reasons for revision, completeness) does not take them.

A tally is NOT anonymous: it holds single revisions and deaths by the day. It is
for bodies that may exchange such data, and --share can't be asked of it; what may
leave the building is an audit made with --share.

Tallies are pooled where closing date, endpoint, age bands, columns grouped by and
published figures are the same: agree on them, and on --published FILE, before.
A tally that was cut short, changed or damaged is refused.

With --coarsen days between whole months (or quarters) since the operation become one:
estimates at whole months are then nearly those of the days, and the largest error that
could have caused is said, here, in the file, and by every audit of it. It tells less of
single joints; it does not make a tally anonymous.`,
		Example: `  holdfast tally mine.csv --closing-date 2024-12-31 --by hospital,bearing --out site.parquet
  holdfast audit site1.parquet site2.parquet site3.parquet --by bearing`,
		Args: tables,
		RunE: a.run(func(c *cobra.Command, args []string) error { return a.runTally(c, f, args) }),
	}
	s := c.Flags()
	s.StringVar(&f.by, "by", strings.Join(audit.DefaultBy(), ","), "`COLUMNS` to group by within joint and procedure, or none")
	s.StringArrayVar(&f.published, "published", nil, "`FILE` of published figures that audits are to be set beside, before the built-in ones; none for neither; repeatable")
	s.StringVar(&f.builtin, "builtin", "yes", "no leaves out the built-in published figures")
	s.StringArrayVar(&f.countries, "country", nil, "only published figures of this `COUNTRY`; repeatable")
	s.StringArrayVar(&f.reasons, "reason", nil, "count only revisions for this `REASON`, the others compete; repeatable")
	s.StringVar(&f.out, "out", "", "write to `FILE`, whose ending is .parquet")
	s.StringVar(&f.counts, "counts", "", "make it of the rows in `FILE` (CSV) that a query counted; TABLE is the checked cohort (holdfast help engines)")
	s.StringVar(&f.coarsen, "coarsen", "", "tell days of follow-up as `PARTS` of a year alone: months or quarters")
	s.BoolVar(&f.share, "share", false, "refused: a tally is not anonymous")
	f.readingFlags.add(c)
	return c
}

func (a *app) runTally(c *cobra.Command, f *tallyFlags, args []string) error {
	switch {
	case f.share:
		return usage("--share: a tally can't be made safe to share: it holds single revisions and deaths by the day. Share an audit instead")
	case f.out == "":
		return usage("where to? Name a file: --out tally.parquet")
	case !strings.EqualFold(filepath.Ext(f.out), ".parquet"):
		return usage("--out %s: a tally is written to a file that ends in .parquet", f.out)
	case f.counts != "":
		return a.tallyCounts(c, f, args)
	}
	in, ro, ao, err := f.options(c.Flags())
	if err != nil {
		return err
	}
	if err := apart([]string{f.out}, in.Inputs(args)); err != nil {
		return err
	}
	if ro.ClosingDate == nil {
		return usage("a tally needs --closing-date, such as 2024-12-31: tallies are pooled only where theirs is the same")
	}
	if ao.Published, err = a.figures(in); err != nil {
		return err
	}
	ro.Keep = slices.Concat(ro.Keep, ao.By, audit.Statable(), audit.Finer())
	co, err := a.read(c.Context(), args, ro)
	if err != nil {
		return in.Placed(err)
	}
	o := exchange.Options{By: ao.By, Published: ao.Published, Endpoint: ao.Endpoint, Coarsen: exchange.Coarse(f.coarsen)}
	if !in.Given["by"] {
		o.By, _ = settings.Grouped(co, ao.By)
	}
	t, err := exchange.Count(f.out, co, o)
	if err != nil {
		return &usageError{Err: err} // all of them are about what was asked for
	}
	if err := a.writeFile(f.out, t.Write); err != nil {
		return err
	}
	about := co.Account()
	fmt.Fprintf(a.stderr, "%d rows read = %d used + %d set aside. %s\n", about.Read, about.Used, about.SetAside, exchange.Caution)
	if said := t.CoarseSaid(); said != "" {
		fmt.Fprintln(a.stderr, said)
	}
	return nil
}

// tallyCounts makes a tally of what a query counted over a checked cohort.
func (a *app) tallyCounts(c *cobra.Command, f *tallyFlags, args []string) error {
	var wrong error
	c.Flags().Visit(func(flag *pflag.Flag) {
		if !slices.Contains([]string{"by", "counts", "out"}, flag.Name) {
			wrong = usage("--%s has no place beside --counts: what was settled stands in the checked cohort", flag.Name)
		}
	})
	if len(args) != 1 {
		wrong = usage("--counts are those of one checked cohort: name it alone")
	}
	if wrong != nil {
		return wrong
	}
	if err := apart([]string{f.out}, append(slices.Clone(args), f.counts)); err != nil {
		return err
	}
	var by []string
	if c.Flags().Changed("by") {
		by = strings.Split(f.by, ",")
	}
	rows, err := os.Open(f.counts)
	if err != nil {
		return err
	}
	defer rows.Close()
	t, err := exchange.Counted(c.Context(), f.out, args[0], rows, by)
	if err != nil {
		return err
	}
	if err := a.writeFile(f.out, t.Write); err != nil {
		return err
	}
	_, err = fmt.Fprintln(a.stderr, exchange.Caution)
	return err
}

// talliesAmong parts the names of tallies from those of tables.
func talliesAmong(names []string) (tables, tallies []string) {
	for _, name := range names {
		if name != "-" && exchange.IsTally(name) {
			tallies = append(tallies, name)
		} else {
			tables = append(tables, name)
		}
	}
	return tables, tallies
}

// noRows refuses tallies for what needs rows.
func noRows(names []string) error {
	if _, tallies := talliesAmong(names); len(tallies) > 0 {
		return usage("%s is a tally: it has no rows and no calendar days, which this needs. audit, report, draw, plan and contrast take tallies", tallies[0])
	}
	return nil
}

// counted is where counts come from, and the longest that joints could have been followed.
type counted interface {
	gather.Source
	Longest() (map[[2]string]int, error)
}

// source is where counts come from: tables, in which case co is their cohort; or, if
// there are tallies among the names, these with the tables beside them tallied alike.
func (a *app) source(ctx context.Context, names []string, in *settings.Settings, ro cohort.Options) (s counted, co *cohort.Cohort, err error) {
	tables, tallies := talliesAmong(names)
	if len(tallies) == 0 {
		co, err = a.read(ctx, tables, ro)
		return co, co, in.Placed(err)
	}
	var all []*exchange.Tally
	told := a.progress()
	defer told.clear()
	for i, name := range tallies {
		told.say(fmt.Sprintf("reading: tally %d of %d", i+1, len(tallies)))
		if slices.ContainsFunc(tallies[:i], func(other string) bool { return sameTable(name, other) }) {
			return nil, nil, usage("%s is named twice: its joints would be counted twice", name)
		}
		t, err := exchange.Read(ctx, name, a.digests.of(name))
		if err != nil {
			return nil, nil, err
		}
		all = append(all, t)
	}
	if ro, err = all[0].Reading(ro); err != nil {
		return nil, nil, err
	}
	if len(tables) > 0 {
		if co, err = a.read(ctx, tables, ro); err != nil {
			return nil, nil, in.Placed(err)
		}
		t, err := all[0].Like(strings.Join(tables, ", "), co)
		if err != nil {
			return nil, nil, err
		}
		all = append(all, t)
	}
	p, err := exchange.NewPool(all...)
	if err != nil {
		return nil, nil, err
	}
	return p, nil, nil
}

// pooledBy is what pooled tallies are grouped by, if nothing else was asked for.
func pooledBy(s audit.Source, given bool, by []string) []string {
	if p, ok := s.(*exchange.Pool); ok && !given {
		return p.By()
	}
	return by
}
