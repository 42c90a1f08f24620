package main

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/drawing"
	"caul/job/measure"
	"caul/job/proof"
)

func newFittings(e *env) *cobra.Command {
	var angle, labels string
	c := &cobra.Command{
		Use: "fittings [BLADE|CUTTER|KIND]", Short: "which insert, stop or template belongs to which blade and angle",
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, a []string) error { return runFittings(e, strings.Join(a, ""), angle, labels) },
	}
	c.Flags().StringVar(&angle, "angle", "", "degrees of blade tilt or mitre")
	c.Flags().StringVar(&labels, "labels", "", "also write a sheet of labels into this PDF `file`")
	return c
}

func runFittings(e *env, tool, angle, labels string) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	var deg *float64
	if angle != "" {
		v, err := strconv.ParseFloat(strings.TrimRight(angle, "°"), 64)
		if err != nil || math.IsNaN(v) || math.Abs(v) > 360 {
			return &fault{code: exitUsage, msg: fmt.Sprintf("--angle %q is not a number of degrees", angle), hint: "write it as 45 or 22.5"}
		}
		deg = &v
	}
	fs := proof.FindFittings(s, tool, deg)
	if labels != "" {
		paper := drawing.A4
		if s.Units.Length.System == measure.Inches {
			paper = drawing.Letter
		}
		var b bytes.Buffer
		if err := drawing.Labels(&b, fs, s.Units.Length, paper); err != nil {
			return err
		}
		if err := os.WriteFile(e.path(labels), b.Bytes(), 0o644); err != nil {
			return err
		}
	}
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
		if near, ok := proof.NearestFitting(s, tool, angleOf(deg)); len(fs) == 0 && deg != nil && ok {
			e.printf("none at %g°; the nearest is %s (%s), at %g°: cut one at %g°, and note it under `fittings:`\n",
				*deg, cmp.Or(near.Fitting.Name, near.Fitting.ID), near.Job, near.Fitting.Angle, *deg)
		} else if len(fs) == 0 {
			e.printf("%s; a new one goes under `fittings:` in its job.yaml\n", noFitting(s, tool, deg))
		}
		return nil
	})
}

func angleOf(deg *float64) float64 {
	if deg == nil {
		return 0
	}
	return *deg
}

// noFitting says that nothing fits, and for what there is something.
func noFitting(s *job.Shop, tool string, deg *float64) string {
	var names []string
	for _, f := range proof.FindFittings(s, "", nil) {
		x := f.Fitting
		for _, n := range []string{x.Blade, x.Cutter, x.Kind} {
			if n != "" && !slices.Contains(names, n) {
				names = append(names, n)
			}
		}
	}
	if len(names) == 0 {
		return "no fitting in this shop yet"
	}
	what := "no such fitting"
	if tool != "" && !slices.Contains(names, tool) {
		what = fmt.Sprintf("no fitting for %q", tool)
		if near := job.Nearest(tool, names); near != "" {
			return fmt.Sprintf("%s (did you mean %q?)", what, near)
		}
	}
	slices.Sort(names)
	return what + "; there are some for " + strings.Join(names, ", ")
}
