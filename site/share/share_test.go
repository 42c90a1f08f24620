package share

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/demo"
	"caul/job/measure"
	"caul/site"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

func put(t testing.TB, dir, file, text string) {
	t.Helper()
	full := filepath.Join(dir, filepath.FromSlash(file))
	require.NoError(t, os.MkdirAll(filepath.Dir(full), 0o755))
	require.NoError(t, os.WriteFile(full, []byte(text), 0o644))
}

func edit(t testing.TB, dir, file string, pairs ...string) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(file)))
	require.NoError(t, err)
	s := string(b)
	for i := 0; i+1 < len(pairs); i += 2 {
		require.Contains(t, s, pairs[i])
		s = strings.Replace(s, pairs[i], pairs[i+1], 1)
	}
	put(t, dir, file, s)
}

func demoShop(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, demo.Write(dir, noon, time.UTC))
	return dir
}

func build(t testing.TB, dir string, never ...string) *Build {
	t.Helper()
	s, err := job.Load(dir)
	require.NoError(t, err)
	b, err := Make(context.Background(), Input{Shop: s, Job: "shooting-board", Drawn: noon, Never: never,
		Open: func(p string) ([]byte, error) { return job.ReadFile(dir, p) }})
	require.NoError(t, err)
	return b
}

// camera is a JPEG as a camera writes it: Exif with orientation, a device
// serial and a GPS directory (CIPA DC-008), an XMP packet, a comment, and bytes
// behind the end.
func camera(t testing.TB) []byte {
	im := image.NewRGBA(image.Rect(0, 0, 60, 40))
	for x := range 60 {
		for y := range 40 {
			im.Set(x, y, color.RGBA{uint8(4 * x), uint8(6 * y), uint8(x * y), 255})
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, im, nil))
	tiff := []byte("II*\x00\x08\x00\x00\x00")
	tiff = append(tiff, 2, 0)
	ent := func(tag, typ uint16, n, v uint32) {
		tiff = binary.LittleEndian.AppendUint16(tiff, tag)
		tiff = binary.LittleEndian.AppendUint16(tiff, typ)
		tiff = binary.LittleEndian.AppendUint32(tiff, n)
		tiff = binary.LittleEndian.AppendUint32(tiff, v)
	}
	ent(0x0112, 3, 1, 6)
	ent(0x8825, 4, 1, 38)
	tiff = append(tiff, 0, 0, 0, 0)
	tiff = append(tiff, 1, 0)
	ent(0x0001, 2, 2, 'N')
	tiff = append(tiff, 0, 0, 0, 0)
	tiff = append(tiff, "SERIAL-QX7741882 GPS 48.8583736N"...)
	app := func(marker byte, data []byte) []byte {
		out := []byte{0xff, marker}
		out = binary.BigEndian.AppendUint16(out, uint16(len(data)+2))
		return append(out, data...)
	}
	out := append([]byte{}, b.Bytes()[:2]...)
	out = append(out, app(0xe1, append([]byte("Exif\x00\x00"), tiff...))...)
	out = append(out, app(0xe1, []byte("http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta>XMP-HEDGEHOG</x:xmpmeta>"))...)
	out = append(out, app(0xfe, []byte("COMMENT-IN-JPEG"))...)
	out = append(out, b.Bytes()[2:]...)
	return append(out, "TRAILING-BYTES"...)
}

func pngWithText(t testing.TB) []byte {
	var b bytes.Buffer
	im := image.NewNRGBA(image.Rect(0, 0, 8, 8))
	require.NoError(t, png.Encode(&b, im))
	data := []byte("Author\x00PNG-AUTHOR-MARTEN")
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	body := append([]byte("tEXt"), data...)
	chunk = append(chunk, body...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(body))
	out := append([]byte{}, b.Bytes()[:33]...)
	return append(append(out, chunk...), b.Bytes()[33:]...)
}

// TestNothingPrivateGoesOut plants secrets wherever a shop can hold one and
// looks for each in every byte and name of the folder and the zip.
func TestNothingPrivateGoesOut(t *testing.T) {
	dir := demoShop(t)
	const j = "jobs/shooting-board"
	put(t, dir, j+"/photos/IMG_20260314_190455.jpg", string(camera(t)))
	put(t, dir, j+"/photos/clear.png", string(pngWithText(t)))
	edit(t, dir, "shop.yaml", "author: a maker", "author: a maker\n  never: [Hawthorn Lane, Ottilie Brandt]",
		"name: table saw", "name: Old Brutus", "sun: 14:00-17:00", "sun: 05:07-06:11", "why: a birthday", "why: WHY-FUNERAL",
		"five readings along an edge", "NOTE-ON-A-MEASURE", "name: The back-yard shop", "name: SHOP-NAME-BADGER")
	edit(t, dir, "stock.yaml", "where: left rack", "where: WHERE-BEHIND-THE-FREEZER")
	prices, err := os.ReadFile(filepath.Join(dir, "prices.yaml"))
	require.NoError(t, err)
	put(t, dir, "prices.yaml", strings.NewReplacer("timber yard", "Quillfeather Timber", "31.20", "61.37", "52.00", "57.93").Replace(string(prices)))
	edit(t, dir, j+"/job.yaml", "name: Shooting board", "# COMMENT-OTTER\nname: Shooting board\ndue: 2027-08-19", "held: in a longer piece", "held: in a longer piece\n    note: cut at 12 Hawthorn\n      Lane by ottilie BRANDT")
	edit(t, dir, j+"/build.md", "## cut", `Ask Ottilie Brandt, 12 hawthorn lane, or write to maker.private@post.example or call +49 30 5550 1234.
Bought at Quillfeather Timber for $61.37, paid 57.93 EUR. It lies at 48.858373, 2.294481.
Kept in /home/ottilie/shop and on ssh://git@nas.secret.example/shop.git, also https://user:pw@hub.secret.example/x.
<!-- HTML-COMMENT-STOAT
over two lines -->
![Hawthorn Lane from the bench](photos/IMG_20260314_190455.jpg) ![](photos/clear.png)
![by name][p]

[p]: photos/IMG_20260314_190455.jpg

## cut`)
	log := func(name, head, body string) {
		put(t, dir, j+"/log/"+name, "---\n"+head+"\n---\n"+body+"\n")
	}
	log("2026-03-10T0513-garageputer-noted.md", "at: 2026-03-10T05:13:29-06:00\ndid: noted\nprivate: true", "PRIVATE-ZEBRA")
	log("2026-03-10T0514-garageputer-noted.md", "at: 2026-03-10T05:14:31-06:00\ndid: noted\nminutes: 47 min", "Spoke to Ottilie\nBrandt. <!-- LOG-COMMENT-MINK -->")
	log("2026-03-10T0515-garageputer-bought.md", "at: 2026-03-10T05:15:00-06:00\ndid: bought\nitem: hard-maple-4/4\nqty: 1\npaid: 61.37 USD", "BOUGHT-ENTRY-LYNX")
	log("2026-03-10T0516-garageputer-noted.md", "at: 2026-03-10T05:16:00-06:00\ndid: noted", "TAKEN-BACK-WOLF")
	log("2026-03-10T0517-garageputer-undid.md", "at: 2026-03-10T05:17:00-06:00\ndid: undid\nentry: 2026-03-10T0516-garageputer-noted", "")
	secrets := []string{"SERIAL-QX7741882", "48.8583736N", "Exif", "XMP-HEDGEHOG", "COMMENT-IN-JPEG", "TRAILING-BYTES", "PNG-AUTHOR-MARTEN", "IMG_20260314",
		"hawthorn", "ottilie", "quillfeather", "61.37", "57.93", "maker.private", "5550 1234", "48.858373", "/home/", "nas.secret", "hub.secret", "user:pw",
		"COMMENT-OTTER", "HTML-COMMENT-STOAT", "LOG-COMMENT-MINK", "PRIVATE-ZEBRA", "BOUGHT-ENTRY-LYNX", "TAKEN-BACK-WOLF", "garageputer", "05:13", "05:14", "0514", "47 min",
		"Old Brutus", "05:07", "06:11", "WHY-FUNERAL", "NOTE-ON-A-MEASURE", "WHERE-BEHIND", "2027-08-19", "SHOP-NAME-BADGER", "Torsion", "torsion-table", "frame-spline"}
	require.Greater(t, len(secrets), 20)
	b := build(t, dir, "garageputer")
	z, err := Zip(b.Files)
	require.NoError(t, err)
	look := func(where, name string, data []byte) {
		for _, s := range secrets {
			low := strings.ToLower(s)
			if strings.Contains(strings.ToLower(name), low) || bytes.Contains(bytes.ToLower(data), []byte(low)) {
				t.Errorf("%s: %q is in %s", where, s, name)
			}
		}
	}
	for p, data := range b.Files {
		look("folder", p, data)
	}
	look("zip, packed", "", z)
	zr, err := zip.NewReader(bytes.NewReader(z), int64(len(z)))
	require.NoError(t, err)
	require.Empty(t, zr.Comment)
	for _, f := range zr.File {
		r, err := f.Open()
		require.NoError(t, err)
		data, err := io.ReadAll(r)
		require.NoError(t, err)
		look("zip", f.Name+f.Comment+string(f.Extra), data)
	}
	// The test would not see anything if nothing went out.
	require.Contains(t, string(b.Files["build/jobs/shooting-board/build.md"]), gone)
	require.Contains(t, string(b.Files["index.html"]), "Shooting board")
}

// TestNeverWordInAnIDStopsIt: an id cannot be scrubbed, so nothing is shared.
func TestNeverWordInAnIDStopsIt(t *testing.T) {
	dir := demoShop(t)
	s, err := job.Load(dir)
	require.NoError(t, err)
	_, err = Make(context.Background(), Input{Shop: s, Job: "shooting-board", Drawn: noon, Never: []string{"runway"},
		Open: func(p string) ([]byte, error) { return job.ReadFile(dir, p) }})
	require.ErrorContains(t, err, "never goes out")
}

func TestSameShopGivesSameBundle(t *testing.T) {
	dir := demoShop(t)
	a, b := build(t, dir), build(t, dir)
	za, err := Zip(a.Files)
	require.NoError(t, err)
	zb, err := Zip(b.Files)
	require.NoError(t, err)
	require.True(t, bytes.Equal(za, zb))
	require.Equal(t, a.Manifest.Version, b.Manifest.Version)

	// What changes is named, and the version with it.
	edit(t, dir, "jobs/shooting-board/build.md", "## wax", "Wax it twice.\n\n## wax")
	s, err := job.Load(dir)
	require.NoError(t, err)
	c, err := Make(context.Background(), Input{Shop: s, Job: "shooting-board", Drawn: noon, Before: &a.Manifest,
		Open: func(p string) ([]byte, error) { return job.ReadFile(dir, p) }})
	require.NoError(t, err)
	require.NotEqual(t, a.Manifest.Version, c.Manifest.Version)
	require.Equal(t, []string{"changed: jobs/shooting-board/build.md"}, c.Manifest.Changes)
	require.Contains(t, string(c.Files["index.html"]), "changed: jobs/shooting-board/build.md")
}

// metricShop is a reader's shop: millimetres, euros, other names.
func metricShop(t testing.TB) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "shop")
	require.NoError(t, job.NewShop(dir, "Reader", job.NewShopOptions{Units: "mm", Money: "EUR"}))
	return dir
}

func read(t testing.TB, files site.Files) *Bundle {
	t.Helper()
	z, err := Zip(files)
	require.NoError(t, err)
	b, err := Read(z)
	require.NoError(t, err)
	return b
}

func take(t testing.TB, b *Bundle, dir string, a Answers) (*Taken, error) {
	t.Helper()
	s, err := job.Load(dir)
	require.NoError(t, err)
	return Take(b, s, a, noon)
}

func TestTakingInAndALaterVersion(t *testing.T) {
	from, to := demoShop(t), metricShop(t)
	first := read(t, build(t, from).Files)

	before := snapshot(t, to)
	_, err := take(t, first, to, Answers{})
	require.ErrorIs(t, err, ErrAnswer)
	require.Equal(t, before, snapshot(t, to), "nothing is written until all is settled")

	a := Answers{Stock: map[string]string{"birch-ply-1/2": "birch-ply-12"}, AddMissing: true}
	got, err := take(t, first, to, a)
	require.NoError(t, err)
	require.Equal(t, "shooting-board", got.Job)
	s, err := job.Load(to)
	require.NoError(t, err, "a shop that had none of it reads whole")
	j := s.Job("shooting-board")
	require.NotNil(t, j)
	// 24 in is 609.6 mm exactly (the international inch, 25.4 mm); the ply is the reader's own.
	require.Equal(t, int64(6096*400_000/10), int64(j.Part("base").Size[0].Length))
	require.Equal(t, int64(12*400_000), int64(j.Part("base").Size[2].Length))
	require.Equal(t, "birch-ply-12", j.Part("base").From)
	require.Equal(t, "pva-yellow", j.GlueUps[0].Glue)
	require.NotNil(t, s.CutterByID("spiral-3/8"))
	require.Empty(t, j.Log, "what happened in another shop is not this one's log")

	// The reader changes one thing, the sharer two others; all stand.
	edit(t, to, "jobs/shooting-board/job.yaml", "takes: 35 min", "takes: 55 min")
	edit(t, from, "jobs/shooting-board/job.yaml", "takes: 45 min", "takes: 50 min", "name: Wax the runway", "name: Wax the runway twice")
	second := read(t, build(t, from).Files)
	_, err = take(t, second, to, Answers{})
	require.NoError(t, err, "answers of the first time are remembered")
	s, err = job.Load(to)
	require.NoError(t, err)
	j = s.Job("shooting-board")
	require.Equal(t, "55 min", j.Step("cut").Takes.String())
	require.Equal(t, "50 min", j.Step("fence").Takes.String())
	require.Equal(t, "Wax the runway twice", j.Step("wax").Name)
	require.Equal(t, "birch-ply-12", j.Part("base").From)

	// Both change one value: the reader's stands, theirs is kept and told.
	edit(t, to, "jobs/shooting-board/job.yaml", "takes: 55 min", "takes: 65 min")
	edit(t, from, "jobs/shooting-board/job.yaml", "takes: 35 min", "takes: 30 min")
	got, err = take(t, read(t, build(t, from).Files), to, Answers{})
	require.NoError(t, err)
	s, err = job.Load(to)
	require.NoError(t, err)
	require.Equal(t, "1 h 5 min", s.Job("shooting-board").Step("cut").Takes.String())
	require.Contains(t, strings.Join(got.Notes, "\n"), "yours stands")

	// Under the id of a job that was not taken in, nothing is written.
	require.NoError(t, job.NewJob(to, "mine", "Mine"))
	before = snapshot(t, to)
	_, err = take(t, second, to, Answers{As: "mine"})
	var r *Refused
	require.ErrorAs(t, err, &r)
	require.Equal(t, before, snapshot(t, to))
}

// A length of the reader's own saw or stock comes from an answer, else from
// the reader's shop.yaml, else follows the stock that was chosen.
func TestLengthsOfTheReadersOwn(t *testing.T) {
	b := read(t, build(t, demoShop(t)).Files)
	mm := func(tenths int64) int64 { return tenths * int64(measure.MM) / 10 }
	for _, c := range []struct {
		own, answer string
		want        int64
		said        string
	}{
		{"", "", mm(120), "half-ply: 12 mm, as your stock for birch-ply-1/2 is thick"},
		{"  half-ply: 11.8\n", "", mm(118), "half-ply: 11.8 mm, from your shop.yaml"},
		{"  half-ply: 11.8\n", "11.6 mm", mm(116), ""},
		{"", "1/2 in", mm(127), ""},
	} {
		to := metricShop(t)
		edit(t, to, "shop.yaml", "measures:\n", "measures:\n"+c.own)
		a := Answers{Stock: map[string]string{"birch-ply-1/2": "birch-ply-12"}, AddMissing: true, Measures: map[string]string{}}
		if c.answer != "" {
			a.Measures["half-ply"] = c.answer
		}
		got, err := take(t, b, to, a)
		require.NoError(t, err)
		s, err := job.Load(to)
		require.NoError(t, err)
		require.Equal(t, c.want, int64(s.Job("shooting-board").Part("base").Size[2].Length), "%+v", c)
		require.Contains(t, strings.Join(got.Notes, "\n"), c.said)
	}
}

func TestAMappedCutterIsTakenAndSaid(t *testing.T) {
	from, to := demoShop(t), metricShop(t)
	edit(t, to, "shop.yaml", "cutters:", "cutters:\n  - {id: mine-10, kind: spiral, diameter: 10 mm}\n  - {id: same, kind: chamfer, diameter: 31.75 mm, angle: 90}")
	a := Answers{Stock: map[string]string{"birch-ply-1/2": "birch-ply-12"}, Cutters: map[string]string{"spiral-3/8": "mine-10"},
		Machines: map[string]string{"planer": "by hand"}, AddMissing: true}
	got, err := take(t, read(t, build(t, from).Files), to, a)
	require.NoError(t, err)
	s, err := job.Load(to)
	require.NoError(t, err)
	j := s.Job("shooting-board")
	require.Equal(t, "mine-10", j.Part("deck").Machining[0].Cutter)
	require.Equal(t, "same", j.Part("fence").Machining[1].Cutter)
	require.Equal(t, "", j.Step("mill").Machine)
	require.Contains(t, strings.Join(got.Notes, "\n"), "cuts another shape or size")
	_, err = take(t, read(t, build(t, from).Files), metricShop(t), Answers{Cutters: map[string]string{"spiral-3/8": "no-such"}, AddMissing: true})
	require.ErrorIs(t, err, ErrAnswer)
}

// snapshot is every file of a folder with its bytes.
func snapshot(t testing.TB, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(p string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(p)
		out[p] = string(b)
		return err
	}))
	return out
}
