package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/glue"
	"caul/job/lines"
	"caul/job/measure"
	"caul/job/plan"
)

func newGlueUp(e *env) *cobra.Command {
	var at string
	c := &cobra.Command{
		Use: "glue-up [STEP]", Short: "the sheet of a glue-up: glue, time, clamps, waits",
		Long: `glue-up works out one glue-up begun now, or at an hour of your choice: how much
glue to pour, whether it can be spread and closed in time, how many clamps and
where, when they come off, when it may be machined. Without a step it lists the
glue-ups of the shop.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error { return runGlueUp(e, args, at) },
	}
	c.Flags().StringVar(&at, "at", "", "when the glue goes on, as 19:05 or 2026-03-14T19:05 (default: now)")
	return c
}

func runGlueUp(e *env, args []string, at string) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	if len(args) == 0 {
		return listGlueUps(e, s)
	}
	step, j, err := findStep(s, args[0], "")
	if err != nil {
		return err
	}
	if step.GlueUp == nil {
		return &fault{code: exitUsage, msg: fmt.Sprintf("%s is not a glue-up", args[0]), hint: "see `caul glue-up` for those there are"}
	}
	when, err := parseWhen(at, e.now(), s.Zone)
	if err != nil {
		return err
	}
	g, err := plan.GlueSheet(s, j, step, when)
	if err != nil {
		return err
	}
	type sheet struct {
		*plan.GlueUpSheet
		Slower []string `json:"slower,omitempty"` // glues in whose open time it can be closed
	}
	out := sheet{GlueUpSheet: g}
	for _, k := range g.Sheet.Slower {
		out.Slower = append(out.Slower, k.Name)
	}
	return e.print("glue-up", out, func() error {
		_, err := fmt.Fprint(e.out, glueUpText(e, s, g))
		return err
	})
}

func listGlueUps(e *env, s *job.Shop) error {
	type row struct {
		Step string `json:"step"`
		Name string `json:"name"`
		Glue string `json:"glue"`
	}
	rows := []row{}
	for _, j := range s.Jobs {
		for i := range j.Steps {
			if st := &j.Steps[i]; st.GlueUp != nil {
				rows = append(rows, row{j.ID + "/" + st.ID, st.Name, st.GlueUp.Glue})
			}
		}
	}
	return e.print("glue-ups", rows, func() error {
		for _, r := range rows {
			e.printf("%s  %s (%s)\n", r.Step, r.Name, r.Glue)
		}
		if len(rows) == 0 {
			e.printf("no glue-up in this shop yet\n")
		}
		return nil
	})
}

func glueUpText(e *env, s *job.Shop, g *plan.GlueUpSheet) string {
	var b strings.Builder
	w := e.columns()
	row := func(label, text string) {
		for i, l := range wrapText(text, w-16) {
			if i == 0 {
				fmt.Fprintf(&b, "  %-13s %s\n", label, l)
			} else {
				fmt.Fprintf(&b, "  %-13s %s\n", "", l)
			}
		}
	}
	sc := measure.Celsius
	if s.Units.Temp == "F" {
		sc = measure.Fahrenheit
	}
	u := s.Units.Length
	sh := g.Sheet
	fmt.Fprintf(&b, "%s (%s/%s), begun %s\n\n", e.bold(g.Name), g.Job, g.Step, g.At.In(zoneOf(s)).Format("Mon 2 Jan 15:04"))
	class := ""
	if g.Class != "" {
		class = ", " + g.Class
	}
	row("glue", g.Glue+class)
	row("air", sh.At.FormatIn(sc))
	row("dry fit", strings.Join(g.Parts, ", "))
	row("bond", g.Bond)
	pour := fmt.Sprintf("%.0f g", sh.Grams)
	if sh.Millilitres > 0 {
		pour += fmt.Sprintf(", about %.0f ml", sh.Millilitres)
	}
	row("pour", pour)
	fit := fmt.Sprintf("spread %v of %v open; closed and tight %v after the first glue, of %v", minutes(sh.Spread), minutes(sh.Open), minutes(sh.Spread+sh.Close), minutes(sh.Total))
	if sh.Fits {
		fit += fmt.Sprintf(": fits, %d min to spare", sh.MarginMin)
	} else {
		fit += ": does not fit"
	}
	row("time", fit)
	row("hands", g.Hands)
	if len(sh.Slower) > 0 && !sh.Fits {
		row("slower glues", kindNames(sh.Slower))
	}
	row("clamps", fmt.Sprintf("take %d: %d reach everywhere (one presses %s of the joint), %d give the full %s (%d to %d by hand)",
		sh.Take, sh.BySpacing, measure.FormatUnit(sh.Coverage.Round(u), u), sh.ByForce, pressureText(sh.Pressure, u), sh.FewForce, sh.ManyForce))
	if g.Lines > 1 && sh.ByForce > 0 {
		row("glue lines", fmt.Sprintf("%d, reckoned as one behind the other between the same jaws; side by side they want %d times the force", g.Lines, g.Lines))
	}
	if len(g.Take) > 0 {
		who := "the job says"
		if g.Auto {
			who = "chosen here"
		}
		row(who, strings.Join(g.Take, ", "))
	}
	if len(g.Take) > 0 && g.Jaws > 0 {
		over := ""
		if g.Cauled {
			over = " and its cauls"
		}
		row("jaws", fmt.Sprintf("stand %s apart over the joint%s", measure.FormatUnit(g.Jaws.Round(u), u), over))
	}
	if len(sh.Positions) > 0 {
		var at []string
		for _, p := range sh.Positions {
			at = append(at, measure.Format(p.Round(u), u))
		}
		where := strings.Join(at, ", ") + " " + u.System.Name() + " from one end"
		if sh.Cauls > 0 {
			where += ", on cauls right across, a clamp at each end"
		} else if sh.Rows > 1 {
			where += fmt.Sprintf(", in %d rows", sh.Rows)
		}
		row("stand at", where)
	}
	row("clamps off", waitText(s, sh.ClampsOff))
	row("machine it", waitText(s, sh.Machine))
	row("full strength", waitText(s, sh.Full))
	row("because", g.Why)
	list := func(head string, items []string) {
		if len(items) == 0 {
			return
		}
		fmt.Fprintf(&b, "\n%s\n", head)
		for i, it := range items {
			for k, l := range wrapText(it, w-6) {
				if k == 0 {
					fmt.Fprintf(&b, "  %2d. %s\n", i+1, l)
				} else {
					fmt.Fprintf(&b, "      %s\n", l)
				}
			}
		}
	}
	list("look", sh.Warnings)
	list("order of work", sh.Order)
	var cautions []string
	for _, c := range sh.Cautions {
		cautions = append(cautions, c.Text)
	}
	list("caution", cautions)
	return b.String()
}

func waitText(s *job.Shop, w glue.Wait) string {
	if w.Never {
		return "never in this air"
	}
	if w.Takes() == 0 {
		return "no wait"
	}
	ready := measure.MinuteUp(w.Ready)
	return fmt.Sprintf("%s, %v after the clamps went on", ready.In(zoneOf(s)).Format("Mon 2 Jan 15:04"), w.Takes().MinutesUp())
}

func kindNames(ks []*glue.Kind) string {
	var out []string
	for _, k := range ks {
		out = append(out, k.Name)
	}
	return strings.Join(out, ", ")
}

// wrapText breaks text at blanks into lines of at most width columns.
func wrapText(text string, width int) []string { return lines.Wrap(text, max(width, 16)) }

// minutes leaves the seconds off: no glue keeps them.
func minutes(s measure.Span) measure.Span {
	if s < 10*measure.Minute {
		return s / 30 * 30
	}
	return s / measure.Minute * measure.Minute
}

// pressureText is psi in an inch shop and kPa in a metric one.
func pressureText(p measure.Pressure, u measure.Units) string {
	if u.System == measure.Inches {
		return fmt.Sprintf("%.0f psi", p.PSI())
	}
	return fmt.Sprintf("%.0f kPa", p.KPa())
}
