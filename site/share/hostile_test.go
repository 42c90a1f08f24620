package share

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"hash/crc32"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"caul/site"
)

// packer makes bundles of a stranger.
type packer struct {
	t     testing.TB
	files site.Files // of a sound bundle
}

// pack makes a zip of some files; add may put anything more into it.
func (p packer) pack(files site.Files, add func(z *zip.Writer)) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range files.Paths() {
		w, err := z.Create(name)
		require.NoError(p.t, err)
		_, err = w.Write(files[name])
		require.NoError(p.t, err)
	}
	if add != nil {
		add(z)
	}
	require.NoError(p.t, z.Close())
	return b.Bytes()
}

// with changes plain files and mends the bundle's own list, as a careful
// stranger would.
func (p packer) with(change map[string]string) []byte {
	files := site.Files{}
	for n, b := range p.files {
		files[n] = b
	}
	var m Manifest
	require.NoError(p.t, yaml.Unmarshal(files["bundle.yaml"], &m))
	for n, text := range change {
		files["build/"+n] = []byte(text)
		sum := sha256.Sum256([]byte(text))
		m.Files[n] = hex.EncodeToString(sum[:])
	}
	b, err := yaml.Marshal(&m)
	require.NoError(p.t, err)
	files["bundle.yaml"] = b
	return p.pack(files, nil)
}

func (p packer) named(name, body string) []byte {
	return p.pack(p.files, func(z *zip.Writer) {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
		require.NoError(p.t, err)
		_, err = w.Write([]byte(body))
		require.NoError(p.t, err)
	})
}

// TestHostileBundlesAreRefused tries the tricks a stranger's file may hold:
// each is refused with a reason, and a shop beside stays as it was.
func TestHostileBundlesAreRefused(t *testing.T) {
	p := packer{t, build(t, demoShop(t)).Files}
	jobFile := "jobs/shooting-board/job.yaml"
	jobText := string(p.files["build/"+jobFile])
	special := func(mode fs.FileMode) []byte {
		return p.pack(p.files, func(z *zip.Writer) {
			h := &zip.FileHeader{Name: "build/link.yaml"}
			h.SetMode(mode | 0o777)
			w, err := z.CreateHeader(h)
			require.NoError(t, err)
			_, err = w.Write([]byte("/etc/passwd"))
			require.NoError(t, err)
		})
	}
	deep := strings.Repeat("[", 20_000) + strings.Repeat("]", 20_000)
	bomb := "a: &a [x,x,x,x,x,x,x,x,x]\nb: &b [*a,*a,*a,*a,*a,*a,*a,*a,*a]\nc: &c [*b,*b,*b,*b,*b,*b,*b,*b,*b]\nd: [*c,*c,*c,*c,*c,*c,*c]\n"
	without := func(name string) []byte {
		files := site.Files{}
		for n, b := range p.files {
			if n != name {
				files[n] = b
			}
		}
		return p.pack(files, nil)
	}
	manifestWith := func(from, to string) []byte {
		files := site.Files{}
		for n, b := range p.files {
			files[n] = b
		}
		files["bundle.yaml"] = []byte(strings.Replace(string(p.files["bundle.yaml"]), from, to, 1))
		return p.pack(files, nil)
	}
	sound := p.pack(p.files, nil)
	many := p.pack(p.files, func(z *zip.Writer) {
		for i := range maxFiles + 1 {
			_, err := z.Create(fmt.Sprintf("p/%d.html", i))
			require.NoError(t, err)
		}
	})
	locked := bytes.Clone(sound)
	for i := 0; i+10 < len(locked); i++ { // general purpose flag bit 0 in the central directory
		if bytes.HasPrefix(locked[i:], []byte("PK\x01\x02")) {
			locked[i+8] |= 1
		}
	}
	liar := p.pack(p.files, func(z *zip.Writer) { // claims to be far larger than it is packed
		w, err := z.CreateRaw(&zip.FileHeader{Name: "liar.html", Method: zip.Deflate, UncompressedSize64: 500 << 20, CompressedSize64: 5, CRC32: crc32.ChecksumIEEE(nil)})
		require.NoError(t, err)
		_, err = w.Write([]byte{1, 0, 0, 0xff, 0xff})
		require.NoError(t, err)
	})
	bombed := p.named("bomb.html", strings.Repeat("\x00", 64<<20))
	damaged := bytes.Clone(sound)
	at := bytes.Index(damaged, []byte("build/jobs"))
	damaged[at+len("build/jobs/shooting-board/build.md")+20] ^= 0xff
	tricks := []struct {
		name string
		data []byte
	}{
		{"not a zip", []byte("hello")},
		{"empty", nil},
		{"cut off", sound[:len(sound)/2]},
		{"up and out", p.named("../evil.yaml", "x")},
		{"up and out from inside", p.named("build/../../evil.yaml", "x")},
		{"absolute", p.named("/etc/cron.d/evil", "x")},
		{"drive letter", p.named("C:/evil.bat", "x")},
		{"backslashes", p.named(`build\..\..\evil`, "x")},
		{"alternate stream", p.named("build/job.yaml:evil", "x")},
		{"device name", p.named("build/NUL.yaml", "x")},
		{"another device name", p.named("com1", "x")},
		{"hidden file", p.named("build/.git/hooks/post-checkout", "#!/bin/sh")},
		{"dot at the end", p.named("build/evil.", "x")},
		{"blank at the end", p.named("build/evil ", "x")},
		{"control sign", p.named("build/ev\x07il", "x")},
		{"text that turns direction", p.named("build/e\u202evil", "x")},
		{"not UTF-8", p.named("build/\xff\xfe", "x")},
		{"wild card", p.named("build/*.yaml", "x")},
		{"double slash", p.named("build//x.yaml", "x")},
		{"very long name", p.named("build/"+strings.Repeat("a", 300), "x")},
		{"same name twice", p.named("build/shop.yaml", "x")},
		{"same name in capitals", p.named("BUILD/Shop.yaml", "x")},
		{"symbolic link", special(fs.ModeSymlink)},
		{"device", special(fs.ModeDevice)},
		{"named pipe", special(fs.ModeNamedPipe)},
		{"set-user-id", special(fs.ModeSetuid)},
		{"too many files", many},
		{"packed beyond belief", bombed},
		{"claims another size", liar},
		{"locked", locked},
		{"damaged bytes", damaged},
		{"no list", without("bundle.yaml")},
		{"a file of the list is not there", without("build/shop.yaml")},
		{"a file not on the list", p.named("build/extra.yaml", "x: 1")},
		{"a program on the list", p.with(map[string]string{"jobs/shooting-board/run.sh": "#!/bin/sh"})},
		{"a page on the list", p.with(map[string]string{"jobs/shooting-board/x.html": "<script>1</script>"})},
		{"a list of another format", manifestWith("format: 1", "format: 99")},
		{"an unknown key in the list", manifestWith("format: 1", "format: 1\nrun: rm")},
		{"a job that climbs", manifestWith("job: shooting-board", "job: ../../home")},
		{"another job than it says", manifestWith("job: shooting-board", "job: other")},
		{"changed on the way", manifestWith("shop.yaml: ", "shop.yaml: 00")},
		{"deep YAML", p.with(map[string]string{jobFile: "name: " + deep})},
		{"YAML that grows", p.with(map[string]string{jobFile: bomb})},
		{"YAML tags", p.with(map[string]string{jobFile: "name: !!python/object/apply:os.system [ls]\n"})},
		{"an unknown key", p.with(map[string]string{jobFile: jobText + "hooks: {post: rm}\n"})},
		{"two documents", p.with(map[string]string{jobFile: jobText + "---\n" + jobText})},
		{"an id that climbs", p.with(map[string]string{jobFile: strings.Replace(jobText, "id: base", "id: ../../base", 1)})},
		{"a length beyond counting", p.with(map[string]string{jobFile: strings.Replace(jobText, "size: 24 x 12", "size: 99999999999999999999 x 12", 1)})},
		{"too large a text", p.with(map[string]string{"jobs/shooting-board/build.md": strings.Repeat("a", maxPlain+1)})},
		{"a picture that is a program", p.with(map[string]string{"jobs/shooting-board/photos/a.png": "MZ\x90\x00"})},
		{"a drawing with script as picture", p.with(map[string]string{"jobs/shooting-board/photos/a.svg": "<svg onload=alert(1)>"})},
		{"a picture that claims millions of pixels", p.with(map[string]string{"jobs/shooting-board/photos/a.png": "\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x7f\xff\xff\xff\x7f\xff\xff\xff\x08\x06\x00\x00\x00"})},
		{"a second job", p.with(map[string]string{"jobs/other/job.yaml": jobText})},
		{"a log entry with broken head", p.with(map[string]string{"jobs/shooting-board/log/2026-01-01T0000-x-noted.md": "---\nat: never\n---\n"})},
	}
	require.GreaterOrEqual(t, len(tricks), 30)
	_, err := Read(sound)
	require.NoError(t, err, "the sound one is not refused")
	dir := t.TempDir()
	work := filepath.Join(dir, "in", "here")
	require.NoError(t, os.MkdirAll(work, 0o755))
	for _, k := range tricks {
		t.Run(k.name, func(t *testing.T) {
			file := filepath.Join(work, "b.zip")
			require.NoError(t, os.WriteFile(file, k.data, 0o644))
			_, err := Open(file)
			var r *Refused
			require.ErrorAs(t, err, &r)
			require.NotEmpty(t, r.Why)
			require.Len(t, snapshot(t, dir), 1, "nothing beside the file itself")
		})
	}
}

// TestHostileFolder: a folder with a link in it is refused, too.
func TestHostileFolder(t *testing.T) {
	dir := t.TempDir()
	for n, b := range build(t, demoShop(t)).Files {
		put(t, dir, n, string(b))
	}
	_, err := Open(dir)
	require.NoError(t, err)
	require.NoError(t, os.Symlink("/etc/passwd", filepath.Join(dir, "build", "x.yaml")))
	_, err = Open(dir)
	var r *Refused
	require.ErrorAs(t, err, &r)
}

// TestScriptInProseStaysText: what a stranger writes is shown and never run.
func TestScriptInProseStaysText(t *testing.T) {
	p := packer{t, build(t, demoShop(t)).Files}
	b, err := Read(p.with(map[string]string{"jobs/shooting-board/build.md": "# Shooting board\n\n<script>alert(1)</script>\n\n[go](javascript:alert(1)) <img src=x onerror=alert(1)>\n\n![x](data:text/html,1)\n"}))
	require.NoError(t, err)
	s, err := site.Render(site.Input{Shop: b.Shop, Now: noon, Shared: true, Open: func(string) ([]byte, error) { return nil, fs.ErrNotExist }})
	require.NoError(t, err)
	for name, page := range s.Pages {
		for _, bad := range []string{"<script>alert", "javascript:", "onerror", "data:text"} {
			require.NotContains(t, string(page), bad, name)
		}
	}
}

func FuzzRead(f *testing.F) {
	p := packer{f, build(f, demoShop(f)).Files}
	f.Add(p.pack(p.files, nil))
	f.Add(p.named("../evil", "x"))
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := Read(data)
		if err != nil {
			var r *Refused
			require.ErrorAs(t, err, &r, "every refusal says why")
			return
		}
		for n := range b.Files {
			require.True(t, filepath.IsLocal(filepath.FromSlash(n)), n)
		}
	})
}
