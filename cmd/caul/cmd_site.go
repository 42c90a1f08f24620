package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"time"

	"github.com/spf13/cobra"

	"caul/job"
	"caul/site"
)

type siteOptions struct {
	out  string
	anew bool
}

func newSite(e *env) *cobra.Command {
	var o siteOptions
	c := &cobra.Command{
		Use: "site", Short: "draw the shop as pages that open from a folder",
		Long: `site draws the shop as pages that open from a folder or from any host. Only what
changed is written. Pages of finished jobs are not drawn again until a file of
theirs or of the shop changes; what is kept to know that lies in the user's
cache folder and may be deleted at any time.`,
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runSite(cmd.Context(), e, o) },
	}
	c.Flags().StringVarP(&o.out, "out", "o", "", "the `folder` to draw into (default: site in the shop)")
	c.Flags().BoolVar(&o.anew, "anew", false, "draw every page again")
	return c
}

func runSite(ctx context.Context, e *env, o siteOptions) error {
	dir, err := e.shopDir()
	if err != nil {
		return err
	}
	page, rep, held, err := drawSite(ctx, e, dir, o)
	if err != nil {
		return err
	}
	return e.print("site", map[string]any{"page": page, "written": rep.Written, "same": rep.Same, "removed": rep.Removed, "damaged": rep.Damaged, "held": held}, func() error {
		e.printf("%s\n%d written, %d as before, %d removed\n", page, rep.Written, rep.Same, rep.Removed)
		for _, p := range rep.Damaged {
			e.printf("look: %s cannot be read as a picture\n", p)
		}
		return nil
	})
}

// drawSite draws the pages of a shop, those of finished jobs only where
// something changed. It gives the path of the first page, and how many jobs'
// pages were held.
func drawSite(ctx context.Context, e *env, shop string, o siteOptions) (string, site.Report, int, error) {
	out := filepath.Join(shop, "site")
	if o.out != "" {
		out = e.path(o.out)
	}
	mo := site.MemoryOptions{Shop: shop, Out: out, Now: e.now(), Forget: o.anew, Clock: time.Now}
	if dir := cacheFolder(e); dir != "" {
		mo.Dir, mo.Program = filepath.Join(dir, mark(shop, out)), thisProgram()
	}
	done := e.progress("drawing the pages")
	defer done()
	return drawAs(ctx, e, mo)
}

// drawAs draws with what is remembered, and without it where that is spoiled.
func drawAs(ctx context.Context, e *env, o site.MemoryOptions) (first string, rep site.Report, held int, err error) {
	defer debug.SetGCPercent(debug.SetGCPercent(400))
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(200 << 20))
	for {
		s, kept, err := site.Recall(o)
		if err != nil {
			return "", rep, 0, err
		}
		first, rep, err = drawShop(ctx, e, s, o.Out, kept, results{})
		if errors.Is(err, site.ErrForgot) && !o.Forget {
			o.Forget = true
			continue
		}
		return first, rep, kept.Held(), err
	}
}

// drawShop draws a shop that is read already, with what is known of it.
func drawShop(ctx context.Context, e *env, s *job.Shop, out string, kept *site.Memory, known results) (string, site.Report, error) {
	in, err := gather(ctx, e, s, kept, known)
	if err != nil {
		return "", site.Report{}, err
	}
	pages, err := site.Render(in)
	if err != nil {
		return "", site.Report{}, err
	}
	rep, err := site.Write(out, pages, in.Open)
	if err == nil {
		_ = kept.Save(in, pages) // without it the next drawing only takes longer
	}
	return filepath.Join(out, "index.html"), rep, err
}

// cacheFolder is where this user's programs keep what can be worked out again;
// empty when there is none.
func cacheFolder(e *env) string {
	if d := e.getenv("CAUL_CACHE"); d != "" {
		return e.path(d)
	}
	d, err := os.UserCacheDir()
	if err != nil {
		return ""
	}
	return filepath.Join(d, "caul")
}

func mark(parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		h.Write([]byte(p))
		h.Write([]byte{0})
	}
	return hex.EncodeToString(h.Sum(nil)[:12])
}

// thisProgram tells this program from every other build of it: its version,
// and where and when it was put on the disk.
func thisProgram() string {
	p := version + " " + runtime.Version()
	exe, err := os.Executable()
	if err != nil {
		return p
	}
	if fi, err := os.Stat(exe); err == nil {
		p += " " + exe + " " + fmt.Sprint(fi.ModTime().UnixNano(), fi.Size())
	}
	return p
}
