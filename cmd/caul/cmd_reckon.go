package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/job/measure"
	"caul/job/reckon"
)

// newReckon has one command a sum, with a flag for each of its inputs.
func newReckon(e *env) *cobra.Command {
	c := &cobra.Command{
		Use: "reckon", Short: "shop sums: fence, movement, board feet, clamps, spacing, pilots",
		Long: `reckon does the sums a maker does on a scrap of wood, with the working and the
source. Lengths are in the shop's units unless they name their own; outside a
shop they are in inches, or with --units in others.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return e.print("sums", reckon.List(), func() error { return cmd.Help() })
		},
	}
	units := c.PersistentFlags().String("units", "", "in or mm, instead of the shop's")
	for _, s := range reckon.List() {
		c.AddCommand(newSum(e, s, units))
	}
	return c
}

func newSum(e *env, s reckon.Sum, units *string) *cobra.Command {
	vals := map[string]*string{}
	noWords := func(_ *cobra.Command, args []string) error {
		if len(args) > 0 {
			return &fault{code: exitUsage, msg: fmt.Sprintf("caul reckon %s takes no %q", s.Name, strings.Join(args, " ")), hint: "its figures have names; such as: " + examples["reckon "+s.Name]}
		}
		return nil
	}
	c := &cobra.Command{Use: s.Name, Short: s.Title, Long: s.Help, Args: noWords,
		RunE: func(cmd *cobra.Command, _ []string) error {
			in := map[string]string{}
			for k, v := range vals {
				if cmd.Flags().Changed(k) {
					in[k] = *v
				}
			}
			return runSum(e, s.Name, in, *units)
		}}
	for _, i := range s.Inputs {
		help := i.Help
		if len(i.Choices) > 0 {
			help += " (" + strings.Join(i.Choices, ", ") + ")"
		}
		if i.Example != "" {
			help += ", as " + i.Example
		}
		if i.Required {
			help += "; needed"
		} else if d := i.DefaultIn(measure.Units{System: measure.Inches, Mark: 64}); d != "" {
			help += "; usual " + d
		}
		vals[i.Name] = c.Flags().String(i.Name, "", help)
	}
	return c
}

func runSum(e *env, name string, in map[string]string, units string) error {
	u, err := sumUnits(e, units)
	if err != nil {
		return err
	}
	r, err := reckon.Run(name, in, u)
	var bad *reckon.InputError
	if errors.As(err, &bad) {
		msg := fmt.Sprintf("--%s: %s", bad.Input, bad.Msg)
		if what, ok := strings.CutPrefix(bad.Msg, "is wanted: "); ok {
			msg = fmt.Sprintf("%s needs --%s: %s", name, bad.Input, what)
		}
		if bad.Text != "" {
			msg = fmt.Sprintf("--%s %q, column %d: %s", bad.Input, bad.Text, bad.Col, bad.Msg)
		}
		if bad.Input == "" { // the inputs do not go together, and none is at fault alone
			msg = bad.Msg
		}
		hint := bad.Hint
		if strings.HasPrefix(bad.Msg, "is wanted: ") {
			hint = "such as: " + examples["reckon "+name]
		}
		if hint == "" {
			hint = "see `caul reckon " + name + " --help`"
		}
		return &fault{code: exitUsage, msg: msg, hint: hint}
	}
	if err != nil {
		return err
	}
	return e.print("reckon", r, func() error {
		e.printf("%s\n\n", e.bold(r.Title))
		block := func(head string, lines []string, indent string) {
			if len(lines) == 0 {
				return
			}
			if head != "" {
				e.printf("\n%s\n", head)
			}
			for _, l := range lines {
				for k, w := range wrapText(l, e.columns()-len(indent)-2) {
					if k > 0 {
						w = "  " + w
					}
					e.printf("%s%s\n", indent, w)
				}
			}
		}
		block("", r.Answer, "  ")
		block("working", r.Working, "  ")
		block("source", r.Source, "  ")
		block("caution", r.Caution, "  ")
		return nil
	})
}

// sumUnits are those of the flag, else of the shop one stands in, else inches.
func sumUnits(e *env, flag string) (measure.Units, error) {
	u := measure.Units{System: measure.Inches, Mark: 64}
	if flag != "" {
		sys, err := measure.ParseSystem(flag)
		if err != nil {
			return u, usage("--units %q: write in or mm", flag)
		}
		if sys == measure.Metric {
			u = measure.Units{System: sys, Mark: 1}
		}
		return u, nil
	}
	dir, err := e.shopDir()
	if err != nil {
		return u, nil
	}
	// A shop that does not read just now still leaves the sum possible.
	if s, err := job.Load(dir); err == nil {
		u = s.Units.Length
	}
	return u, nil
}
