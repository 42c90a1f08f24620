package plan

import (
	"context"
	"flag"
	"os"
	"testing"
	"testing/fstest"
	"time"

	"caul/job"
)

// TestMain keeps the random tests short unless -rapid.checks asks for more.
func TestMain(m *testing.M) {
	flag.Parse()
	if f := flag.Lookup("rapid.checks"); f != nil && f.Value.String() == f.DefValue {
		_ = f.Value.Set("30")
	}
	os.Exit(m.Run())
}

// files is a shop as its files: path -> text.
type files map[string]string

// shopOf reads a shop that a test has written down.
func shopOf(t testing.TB, fs files) *job.Shop {
	t.Helper()
	m := fstest.MapFS{}
	for name, text := range fs {
		m[name] = &fstest.MapFile{Data: []byte(text)}
	}
	sh, err := job.LoadFS(m, "shop")
	if err != nil {
		t.Fatalf("reading the shop: %v", err)
	}
	return sh
}

// planOf makes a plan that must exist.
func planOf(t testing.TB, sh *job.Shop, now time.Time, o Options) *Plan {
	t.Helper()
	p, err := Make(context.Background(), sh, now, o)
	if err != nil {
		t.Fatalf("no plan: %v", err)
	}
	return p
}

// instant reads a test's time.
func instant(t testing.TB, s string) time.Time {
	t.Helper()
	x, err := time.Parse(time.RFC3339, s)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// item finds one item of a plan.
func item(t testing.TB, p *Plan, step string, kind Kind) Item {
	t.Helper()
	for _, it := range p.Items {
		if it.Step == step && it.Kind == kind {
			return it
		}
	}
	t.Fatalf("no item %q of kind %q in\n%s", step, kind, Text(p, 100, job.Units{}))
	return Item{}
}

// at checks an instant.
func at(t testing.TB, what string, got time.Time, want string) {
	t.Helper()
	if w := instant(t, want); !got.Equal(w) {
		t.Errorf("%s is %s, want %s", what, got.Format(time.RFC3339), w.In(got.Location()).Format(time.RFC3339))
	}
}
