package main

import (
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"caul/job/measure"
	"caul/job/proof"
)

func newFittings(e *env) *cobra.Command {
	var angle string
	c := &cobra.Command{
		Use: "fittings [BLADE|CUTTER|KIND]", Short: "which insert, stop or template belongs to which blade and angle",
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, a []string) error { return runFittings(e, strings.Join(a, ""), angle) },
	}
	c.Flags().StringVar(&angle, "angle", "", "degrees of blade tilt or mitre")
	return c
}

func runFittings(e *env, tool, angle string) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	var deg *float64
	if angle != "" {
		v, err := strconv.ParseFloat(strings.TrimRight(angle, "°"), 64)
		if err != nil {
			return usage("--angle %q is not a number of degrees", angle)
		}
		deg = &v
	}
	fs := proof.FindFittings(s, tool, deg)
	return e.print("fittings", fs, func() error {
		for _, f := range fs {
			x := f.Fitting
			name := x.Name
			if name == "" {
				name = x.ID
			}
			e.printf("%s (%s)\n", e.bold(name), f.Job)
			var facts []string
			if x.Blade+x.Cutter != "" {
				facts = append(facts, "for "+x.Blade+x.Cutter)
			}
			facts = append(facts, strconv.FormatFloat(x.Angle, 'g', -1, 64)+"°")
			if x.Kerf.Set {
				facts = append(facts, "kerf "+measure.FormatUnit(x.Kerf.Length, s.Units.Length))
			}
			if !x.Cut.IsZero() {
				facts = append(facts, "cut "+x.Cut.Format("2 Jan 2006"))
			}
			if x.Hangs != "" {
				facts = append(facts, "hangs on "+x.Hangs)
			}
			e.printf("  %s\n", strings.Join(facts, ", "))
			if f.Warn != "" {
				e.printf("  look: %s\n", f.Warn)
			}
		}
		if len(fs) == 0 {
			e.printf("no such fitting; note it under `fittings:` in the job it belongs to\n")
		}
		return nil
	})
}
