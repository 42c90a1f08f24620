package main

import (
	"context"
	"path/filepath"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/site"
)

func newSite(e *env) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use: "site", Short: "draw the shop as pages that open from a folder",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runSite(cmd.Context(), e, out) },
	}
	c.Flags().StringVarP(&out, "out", "o", "", "the `folder` to draw into (default: site in the shop)")
	return c
}

func runSite(ctx context.Context, e *env, out string) error {
	s, err := e.shop()
	if err != nil {
		return err
	}
	page, rep, err := drawSite(ctx, e, s, out)
	if err != nil {
		return err
	}
	return e.print("site", map[string]any{"page": page, "written": rep.Written, "same": rep.Same, "removed": rep.Removed, "damaged": rep.Damaged}, func() error {
		e.printf("%s\n%d written, %d as before, %d removed\n", page, rep.Written, rep.Same, rep.Removed)
		for _, p := range rep.Damaged {
			e.printf("look: %s cannot be read as a picture\n", p)
		}
		return nil
	})
}

// drawSite draws all pages and gives the path of the first.
func drawSite(ctx context.Context, e *env, s *job.Shop, out string) (string, site.Report, error) {
	dir := filepath.Join(s.Dir, "site")
	if out != "" {
		dir = e.path(out)
	}
	done := e.progress("drawing the pages")
	defer done()
	in, err := gather(ctx, e, s)
	if err != nil {
		return "", site.Report{}, err
	}
	pages, err := site.Render(in)
	if err != nil {
		return "", site.Report{}, err
	}
	rep, err := site.Write(dir, pages, in.Open)
	return filepath.Join(dir, "index.html"), rep, err
}
