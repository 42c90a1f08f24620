package main

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"os"
	"path/filepath"
	"testing"
	"time"

	"caul/job/demo"
)

// largeNow is the instant the large shop is seen at.
var largeNow = time.Date(2026, 3, 14, 10, 0, 0, 0, time.UTC)

// largeShop writes the demo shop with more jobs beside its three: each of
// twenty entries and five pictures of that width in pixels, the first few not
// finished yet.
func largeShop(tb testing.TB, dir string, jobs, open, wide int) {
	tb.Helper()
	if err := demo.Write(dir, largeNow, time.UTC); err != nil {
		tb.Fatal(err)
	}
	pics := largePictures(tb, wide)
	put := func(job, name string, data []byte) {
		p := filepath.Join(dir, "jobs", job, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			tb.Fatal(err)
		}
		if err := os.WriteFile(p, data, 0o644); err != nil {
			tb.Fatal(err)
		}
	}
	for n := range jobs {
		id := fmt.Sprintf("stop-%04d", n)
		put(id, "job.yaml", fmt.Appendf(nil, largeJob, n))
		build := "# A stop block\n\nFor repeat cuts at the mitre saw.\n\n"
		for k := range 8 {
			build += fmt.Sprintf("## step-%d\n\n%s\n", k, largeProse)
		}
		put(id, "build.md", []byte(build))
		at := largeNow.AddDate(0, 0, -400).Add(time.Duration(n) * 7 * time.Hour).Truncate(24 * time.Hour).Add(19 * time.Hour)
		done := 8
		if n < open {
			at, done = largeNow.AddDate(0, 0, -20).Add(9*time.Hour), n%7
		}
		for k := range 20 {
			did, step := "noted", ""
			if k%2 == 1 && k/2 < done {
				did, step = "finished", fmt.Sprintf("step: step-%d\n", k/2)
			}
			text := largeProse
			if k%4 == 0 {
				text += fmt.Sprintf("\n![the block after step %d](../photos/p%d.jpg)\n", k, k/4)
			}
			t := at.Add(time.Duration(k) * 11 * time.Minute)
			put(id, fmt.Sprintf("log/%s-shop-%s-%d.md", t.Format("2006-01-02T1504"), did, k), fmt.Appendf(nil, "---\nat: %s\ndid: %s\n%s---\n%s", t.Format(time.RFC3339), did, step, text))
		}
		for k, p := range pics {
			put(id, fmt.Sprintf("photos/p%d.jpg", k), p)
		}
	}
	// Not written this minute: a file's time tells a later change only then.
	old := time.Now().Add(-time.Hour)
	err := filepath.WalkDir(dir, func(p string, _ os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		return os.Chtimes(p, old, old)
	})
	if err != nil {
		tb.Fatal(err)
	}
}

const largeProse = "The fence went on square at the first try, and **stayed** so after a night at 12 °C.\n\n- [x] squeeze-out scraped\n- [ ] second coat\n\n> Keep the offcut.\n\nSee the [plan](../build.md) for where the screws go; `3/16` clears them.\n"

const largeJob = `name: Stop block %d
for: repeat cuts at the mitre saw
parts:
  - {id: block, qty: 1, size: 6 x 3 x half-ply, from: birch-ply-1/2}
  - {id: lip, qty: 2, size: 3 x 1-1/2 x quarter-ply, from: birch-ply-1/4}
hardware:
  - {item: screw-8x3/4, qty: 2, step: step-6}
steps:
  - {id: step-0, name: Cut the block, takes: 20 min, setup: "table saw, rip fence 3"}
  - {id: step-1, name: Cut the lips, takes: 10 min, setup: "table saw, rip fence 1-1/2", after: [step-0]}
  - {id: step-2, name: Sand the block, takes: 15 min, after: [step-1]}
  - {id: step-3, name: Mark out the screws, takes: 10 min, after: [step-2]}
  - {id: step-4, name: Drill, takes: 10 min, setup: "drill press, brad-3/16", after: [step-3]}
  - {id: step-5, name: Countersink, takes: 10 min, setup: "drill press, countersink-82", after: [step-4]}
  - {id: step-6, name: Screw the lips on, takes: 15 min, after: [step-5]}
  - {id: step-7, name: Wax, takes: 10 min, after: [step-6]}
`

func largePictures(tb testing.TB, wide int) [5][]byte {
	var pics [5][]byte
	for k := range pics {
		im := image.NewRGBA(image.Rect(0, 0, wide, wide*3/4))
		for x := range wide {
			for y := range wide * 3 / 4 {
				im.Set(x, y, color.RGBA{uint8(x/3 + k), uint8(y / 2), uint8((x * y) >> 9), 255})
			}
		}
		var buf bytes.Buffer
		if err := jpeg.Encode(&buf, im, &jpeg.Options{Quality: 85}); err != nil {
			tb.Fatal(err)
		}
		pics[k] = buf.Bytes()
	}
	return pics
}

// BenchmarkSite draws a shop of a thousand finished jobs as the command does,
// after a word more in one entry, and for comparison all of it.
func BenchmarkSite(b *testing.B) {
	dir := filepath.Join(b.TempDir(), "shop")
	largeShop(b, dir, 1000, 0, 640)
	for _, open := range []string{"frame-spline", "torsion-table"} {
		if err := os.RemoveAll(filepath.Join(dir, "jobs", open)); err != nil {
			b.Fatal(err)
		}
	}
	cache := b.TempDir()
	e := &env{out: io.Discard, err: io.Discard, now: func() time.Time { return largeNow.AddDate(0, 2, 0) },
		getenv: func(k string) string { return map[string]string{"CAUL_CACHE": cache}[k] }}
	draw := func(b *testing.B, o siteOptions, held int) {
		b.Helper()
		_, _, n, err := drawSite(context.Background(), e, dir, o)
		if err != nil || n < held {
			b.Fatal(n, err)
		}
	}
	b.Run("whole", func(b *testing.B) {
		for range b.N {
			draw(b, siteOptions{anew: true}, 0)
		}
	})
	draw(b, siteOptions{}, 0)
	all, err := filepath.Glob(filepath.Join(dir, "jobs", "stop-0500", "log", "*.md"))
	if err != nil || len(all) == 0 {
		b.Fatal(all, err)
	}
	b.Run("one-entry", func(b *testing.B) {
		for range b.N {
			b.StopTimer()
			f, err := os.OpenFile(all[3], os.O_APPEND|os.O_WRONLY, 0)
			if err != nil {
				b.Fatal(err)
			}
			_, err = f.WriteString("More.\n")
			if cerr := f.Close(); err != nil || cerr != nil {
				b.Fatal(err, cerr)
			}
			b.StartTimer()
			draw(b, siteOptions{}, 990)
		}
	})
}
