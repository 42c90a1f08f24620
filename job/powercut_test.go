package job

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var errCut = errors.New("the power is gone")

// cutDisk is the real disk until its n-th call; from there on nothing works. A
// write that is cut gets half of its bytes down.
type cutDisk struct {
	osDisk
	left *int
}

func (d cutDisk) cut() bool { *d.left--; return *d.left < 0 }

func (d cutDisk) Create(name string, mode fs.FileMode) (diskFile, error) {
	if d.cut() {
		return nil, errCut
	}
	f, err := d.osDisk.Create(name, mode)
	if err != nil {
		return nil, err
	}
	return cutFile{f, d}, nil
}
func (d cutDisk) Link(old, name string) error {
	if d.cut() {
		return errCut
	}
	return d.osDisk.Link(old, name)
}
func (d cutDisk) Rename(old, name string) error {
	if d.cut() {
		return errCut
	}
	return d.osDisk.Rename(old, name)
}
func (d cutDisk) Remove(name string) error {
	if d.cut() {
		return errCut
	}
	return d.osDisk.Remove(name)
}
func (d cutDisk) Mkdir(name string) error {
	if d.cut() {
		return errCut
	}
	return d.osDisk.Mkdir(name)
}
func (d cutDisk) SyncDir(name string) error {
	if d.cut() {
		return errCut
	}
	return d.osDisk.SyncDir(name)
}

type cutFile struct {
	diskFile
	d cutDisk
}

func (f cutFile) Write(b []byte) (int, error) {
	if f.d.cut() {
		n, _ := f.diskFile.Write(b[:len(b)/2])
		return n, errCut
	}
	return f.diskFile.Write(b)
}
func (f cutFile) Chmod(m fs.FileMode) error {
	if f.d.cut() {
		return errCut
	}
	return f.diskFile.Chmod(m)
}
func (f cutFile) Sync() error {
	if f.d.cut() {
		return errCut
	}
	return f.diskFile.Sync()
}

// stickDisk has no hard links, as vfat has none.
type stickDisk struct{ cutDisk }

func (d stickDisk) Link(old, name string) error {
	if d.cut() {
		return errCut
	}
	return errors.ErrUnsupported
}

// smallShop is a shop of one job, small enough to look at whole.
func smallShop(t testing.TB) string {
	dir := t.TempDir()
	put(t, dir, "shop.yaml", "name: Small\nhours: {sat: 9:00-12:00}\n")
	put(t, dir, "jobs/box/job.yaml", "name: Box\nsteps:\n  - {id: cut, takes: 20 min}   # note\n")
	put(t, dir, "jobs/box/build.md", "# Box\n\n## cut\n\n- [ ] mark\n- [ ] saw\n")
	return dir
}

func put(t testing.TB, dir, file, text string) {
	full := filepath.Join(dir, filepath.FromSlash(file))
	require.NoError(t, os.MkdirAll(filepath.Dir(full), 0o777))
	require.NoError(t, os.WriteFile(full, []byte(text), 0o666))
}

func seen(t testing.TB, dir string) map[string]string {
	out := map[string]string{}
	require.NoError(t, fs.WalkDir(os.DirFS(dir), ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || strings.HasPrefix(e.Name(), tempPrefix) {
			return err
		}
		b, err := os.ReadFile(filepath.Join(dir, p))
		out[p] = string(b)
		return err
	}))
	return out
}

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

// powerCutWork is every kind of write the package does.
var powerCutWork = map[string]func(d disk, dir string) error{
	"log entry": func(d disk, dir string) error {
		_, err := addEntry(d, dir, "box", Entry{Time: noon, Did: DidBegin, Step: "cut", Text: strings.Repeat("A long story. ", 40)}, "shop")
		return err
	},
	"tick": func(d disk, dir string) error {
		return tick(d, dir, "jobs/box/build.md", Task{Text: "saw", Byte: 0}, true)
	},
	"edit": func(d disk, dir string) error {
		return updateFile(d, dir, "jobs/box/job.yaml", func(old []byte) ([]byte, error) {
			return SetValue(old, Path{"steps", "cut", "takes"}, "1 h 30 min")
		})
	},
	"picture": func(d disk, dir string) error {
		_, err := addPicture(d, dir, "box", "a.png", []byte(strings.Repeat("picture", 500)))
		return err
	},
}

// TestPowerCut pulls the plug at every call to the disk of every kind of
// write. Each file is the old or the new one, whole; the shop always reads;
// and after the power is back the same work can be done.
func TestPowerCut(t *testing.T) {
	for name, work := range powerCutWork {
		for _, stick := range []bool{false, true} {
			t.Run(fmt.Sprintf("%s/stick=%v", name, stick), func(t *testing.T) {
				make := func(n *int) disk {
					if stick {
						return stickDisk{cutDisk{left: n}}
					}
					return cutDisk{left: n}
				}
				dir := smallShop(t)
				before := seen(t, dir)
				plenty := 1000
				require.NoError(t, work(make(&plenty), dir))
				after := seen(t, dir)
				require.NotEqual(t, before, after)
				calls := 1000 - plenty
				require.Greater(t, calls, 4)
				for n := range calls {
					dir := smallShop(t)
					left := n
					err := work(make(&left), dir)
					now := seen(t, dir)
					for f, text := range now {
						require.Contains(t, []string{before[f], after[f]}, text, "%s cut at call %d", f, n)
					}
					for f := range before {
						require.Contains(t, now, f)
					}
					if err == nil {
						require.Equal(t, after, now, "said done at call %d, and was not", n)
					}
					_, lerr := Load(dir)
					require.NoError(t, lerr)
					require.NoError(t, work(osDisk{}, dir))
					for f, text := range after {
						require.Contains(t, seen(t, dir), f)
						if !strings.Contains(f, "/log/") {
							require.Equal(t, text, seen(t, dir)[f])
						}
					}
				}
			})
		}
	}
}

// TestKill starts this test program again as one that writes without end, and
// kills it at odd moments. What it leaves must read, and every entry it said
// was written must be there.
func TestKill(t *testing.T) {
	if dir := os.Getenv("CAUL_KILL_DIR"); dir != "" {
		writeForever(dir)
		return
	}
	for i := range 12 {
		dir := smallShop(t)
		cmd := exec.Command(os.Args[0], "-test.run=^TestKill$")
		cmd.Env = append(os.Environ(), "CAUL_KILL_DIR="+dir)
		var said strings.Builder
		cmd.Stdout = &said
		require.NoError(t, cmd.Start())
		time.Sleep(time.Duration(20+i*7) * time.Millisecond)
		require.NoError(t, cmd.Process.Kill())
		_ = cmd.Wait()
		shop, err := Load(dir)
		require.NoError(t, err)
		there := map[string]bool{}
		for _, e := range shop.Jobs[0].Log {
			require.Equal(t, "Story.", e.Text)
			there[e.File] = true
		}
		lines := strings.Split(said.String(), "\n")
		for _, l := range lines[:len(lines)-1] {
			if strings.HasPrefix(l, "jobs/") {
				require.True(t, there[l], "%s was said to be written", l)
			}
		}
		takes := shop.Jobs[0].Steps[0].Takes.Minutes()
		require.True(t, takes == 20 || takes == 30 || takes == 90, "takes %d", takes)
	}
}

func writeForever(dir string) {
	for i := 0; ; i++ {
		f, err := AddEntry(dir, "box", Entry{Time: noon.Add(time.Duration(i) * time.Minute), Did: DidNote, Text: "Story."}, "shop")
		if err != nil {
			fmt.Println("error:", err)
			return
		}
		fmt.Println(f)
		_ = UpdateFile(dir, "jobs/box/job.yaml", func(old []byte) ([]byte, error) {
			return SetValue(old, Path{"steps", "cut", "takes"}, []string{"30 min", "1 h 30 min"}[i%2])
		})
	}
}
