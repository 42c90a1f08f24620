package job

import (
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"
)

// A cache gives at every reading what a fresh reading gives: after an entry is
// added, changed by hand to the same length, damaged, mended and removed, and
// after the shop's units change.
func TestCacheReadsAsAFreshReading(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string, age time.Duration) {
		t.Helper()
		p := filepath.Join(dir, name)
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		at := time.Now().Add(-age)
		if err := os.Chtimes(p, at, at); err != nil {
			t.Fatal(err)
		}
	}
	reading := func(v string) string {
		return "---\nat: 2026-03-14T19:05:00Z\ndid: read\ncheck: flat\nvalue: " + v + "\n---\n"
	}
	var c Cache
	same := func(what string) *Shop {
		t.Helper()
		for range 2 { // the second time from what was kept
			want, err1 := Load(dir)
			got, err2 := c.Load(dir)
			if (err1 == nil) != (err2 == nil) || err1 != nil && err1.Error() != err2.Error() {
				t.Fatalf("%s: %v, fresh: %v", what, err2, err1)
			}
			if !reflect.DeepEqual(want, got) {
				t.Fatalf("%s: the kept reading differs from a fresh one", what)
			}
		}
		s, err := Load(dir)
		if err != nil && what != "damaged" {
			t.Fatalf("%s: %v", what, err)
		}
		return s
	}
	const e1, e2 = "jobs/sled/log/2026-03-14T1905-shop-read-flat.md", "jobs/sled/log/2026-03-14T1905-shop-read-flat-2.md"
	write("shop.yaml", "name: S\nunits: {length: in}\nhours: {sat: 9:00-12:00}\n", time.Hour)
	write("jobs/sled/job.yaml", "name: Sled\nchecks: [{id: flat, measure: gap, at-most: 0.004}]\n", time.Hour)
	write(e1, reading("1.5"), time.Hour)
	if s := same("first"); len(s.Jobs[0].Log) != 1 {
		t.Fatal("the entry is not read")
	}
	write(e2, reading("2.5"), time.Minute)
	same("added")
	write(e1, reading("1.7"), 30*time.Minute)
	same("changed to the same length")
	write(e1, reading("1.9"), 0)
	same("changed just now")
	write(e1, reading("1.3"), 0)
	same("changed within the clock's step")
	write("shop.yaml", "name: S\nunits: {length: mm}\nhours: {sat: 9:00-12:00}\n", time.Hour)
	if v := same("other units").Jobs[0].Log[0].Value.Length; v >= 400_000*2 {
		t.Errorf("read as inches still: %d", v)
	}
	write(e2, "no entry", time.Minute)
	same("damaged")
	write(e2, reading("2.5"), time.Minute)
	same("mended")
	if err := os.Remove(filepath.Join(dir, e1)); err != nil {
		t.Fatal(err)
	}
	same("removed")
}
