package plan

import (
	"os"
	"testing"
	"time"
	"context"

	"caul/job"
	"caul/job/demo"
)

func TestDemoTry(t *testing.T) {
	loc, _ := time.LoadLocation("America/Chicago")
	now := time.Date(2026, 3, 14, 10, 5, 0, 0, loc)
	dir := t.TempDir()
	if err := demo.Write(dir, now, loc); err != nil {
		t.Fatal(err)
	}
	sh, err := job.Load(dir)
	if err != nil {
		t.Fatal(err)
	}
	t0 := time.Now()
	p, err := Make(context.Background(), sh, now, Options{Explain: true})
	t.Log(time.Since(t0))
	if err != nil {
		t.Fatal(err)
	}
	t.Log("\n" + Text(p, 80, sh.Units))
	os.WriteFile("/tmp/caul/demo.svg", DaySheet(p, SheetOptions{}), 0o644)
	os.WriteFile("/tmp/caul/demo-n.svg", DaySheet(p, SheetOptions{Width: 360}), 0o644)
	t0 = time.Now()
	n, err := At(sh, now, 0, nil)
	t.Log(time.Since(t0), err)
	t.Log("\n" + NowText(n, 80, sh.Units))
	n, err = At(sh, now, 50*60, p)
	t.Log("\n" + NowText(n, 60, sh.Units))
	t0 = time.Now()
	p, err = Make(context.Background(), sh, now, Options{Explain: true, Helps: true})
	t.Log(time.Since(t0))
	for _, h := range p.Helps {
		t.Log(helpWords(p, h))
	}
}
