package job

import (
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job/measure"
)

func TestAddEntry(t *testing.T) {
	dir := smallShop(t)
	air := measure.InCelsius(16)
	at := time.Date(2026, 3, 14, 19, 5, 30, 0, time.FixedZone("", -6*3600))
	e := Entry{Time: at, Did: DidClamp, Step: "cut", Air: &air, Clamps: map[string]int{"f-style": 2, "bar": 8}, Minutes: 25 * measure.Minute,
		Text: "Squeeze-out even.", Pictures: []Picture{{File: "jobs/box/photos/core.jpg", Alt: "the core"}}}
	f, err := AddEntry(dir, "box", e, "Shop PC")
	require.NoError(t, err)
	require.Equal(t, "jobs/box/log/2026-03-14T1905-shop-pc-clamped-cut.md", f)
	data, err := os.ReadFile(filepath.Join(dir, f))
	require.NoError(t, err)
	require.Equal(t, `---
at: 2026-03-14T19:05:30-06:00
did: clamped
step: cut
air: 16 C
clamps: {bar: 8, f-style: 2}
minutes: 25 min
---
Squeeze-out even.

![the core](../photos/core.jpg)
`, string(data))
	again, err := AddEntry(dir, "box", e, "Shop PC")
	require.NoError(t, err)
	require.Equal(t, "jobs/box/log/2026-03-14T1905-shop-pc-clamped-cut-2.md", again)
	shop, err := Load(dir)
	require.NoError(t, err)
	require.Len(t, shop.Jobs[0].Log, 2)
	require.Equal(t, "shop-pc", shop.Jobs[0].Log[0].Machine)

	for _, bad := range []struct {
		job string
		e   Entry
	}{{"box", Entry{Did: DidNote}}, {"box", Entry{Time: at, Did: "danced"}}, {"../box", e}, {"none", e}, {"box", Entry{Time: at, Did: DidBegin}}} {
		_, err := AddEntry(dir, bad.job, bad.e, "shop")
		require.Error(t, err)
	}
}

// TestReadingKeepsItsUnit: a reading taken in inches stays exact whatever the
// shop's units are later.
func TestReadingKeepsItsUnit(t *testing.T) {
	for _, text := range []string{"0.003 in", "12-1/8 in", "0.05 mm", "0 in", "-0.001 in"} {
		l, err := measure.ParseLength(text, measure.Inches)
		require.NoError(t, err)
		e := Entry{Time: noon, Did: DidRead, Check: "flat", Value: Dim{Length: l, Set: true}}
		for _, u := range []measure.System{measure.Inches, measure.Metric} {
			back, err := ReadEntry("jobs/x/log/n.md", FormatEntry(e), Units{Length: measure.Units{System: u}}, time.UTC)
			require.NoError(t, err)
			require.Equal(t, l, back.Value.Length, text)
		}
	}
}

func TestNothingThroughALink(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("links need rights on Windows")
	}
	outside := t.TempDir()
	note := Entry{Time: noon, Did: DidNote, Text: "x"}

	dir := smallShop(t)
	require.NoError(t, os.Symlink(outside, filepath.Join(dir, "jobs/box/log")))
	_, err := AddEntry(dir, "box", note, "shop")
	require.ErrorContains(t, err, "symbolic link")

	require.NoError(t, os.Symlink(outside, filepath.Join(dir, "jobs/box/photos")))
	_, err = AddPicture(dir, "box", "a.png", []byte("x"))
	require.ErrorContains(t, err, "symbolic link")

	require.NoError(t, os.Symlink(outside, filepath.Join(dir, "jobs/out")))
	_, err = AddEntry(dir, "out", note, "shop")
	require.ErrorContains(t, err, "symbolic link")

	target := filepath.Join(outside, "target.md")
	require.NoError(t, os.WriteFile(target, []byte("- [ ] saw\n"), 0o666))
	require.NoError(t, os.Remove(filepath.Join(dir, "jobs/box/build.md")))
	require.NoError(t, os.Symlink(target, filepath.Join(dir, "jobs/box/build.md")))
	require.ErrorContains(t, Tick(dir, "jobs/box/build.md", Task{Text: "saw"}, true), "symbolic link")
	require.ErrorContains(t, WriteFile(filepath.Join(dir, "jobs/box/build.md"), []byte("x")), "symbolic link")
	got, err := os.ReadFile(target)
	require.NoError(t, err)
	require.Equal(t, "- [ ] saw\n", string(got))
	require.Error(t, Tick(dir, "../target.md", Task{Text: "saw"}, true))
}

func TestTickOneByte(t *testing.T) {
	dir := smallShop(t)
	file := "jobs/box/build.md"
	before, _ := os.ReadFile(filepath.Join(dir, file))
	task := ReadBuild(file, before, nil).Tasks()[1]
	require.NoError(t, Tick(dir, file, task, true))
	after, _ := os.ReadFile(filepath.Join(dir, file))
	require.Len(t, after, len(before))
	for i := range before {
		require.Equal(t, i == task.Byte, before[i] != after[i])
	}
	require.NoError(t, Tick(dir, file, task, false))
	back, _ := os.ReadFile(filepath.Join(dir, file))
	require.Equal(t, before, back)
	// the file grew since it was read: the task is found by its text
	require.NoError(t, os.WriteFile(filepath.Join(dir, file), append([]byte("New first line.\n\n"), before...), 0o666))
	require.NoError(t, Tick(dir, file, task, true))
	got, _ := os.ReadFile(filepath.Join(dir, file))
	require.Contains(t, string(got), "- [ ] mark\n- [x] saw\n")
	require.ErrorContains(t, Tick(dir, file, Task{Text: "sew"}, true), "no longer holds")
}

func TestWriteFileKeeps(t *testing.T) {
	name := filepath.Join(t.TempDir(), "a.txt")
	require.NoError(t, os.WriteFile(name, []byte("one"), 0o600))
	st, _ := os.Stat(name)
	require.NoError(t, WriteFile(name, []byte("one")))
	same, _ := os.Stat(name)
	require.True(t, os.SameFile(st, same), "equal bytes are not written again")
	require.NoError(t, WriteFile(name, []byte("two")))
	now, _ := os.Stat(name)
	require.Equal(t, st.Mode(), now.Mode())
	require.Error(t, WriteFile(t.TempDir(), []byte("x")))
}

func TestAddPicture(t *testing.T) {
	dir := smallShop(t)
	f, err := AddPicture(dir, "box", "My Photo (1).JPG", []byte("one"))
	require.NoError(t, err)
	require.Equal(t, "jobs/box/photos/my-photo-1.jpg", f)
	f, err = AddPicture(dir, "box", "my photo 1.jpg", []byte("one"))
	require.NoError(t, err)
	require.Equal(t, "jobs/box/photos/my-photo-1.jpg", f, "the same bytes are stored once")
	f, err = AddPicture(dir, "box", "my photo 1.jpg", []byte("two"))
	require.NoError(t, err)
	require.Equal(t, "jobs/box/photos/my-photo-1-2.jpg", f)
	_, err = AddPicture(dir, "box", "x.svg", []byte("<svg/>"))
	require.Error(t, err)
}

func TestNewShopAndJob(t *testing.T) {
	for _, o := range []NewShopOptions{{}, {Units: "in", Zone: "America/Denver", Money: "USD"}, {Units: "mm", Zone: "Europe/Vienna", Money: "EUR"}} {
		dir := filepath.Join(t.TempDir(), "shop")
		require.NoError(t, NewShop(dir, "Tom's: the shop # 2", o))
		shop, err := Load(dir)
		require.NoError(t, err)
		require.Equal(t, "Tom's: the shop # 2", shop.Name)
		require.NoError(t, NewJob(dir, "sled-fence", "Sled fence"))
		shop, err = Load(dir)
		require.NoError(t, err)
		require.Equal(t, "Sled fence", shop.Job("sled-fence").Name)
		require.Error(t, NewJob(dir, "Sled-Fence", ""))
		require.Error(t, NewJob(dir, "../x", ""))
		require.Error(t, NewJob(dir, "nul", ""))
		require.Error(t, NewShop(dir, "again", o))
		ignore, err := os.ReadFile(filepath.Join(dir, ".gitignore"))
		require.NoError(t, err)
		require.Contains(t, string(ignore), "/site/")
	}
	require.Error(t, NewShop(filepath.Join(t.TempDir(), "x"), "x", NewShopOptions{Zone: "Nowhere/Land"}))
	require.Error(t, NewShop(filepath.Join(t.TempDir(), "x"), "x", NewShopOptions{Units: "furlong"}))
}

// TestStarterExamples takes the marks off the notes of a new shop's files: the
// examples in them must read as well.
func TestStarterExamples(t *testing.T) {
	for _, units := range []string{"in", "mm"} {
		dir := filepath.Join(t.TempDir(), "shop")
		require.NoError(t, NewShop(dir, "x", NewShopOptions{Units: units}))
		require.NoError(t, NewJob(dir, "box", "Box"))
		for _, f := range []string{"shop.yaml", "stock.yaml", "prices.yaml", "jobs/box/job.yaml"} {
			full := filepath.Join(dir, f)
			data, err := os.ReadFile(full)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(full, uncomment(data), 0o666))
		}
		shop, err := Load(dir)
		require.NoError(t, err)
		p := shop.Jobs[0].Parts[0]
		require.Greater(t, p.Size[0].Length, 250*measure.MM, "an example in the other unit")
		require.NotNil(t, shop.StockByID(p.From))
		for _, st := range shop.Stock {
			require.Contains(t, shop.ItemNames(), st.Price)
			require.True(t, slices.ContainsFunc(shop.Prices.Items, func(p Price) bool { return p.Item == st.Price }), "%s has no price", st.ID)
		}
	}
}
