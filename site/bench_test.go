package site

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/extension"

	"caul/job"
)

var jobs = flag.Int("jobs", 1000, "jobs of the shop the benchmarks draw")

// largeShop is a shop of many jobs with twenty entries and five pictures each,
// in memory; pictures are read from a few files.
func largeShop(b *testing.B) (Input, []string) {
	b.Helper()
	var pics [5][]byte
	for k := range pics {
		im := image.NewRGBA(image.Rect(0, 0, 640, 480))
		for x := range 640 {
			for y := range 480 {
				im.Set(x, y, color.RGBA{uint8(x/3 + k), uint8(y / 2), uint8((x * y) >> 9), 255})
			}
		}
		var buf bytes.Buffer
		if err := jpeg.Encode(&buf, im, &jpeg.Options{Quality: 85}); err != nil {
			b.Fatal(err)
		}
		pics[k] = buf.Bytes()
	}
	s := &job.Shop{Name: "Large", Zone: time.UTC}
	var texts []string
	prose := "The fence went on square at the first try, and **stayed** so after a night at 12 °C.\n\n- [x] squeeze-out scraped\n- [ ] second coat\n\n> Keep the offcut.\n\nSee the [plan](../build.md) for where the screws go; `3/16` clears them.\n"
	for n := range *jobs {
		j := &job.Job{ID: fmt.Sprintf("job-%04d", n), Name: fmt.Sprintf("Job %d", n), Copies: 1}
		j.Dir = "jobs/" + j.ID
		build := ""
		for k := range 8 {
			id := fmt.Sprintf("step-%d", k)
			j.Steps = append(j.Steps, job.Step{ID: id, Name: fmt.Sprintf("Step %d of the build", k)})
			build += "## " + id + "\n\n" + prose + "\n"
		}
		j.Build = job.ReadBuild(j.Dir+"/build.md", []byte(build), j.Steps)
		texts = append(texts, build)
		for k := range 20 {
			e := job.Entry{ID: fmt.Sprintf("2026-01-%02dT0900-shop-noted", k+1), Time: time.Date(2026, 1, k+1, 9, 0, 0, 0, time.UTC), Did: job.DidNote, Text: prose}
			if k%4 == 0 {
				e.Text += fmt.Sprintf("\n![a picture of it](../photos/p%d.jpg)\n", k/4)
			}
			e.File = j.Dir + "/log/" + e.ID + ".md"
			j.Log = append(j.Log, e)
			texts = append(texts, e.Text)
		}
		s.Jobs = append(s.Jobs, j)
	}
	return Input{Shop: s, Now: noon, Open: func(p string) ([]byte, error) { return pics[int(p[len(p)-5]-'0')%5], nil }}, texts
}

// BenchmarkWholeSite holds drawing and writing the whole site against a general
// Markdown library converting the same texts plus writing the same bytes in
// the same files.
func BenchmarkWholeSite(b *testing.B) {
	in, texts := largeShop(b)
	md := goldmark.New(goldmark.WithExtensions(extension.GFM))
	for range b.N {
		ours, theirs := b.TempDir(), b.TempDir()
		runtime.GC()
		t0 := time.Now()
		s, err := Render(in)
		if err != nil {
			b.Fatal(err)
		}
		t1 := time.Now()
		if _, err := Write(ours, s, in.Open); err != nil {
			b.Fatal(err)
		}
		t2 := time.Now()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		for _, t := range texts {
			var buf bytes.Buffer
			if err := md.Convert([]byte(t), &buf); err != nil {
				b.Fatal(err)
			}
		}
		t3 := time.Now()
		put := func(p string, data []byte) {
			full := filepath.Join(theirs, filepath.FromSlash(p))
			if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
				b.Fatal(err)
			}
			if err := os.WriteFile(full, data, 0o644); err != nil {
				b.Fatal(err)
			}
		}
		for p, data := range s.Pages {
			put(p, data)
		}
		for p, from := range s.Pictures {
			data, _ := in.Open(from)
			put(p, data)
		}
		t4 := time.Now()
		b.ReportMetric(float64(t2.Sub(t0))/float64(t4.Sub(t2)), "of-goldmark-and-writing")
		b.ReportMetric(t1.Sub(t0).Seconds(), "draw-s")
		b.ReportMetric(t2.Sub(t1).Seconds(), "write-s")
		b.ReportMetric(t3.Sub(t2).Seconds(), "goldmark-s")
		b.ReportMetric(t4.Sub(t3).Seconds(), "plain-write-s")
		b.ReportMetric(float64(m.HeapInuse)/(1<<20), "heap-MB")
		b.ReportMetric(float64(m.Sys)/(1<<20), "sys-MB")
	}
}
