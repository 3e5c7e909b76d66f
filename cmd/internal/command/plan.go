package command

import (
	"cmp"
	"context"
	"io"
	"math"
	"slices"
	"strconv"

	"github.com/spf13/cobra"

	"example.org/holdfast/cmd/internal/report"
	"example.org/holdfast/cmd/internal/settings"
	"example.org/holdfast/cohort"
	"example.org/holdfast/cohort/audit"
	"example.org/holdfast/cohort/benchmark"
	"example.org/holdfast/cohort/plan"
)

type planFlags struct {
	auditFlags
	joints       int
	figure       string
	atMost       float64
	perYear      float64
	dying        float64
	runs         int
	seed         uint64
	most         int
	givenPerYear bool
	givenDying   bool
}

func (a *app) plan() *cobra.Command {
	f := new(planFlags)
	c := &cobra.Command{
		Use:   "plan [TABLE...]",
		Short: "What can a series of this size show, and when?",
		Long: `Says what a series of joints can show, before what it does show is looked at: the
numbers revised that would read above or below a published figure, the smallest
ratio that 80 of 100 such series find, how many joints show that revision is at
most a bound, and when a practice that goes on as it did will have shown it.

Of tables it takes the joints followed to each published year, the operations a
year and the deaths. Without one, the numbers are given: --joints and
--published-pct.`,
		Example: `  holdfast plan mine.csv --closing-date 2024-12-31
  holdfast plan --joints 200 --published-pct 5
  holdfast plan --joints 200 --published-pct '4.0 (3.9-4.1)' --years 5 --at-most 4 --per-year 60`,
		Args: cobra.ArbitraryArgs,
		RunE: a.run(func(c *cobra.Command, args []string) error {
			f.givenPerYear, f.givenDying = c.Flags().Changed("per-year"), c.Flags().Changed("dying")
			return a.runPlan(c, f, args)
		}),
	}
	s := c.Flags()
	s.IntVar(&f.joints, "joints", 0, "`NUMBER` of joints, all followed to --years, in place of a table")
	s.StringVar(&f.figure, "published-pct", "", "published revision in `PER CENT`, such as 5 (taken as exact) or '4.0 (3.9-4.1)'")
	s.StringVar(&f.years, "years", "10", "`YEARS` since operation of --published-pct and --at-most")
	s.Float64Var(&f.atMost, "at-most", 5, "revision in `PER CENT` that is to be shown not to be exceeded")
	s.Float64Var(&f.perYear, "per-year", 0, "operations a `YEAR` from now on (default: as in the last five years of the table)")
	s.Float64Var(&f.dying, "dying", 2, "`PER CENT` of patients dying a year (default: as in the table)")
	s.IntVar(&f.runs, "runs", 300, "`NUMBER` of practices simulated")
	s.Uint64Var(&f.seed, "seed", 1, "`NUMBER` that the simulation starts from; the same gives the same")
	s.IntVar(&f.most, "most-years", 20, "`YEARS` from now that are simulated")
	s.Float64Var(&f.level, "level", settings.DefaultLevel, "confidence `LEVEL`")
	s.StringArrayVar(&f.published, "published", nil, "`FILE` of published figures, before the built-in ones; none for neither; repeatable")
	s.StringVar(&f.builtin, "builtin", "yes", "no leaves out the built-in published figures")
	s.StringArrayVar(&f.countries, "country", nil, "only published figures of this `COUNTRY`; repeatable")
	s.StringVar(&f.format, "format", "text", "`FORMAT`: text, markdown, csv or json")
	s.StringVar(&f.out, "out", "", "write to `FILE` instead of standard output")
	s.BoolVar(&f.share, "share", false, "refused: a plan can't be made safe to share")
	a.addWidth(s)
	f.readingFlags.add(c)
	return c
}

func (a *app) runPlan(c *cobra.Command, f *planFlags, args []string) error {
	in, err := f.inForce(c.Flags())
	if err != nil {
		return err
	}
	if err := apart([]string{f.out}, in.Inputs(args)); err != nil {
		return err
	}
	page, err := f.page(in)
	if err != nil {
		return err
	}
	if len(args) == 0 {
		err = f.ofNumbers(page)
	} else {
		err = a.planOfTables(c.Context(), f, args, in, page)
	}
	if err != nil {
		return err
	}
	page.Show()
	return a.output(f.out, func(w io.Writer) error {
		switch f.format {
		case "csv":
			return plan.WriteCSV(w, page)
		case "json":
			return plan.WriteJSON(w, page)
		}
		return a.readable(w, report.Plan(page), f.format, f.out)
	})
}

// page is what is asked about, checked.
func (f *planFlags) page(in *settings.Settings) (*plan.Plan, error) {
	at, err := strconv.ParseFloat(f.years, 64)
	switch {
	case !slices.Contains([]string{"text", "markdown", "csv", "json"}, f.format):
		return nil, usage("--format %q: want text, markdown, csv or json", f.format)
	case f.share:
		return nil, usage("--share: a plan can't be made safe to share: its numbers of joints followed give small counts away. Share an audit instead, or plan with --joints")
	case err != nil || !(at > 0 && at <= 40):
		return nil, usage("--years %q: want one number of years, such as 10", f.years)
	case !(f.atMost > 0 && f.atMost < 100):
		return nil, usage("--at-most %v: want per cent between 0 and 100", f.atMost)
	case f.perYear < 0 || math.IsNaN(f.perYear) || f.perYear > 1e5:
		return nil, usage("--per-year %v: want a number of operations", f.perYear)
	case !(f.dying >= 0 && f.dying < 100):
		return nil, usage("--dying %v: want per cent from 0 to 100", f.dying)
	case f.runs < 1 || f.runs > 1e5 || f.most < 1 || f.most > 50:
		return nil, usage("want 1 to 100000 --runs of 1 to 50 --most-years")
	}
	level := settings.DefaultLevel
	if in.Level != nil {
		level = *in.Level
	}
	if !(level > 0 && level < 1) {
		return nil, usage("%s %v: want a number between 0 and 1, such as 0.95", in.From("level"), level)
	}
	in.Years = []float64{at}
	return &plan.Plan{Bound: f.atMost / 100, Years: at, Level: level, Runs: f.runs, Seed: f.seed}, nil
}

// ofNumbers plans a series of a number of joints.
func (f *planFlags) ofNumbers(page *plan.Plan) error {
	if f.joints < 1 || f.joints > 1e7 || f.figure == "" {
		return usage("name a table, or say how many joints and what is published: --joints 200 --published-pct 5")
	}
	figure, err := benchmark.ParseFigure(f.figure)
	if err != nil {
		return usage("--published-pct: %w", err)
	}
	if !(figure.Revision > 0 && figure.Revision < 1) {
		return usage("--published-pct %s: want per cent between 0 and 100", f.figure)
	}
	if !figure.HasLimits() {
		figure.Rounding = 0 // an assumption is exact
	}
	figure.Years = page.Years
	part := plan.Part{Given: f.joints, PerYear: f.perYear, Dying: f.dying / 100, Last: f.most}
	for _, n := range slices.Compact(slices.Sorted(slices.Values([]int{50, 100, 200, 500, 1000, f.joints}))) {
		part.Beside = append(part.Beside, plan.NewBeside(n, figure, nil))
	}
	if f.perYear > 0 {
		if err := f.simulate(page, &part, nil, nil); err != nil {
			return err
		}
	}
	page.Parts = []plan.Part{part}
	return nil
}

// simulate fills in when the bound is shown. Revision rises over time as a
// published series does, else evenly.
func (f *planFlags) simulate(page *plan.Plan, part *plan.Part, s *benchmark.Series, standing []plan.Standing) error {
	shape := func(y float64) float64 { return y }
	if s != nil {
		if h, ok := benchmark.NewHazard(s); ok && s.Figures[len(s.Figures)-1].Years >= page.Years && h.At(page.Years) > 0 {
			shape = h.At
		}
	}
	for _, tenths := range []float64{4, 6, 8} {
		truth := tenths * page.Bound / 10
		scale := -math.Log1p(-truth) / shape(page.Years)
		chances, err := plan.When(plan.Accrual{PerYear: part.PerYear, Standing: standing, Dying: part.Dying, Bound: page.Bound, Years: page.Years, Level: page.Level,
			Truth: func(y float64) float64 { return -math.Expm1(-scale * shape(y)) }}, part.Last, f.runs, f.seed)
		if err != nil {
			return err
		}
		part.When = append(part.When, plan.Truth{Revision: truth, Chances: chances})
	}
	return nil
}

// planOfTables plans what the joints of tables can show as they are followed so
// far, and as the practice goes on.
func (a *app) planOfTables(ctx context.Context, f *planFlags, tables []string, in *settings.Settings, page *plan.Plan) error {
	if f.joints != 0 || f.figure != "" {
		return usage("a table says how many joints there are: --joints and --published-pct are for a plan without one")
	}
	in.By = []string{}
	in.Given["by"] = true
	result, source, _, err := a.runSettings(ctx, tables, in, false)
	if err != nil {
		return err
	}
	longest, err := source.Longest()
	if err != nil {
		return err
	}
	for i := range result.Groups {
		g := &result.Groups[i]
		part := plan.Part{Joint: g.Word("joint"), Procedure: g.Word("procedure"), Last: f.most, PerYear: f.perYear, Dying: f.dying / 100}
		var shape *benchmark.Series
		for _, b := range result.Beside {
			if !b.Read() || b.Joint != g.Word("joint") || b.Procedure != g.Word("procedure") || b.Series.Estimand != benchmark.OneMinusKaplanMeier || len(b.Series.Others()) > 0 || len(b.Within) > 0 {
				continue
			}
			shape = b.Series
			part.Beside = append(part.Beside, plan.NewBeside(int(b.Comparison.Basis.SeenTo), b.Figure, b.Series))
		}
		standing, perYear, err := standingOf(source, g, longest)
		if err != nil {
			return err
		}
		if !f.givenPerYear {
			part.PerYear = perYear
		}
		if !f.givenDying && result.Deaths.Recorded && g.ImplantYears > 0 {
			part.Dying = -math.Expm1(-float64(g.Died) / g.ImplantYears)
		}
		if g.Joints >= benchmark.FewestAtRisk {
			if err := f.simulate(page, &part, shape, standing); err != nil {
				return err
			}
		}
		page.Parts = append(page.Parts, part)
	}
	return nil
}

// standingOf are the joints of a group as they stand, and how many were operated
// on in each of the last five years, or since the first; longest is how long ago that was
// for each joint and procedure.
func standingOf(source counted, g *audit.Group, longest map[[2]string]int) (standing []plan.Standing, perYear float64, err error) {
	joints, err := source.Joints(cohort.Endpoint{}, "joint", "procedure")
	if err != nil {
		return nil, 0, err
	}
	recent := int(cohort.DayOfYear(5))
	lately := 0
	for j := range joints {
		if j.Values[0] != g.Word("joint") || j.Values[1] != g.Word("procedure") {
			continue
		}
		s := plan.Standing{Days: j.Days, Cause: j.Cause}
		if j.End == cohort.EndLastSeen || j.End == cohort.EndLost {
			s.Cause = plan.Left
		}
		standing = append(standing, s)
		if j.Possible < recent {
			lately++
		}
	}
	// In an order that does not hang on that of rows, as what is simulated does.
	slices.SortFunc(standing, func(a, b plan.Standing) int {
		return cmp.Or(cmp.Compare(a.Days, b.Days), cmp.Compare(a.Cause, b.Cause))
	})
	over := float64(min(longest[[2]string{g.Word("joint"), g.Word("procedure")}], recent)) / cohort.DaysPerYear
	if over >= 1 {
		perYear = float64(lately) / over
	}
	return standing, perYear, nil
}
