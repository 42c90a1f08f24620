package site

import (
	"bytes"
	"cmp"
	"context"
	"encoding/xml"
	"errors"
	"image"
	"image/jpeg"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/cost"
	"caul/job/cutting"
	"caul/job/demo"
	"caul/job/plan"
	"caul/job/proof"
)

var noon = time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC)

// demoInput is everything worked out about the demo shop.
func demoInput(t testing.TB) Input {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, demo.Write(dir, noon, time.UTC))
	// a picture nobody has described, and a title that is no plain text
	const log = "jobs/torsion-table/log/2026-03-13T2000-home-noted.md"
	require.NoError(t, os.WriteFile(filepath.Join(dir, filepath.FromSlash(log)), []byte("---\nat: 2026-03-13T20:00:00Z\ndid: noted\n---\n## A & B <b>\n\n- [x] ticked\n- [ ] not yet\n\n![](../photos/core-in-clamps.jpg)\n"), 0o644))
	return input(t, dir)
}

func input(t testing.TB, dir string) Input {
	t.Helper()
	s, err := job.Load(dir)
	require.NoError(t, err)
	ctx := context.Background()
	in := Input{Shop: s, Now: noon, Cuts: map[string]*cutting.Cut{}, Bills: map[string]*cost.Bill{},
		Open: func(p string) ([]byte, error) { return job.ReadFile(dir, p) }}
	in.Plan, err = plan.Make(ctx, s, noon, plan.Options{})
	require.NoError(t, err)
	in.Live, err = plan.At(s, noon, 0, in.Plan)
	require.NoError(t, err)
	for _, j := range s.Jobs {
		if in.Cuts[j.ID], err = cutting.Make(ctx, s, cutting.Options{Jobs: []string{j.ID}, Budget: 20_000}); err != nil {
			require.NoError(t, err)
		}
		in.Bills[j.ID], err = cost.Make(s, in.Cuts[j.ID], cost.Options{Jobs: []string{j.ID}})
		require.NoError(t, err)
	}
	in.Proof = proof.Check(s, proof.Options{Now: noon})
	in.BothWays = []BothWay{{File: "jobs/x/job.yaml", Path: "a", What: "takes of <cut>", Stands: "35 min", Other: "40 min", StandsBy: "home", OtherBy: "shop", StandsAt: noon, Before: "30 min"}}
	return in
}

func render(t testing.TB, in Input) *Site {
	t.Helper()
	s, err := Render(in)
	require.NoError(t, err)
	return s
}

// TestSameInputSameBytes: two runs, other time zones of the machine, another
// language give the same bytes.
func TestSameInputSameBytes(t *testing.T) {
	in := demoInput(t)
	want := render(t, in)
	local := time.Local
	defer func() { time.Local = local }()
	for _, zone := range []*time.Location{time.FixedZone("", 13*3600), time.FixedZone("", -11*3600)} {
		time.Local = zone
		t.Setenv("LANG", "de_DE.UTF-8")
		t.Setenv("TZ", "Pacific/Auckland")
		for range 2 {
			got := render(t, in)
			require.Equal(t, want.Pictures, got.Pictures)
			require.Equal(t, want.Pages.Paths(), got.Pages.Paths())
			for _, p := range want.Pages.Paths() {
				require.True(t, bytes.Equal(want.Pages[p], got.Pages[p]), p)
			}
		}
	}
}

func TestWriteTouchesOnlyWhatChanged(t *testing.T) {
	in := demoInput(t)
	dir := t.TempDir()
	s := render(t, in)
	first, err := Write(dir, s, in.Open)
	require.NoError(t, err)
	require.Equal(t, len(s.Pages)+len(s.Pictures), first.Written)
	again, err := Write(dir, s, in.Open)
	require.NoError(t, err)
	require.Zero(t, again.Written)
	require.Equal(t, first.Written, again.Same)

	// One page changes, one is gone; what the program did not make stays.
	mine := filepath.Join(dir, "jobs", "mine.txt")
	require.NoError(t, os.WriteFile(mine, []byte("mine"), 0o644))
	s.Pages["index.html"] = append(s.Pages["index.html"], '\n')
	delete(s.Pages, "both-ways.html")
	rep, err := Write(dir, s, in.Open)
	require.NoError(t, err)
	require.Equal(t, 1, rep.Written)
	require.Equal(t, 1, rep.Removed)
	require.FileExists(t, mine)
	require.NoFileExists(t, filepath.Join(dir, "both-ways.html"))
	_, err = Write(dir, &Site{Pages: Files{"jobs/mine.txt": []byte("x")}}, nil)
	require.ErrorContains(t, err, "is there already")
	_, err = Write(dir, &Site{Pages: Files{"../out.html": []byte("x")}}, nil)
	require.ErrorContains(t, err, "outside")

	// A run that was cut off before its end can be run again.
	cut := t.TempDir()
	fail := errors.New("pulled out")
	_, err = Write(cut, s, func(string) ([]byte, error) { return nil, fail })
	require.ErrorIs(t, err, fail)
	_, err = Write(cut, s, in.Open)
	require.NoError(t, err)

	// Without the list of its pages it takes those for its own that hold what it
	// would write, pictures too, and no other.
	require.NotEmpty(t, s.Pictures)
	lost := filepath.Join(cut, ".caul-pages")
	list, err := os.ReadFile(lost)
	require.NoError(t, err)
	require.NoError(t, os.Remove(lost))
	rep, err = Write(cut, s, in.Open)
	require.NoError(t, err)
	require.Zero(t, rep.Written+rep.Removed)
	relist, err := os.ReadFile(lost)
	require.NoError(t, err)
	require.Equal(t, string(list), string(relist), "what each picture was made from is known again")
	for p := range s.Pictures {
		require.NoError(t, os.Remove(lost))
		require.NoError(t, os.WriteFile(filepath.Join(cut, filepath.FromSlash(p)), []byte("my own"), 0o644))
		_, err = Write(cut, s, in.Open)
		require.ErrorContains(t, err, "is there already")
		require.NoFileExists(t, lost)
		break
	}

	// It never writes through a link.
	out := t.TempDir()
	require.NoError(t, os.Symlink(out, filepath.Join(dir, "sub")))
	_, err = Write(dir, &Site{Pages: Files{"sub/x.html": []byte("x")}}, nil)
	require.ErrorContains(t, err, "not a folder")
}

var (
	refs = regexp.MustCompile(`(?:href|src)="([^"]*)"`)
	ids  = regexp.MustCompile(` id="([^"]*)"`)
)

// TestLinksResolve: every address on every page is a file of the site and an
// id on it, and leads nowhere else.
func TestLinksResolve(t *testing.T) {
	in := demoInput(t)
	shared := in
	shared.Shared, shared.Plan, shared.Live, shared.Bills, shared.Proof, shared.BothWays = true, nil, nil, nil, nil, nil
	one := *in.Shop
	one.Jobs = one.Jobs[1:2]
	shared.Shop = &one
	for name, s := range map[string]*Site{"shop": render(t, in), "shared": render(t, shared), "odd": render(t, oddInput(t))} {
		checked := 0
		for _, p := range s.Pages.Paths() {
			if path.Ext(p) != ".html" {
				continue
			}
			seen := map[string]bool{}
			for _, m := range ids.FindAllStringSubmatch(string(s.Pages[p]), -1) {
				require.False(t, seen[m[1]], "%s %s: id %s twice", name, p, m[1])
				seen[m[1]] = true
			}
			for _, m := range refs.FindAllStringSubmatch(string(s.Pages[p]), -1) {
				u, err := url.Parse(strings.ReplaceAll(m[1], "&amp;", "&"))
				require.NoError(t, err)
				require.Empty(t, u.Scheme+u.Host, "%s %s: %s leads out", name, p, m[1])
				require.False(t, strings.HasPrefix(u.Path, "/"), "%s %s: %s works under one path only", name, p, m[1])
				at := p
				if u.Path != "" {
					at = path.Join(path.Dir(p), u.Path)
				}
				_, page := s.Pages[at]
				_, pic := s.Pictures[at]
				require.True(t, page || pic, "%s %s: %s is not there", name, p, m[1])
				if u.Fragment != "" {
					require.Contains(t, string(s.Pages[at]), ` id="`+u.Fragment+`"`, "%s %s: %s", name, p, m[1])
				}
				checked++
			}
		}
		require.Greater(t, checked, 50)
	}
}

// TestPagesTellTheBuildBare: without style, script and pictures, the words of
// a page are the whole build.
func TestPagesTellTheBuildBare(t *testing.T) {
	in := demoInput(t)
	s := render(t, in)
	j := in.Shop.Job("torsion-table")
	text := regexp.MustCompile(`<[^>]*>`).ReplaceAllString(string(s.Pages["jobs/torsion-table/index.html"]), " ")
	at := -1
	for _, st := range j.Steps {
		i := strings.Index(text, st.Name)
		require.Greater(t, i, at, "%s stands after what comes before it", st.Name)
		at = i
		if st.SetUp != "" {
			require.Contains(t, text, "set-up: "+st.SetUp)
		}
	}
	parts := string(s.Pages["jobs/torsion-table/parts.html"])
	for _, p := range j.Parts {
		require.Contains(t, parts, cmp.Or(p.Name, p.ID))
	}
	require.Contains(t, string(s.Pages["jobs/torsion-table/log.html"]), "has no description yet")
	require.Contains(t, string(s.Pages["jobs/torsion-table/log.html"]), `aria-label="to do"`)
	require.NotContains(t, string(s.Pages["jobs/shooting-board/index.html"]), "to pay", "a finished job wants nothing more")
	require.NotContains(t, s.Pages, "jobs/shooting-board/days.html")
}

// TestFeedIsAtom reads the feed by a parser of its own and holds it against
// what RFC 4287 asks: sections 4.1.1, 4.1.2, 4.2.6, 4.2.15.
func TestFeedIsAtom(t *testing.T) {
	in := demoInput(t)
	type link struct {
		Rel  string `xml:"rel,attr"`
		Href string `xml:"href,attr"`
	}
	var f struct {
		XMLName xml.Name
		ID      []string `xml:"http://www.w3.org/2005/Atom id"`
		Title   []string `xml:"http://www.w3.org/2005/Atom title"`
		Updated []string `xml:"http://www.w3.org/2005/Atom updated"`
		Author  []struct {
			Name []string `xml:"http://www.w3.org/2005/Atom name"`
		} `xml:"http://www.w3.org/2005/Atom author"`
		Link  []link `xml:"http://www.w3.org/2005/Atom link"`
		Entry []struct {
			ID      []string `xml:"http://www.w3.org/2005/Atom id"`
			Title   []string `xml:"http://www.w3.org/2005/Atom title"`
			Updated []string `xml:"http://www.w3.org/2005/Atom updated"`
			Link    []link   `xml:"http://www.w3.org/2005/Atom link"`
			Content []struct {
				Type string `xml:"type,attr"`
				Body string `xml:",chardata"`
			} `xml:"http://www.w3.org/2005/Atom content"`
		} `xml:"http://www.w3.org/2005/Atom entry"`
	}
	data := render(t, in).Pages["feed.atom"]
	require.NoError(t, xml.Unmarshal(data, &f))
	require.Equal(t, xml.Name{Space: "http://www.w3.org/2005/Atom", Local: "feed"}, f.XMLName)
	one := func(what string, v []string) string {
		require.Len(t, v, 1, what)
		require.NotEmpty(t, v[0], what)
		return v[0]
	}
	date := func(v []string) time.Time {
		at, err := time.Parse(time.RFC3339, one("updated", v))
		require.NoError(t, err)
		return at
	}
	iri := regexp.MustCompile(`^urn:uuid:[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)
	require.Regexp(t, iri, one("id", f.ID))
	one("title", f.Title)
	feedAt := date(f.Updated)
	require.Len(t, f.Author, 1)
	one("author", f.Author[0].Name)
	self := 0
	for _, l := range f.Link {
		if l.Rel == "self" {
			self++
		}
	}
	require.Equal(t, 1, self)
	seen := map[string]bool{}
	require.NotEmpty(t, f.Entry)
	last := feedAt
	for _, e := range f.Entry {
		id := one("entry id", e.ID)
		require.Regexp(t, iri, id)
		require.False(t, seen[id])
		seen[id] = true
		one("entry title", e.Title)
		at := date(e.Updated)
		require.False(t, at.After(last), "latest first")
		last = at
		require.Len(t, e.Content, 1)
		require.Equal(t, "html", e.Content[0].Type)
	}
	require.NotContains(t, string(data), "private")
}

func TestPicturesThatAreCleanAreNotMadeAgain(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 30, 20)), nil))
	plain := b.Bytes()
	require.True(t, bareJPEG(plain))
	seg := func(marker byte, data string) []byte {
		out := append([]byte{}, plain[:2]...)
		out = append(out, 0xff, marker, 0, byte(len(data)+2))
		return append(append(out, data...), plain[2:]...)
	}
	for name, dirty := range map[string][]byte{"Exif": seg(0xe1, "Exif\x00\x00abc"), "comment": seg(0xfe, "secret"), "maker": seg(0xec, "x"),
		"thumbnail": seg(0xe0, "JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x01\x01"), "behind the end": append(bytes.Clone(plain), "tail"...), "cut off": plain[:len(plain)-2]} {
		require.False(t, bareJPEG(dirty), name)
	}
	out, ok := clean(seg(0xfe, "secret"))
	require.True(t, ok)
	require.NotContains(t, string(out), "secret")
	_, ok = clean([]byte("no picture"))
	require.False(t, ok)
	b.Reset()
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 2000, 10)), nil))
	require.False(t, bareJPEG(b.Bytes()), "larger than is kept")
}

func FuzzBareJPEG(f *testing.F) {
	var b bytes.Buffer
	require.NoError(f, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 3, 3)), nil))
	f.Add(b.Bytes())
	f.Add([]byte("\xff\xd8\xff\xe0\x00\x10JFIF\x00"))
	f.Fuzz(func(_ *testing.T, data []byte) {
		bareJPEG(data)
		barePNG(data)
	})
}

func FuzzMarkdown(f *testing.F) {
	f.Add("# a\n![x](y.jpg) <script> [l](javascript:1)\n- [x] t")
	f.Fuzz(func(t *testing.T, src string) {
		out, err := markdown([]byte(src), reading{below: 2, dir: "jobs/a"})
		require.NoError(t, err)
		low := strings.ToLower(string(out))
		require.NotContains(t, low, "<script")
		require.NotContains(t, low, `href="javascript:`)
		for _, h := range []string{"<h1", "<h2"} {
			require.NotContains(t, low, h)
		}
	})
}
