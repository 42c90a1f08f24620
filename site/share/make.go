package share

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"slices"
	"sort"
	"strings"
	"testing/fstest"
	"time"

	"go.yaml.in/yaml/v3"

	"caul/job"
	"caul/job/cutting"
	"caul/job/measure"
	"caul/job/picture"
	"caul/site"
)

// Input is what a build is made from.
type Input struct {
	Shop *job.Shop
	Job  string
	// Open reads a file of the shop by its slash path.
	Open func(path string) ([]byte, error)
	// Never are words that must not go out beside those of the shop's own
	// list and its suppliers: remote addresses, machine names of a full sort.
	Never []string
	// Before is the manifest of the build shared last, nil for the first.
	Before *Manifest
	// Drawn stands on the pages; a day is enough.
	Drawn time.Time
}

// Manifest says what a bundle holds: bundle.yaml.
type Manifest struct {
	Format  int               `yaml:"format"`
	Job     string            `yaml:"job"`
	Name    string            `yaml:"name"`
	By      string            `yaml:"by,omitempty"`
	Version string            `yaml:"version"` // hash of the plain files
	Files   map[string]string `yaml:"files"`   // hash of each plain file
	Changes []string          `yaml:"changes,omitempty"`
}

// Format is the version of the bundle's layout.
const Format = 1

// Build is a bundle ready to write.
type Build struct {
	Manifest Manifest
	Files    site.Files // pages at the top, plain files under build/
	LeftOut  []string   // what does not go out, in words
	Likely   []Likely   // what of it looks personal, the worst first
	Prose    []Prose    // every free text that goes out, for the maker to read
	Pictures []string   // that go out, by their place in the shop: what they show is not scrubbed
}

// Prose is a text that goes out.
type Prose struct {
	File string `json:"file"`
	Text string `json:"text"`
	own  string // the maker's own file it comes from
}

// plain is where the plain files lie in a bundle.
const plain = "build"

// Make makes the bundle of one job. The same input gives the same bytes.
func Make(ctx context.Context, in Input) (*Build, error) {
	j := in.Shop.Job(in.Job)
	if j == nil {
		return nil, fmt.Errorf("no job %q in this shop", in.Job)
	}
	m := &maker{in: in, j: j, files: site.Files{}, scrub: newScrubber(in), shown: map[string]bool{}}
	if err := m.jobYAML(); err != nil {
		return nil, err
	}
	if err := m.story(); err != nil {
		return nil, err
	}
	if err := m.log(); err != nil {
		return nil, err
	}
	if err := m.shopYAML(); err != nil {
		return nil, err
	}
	if err := m.stockYAML(); err != nil {
		return nil, err
	}
	if err := m.glues(); err != nil {
		return nil, err
	}
	m.leaveOut("prices, suppliers, the price book and what was paid", "shop hours, holidays and due dates", "hours of the day in the log, and time spent",
		"names of machines that wrote entries", "pieces on hand and where they lie", "remotes", "the comments in job.yaml",
		"place, time, device and thumbnail in pictures")

	// Pages come from the scrubbed files alone.
	small, err := job.LoadFS(m.fsys(), "")
	if err != nil {
		return nil, fmt.Errorf("the scrubbed copy does not read, so nothing was shared: %w", err)
	}
	out := &Build{Files: site.Files{}, Prose: m.prose, Likely: m.likely()}
	cut, err := cutting.Make(ctx, small, cutting.Options{Jobs: []string{j.ID}, Everything: true})
	if err != nil {
		return nil, err
	}
	out.Manifest = manifest(j, in, m.files)
	drawn, err := site.Render(site.Input{Shop: small, Now: in.Drawn, Cuts: map[string]*cutting.Cut{j.ID: cut}, Shared: true, Open: m.read,
		Build: site.SharedBuild{By: out.Manifest.By, Version: out.Manifest.Version, Changes: out.Manifest.Changes}})
	if err != nil {
		return nil, err
	}
	if out.Files, err = drawn.All(m.read); err != nil {
		return nil, err
	}
	for p, b := range m.files {
		out.Files[path.Join(plain, p)] = b
	}
	b, err := yaml.Marshal(&out.Manifest)
	if err != nil {
		return nil, err
	}
	out.Files["bundle.yaml"] = b
	out.Pictures = slices.Sorted(maps.Keys(m.shown))
	sort.Strings(m.leftOut)
	out.LeftOut = m.leftOut
	if err := m.scrub.verify(out.Files); err != nil {
		return nil, err
	}
	return out, nil
}

type maker struct {
	in      Input
	j       *job.Job
	files   site.Files // plain files, by path inside the small shop
	scrub   *scrubber
	leftOut []string
	prose   []Prose
	shown   map[string]bool // pictures, by their place in the shop
}

func (m *maker) leaveOut(what ...string) { m.leftOut = append(m.leftOut, what...) }

func (m *maker) fsys() fs.FS {
	out := fstest.MapFS{}
	for p, b := range m.files {
		out[p] = &fstest.MapFile{Data: b, Mode: 0o644}
	}
	return out
}

func (m *maker) read(p string) ([]byte, error) {
	if b, ok := m.files[p]; ok {
		return b, nil
	}
	return nil, fs.ErrNotExist
}

func (m *maker) text(file, s string) string { return m.textFrom(file, file, s) }

// textFrom is text, where the maker's own file has another name.
func (m *maker) textFrom(own, file, s string) string {
	clean, cut := m.scrub.text(s)
	for _, c := range cut {
		m.leaveOut(fmt.Sprintf("%s in %s", c, file))
	}
	if strings.TrimSpace(clean) != "" {
		m.prose = append(m.prose, Prose{File: file, Text: clean, own: own})
	}
	return clean
}

// jobYAML copies the job without comments and without what is the maker's own
// business. Units stand in the file, so that its numbers mean the same in any
// shop.
func (m *maker) jobYAML() error {
	file := m.j.Dir + "/job.yaml"
	data, err := m.in.Open(file)
	if err != nil {
		return err
	}
	var doc yaml.Node
	if err := yaml.Unmarshal(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), &doc); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	if len(doc.Content) != 1 || doc.Content[0].Kind != yaml.MappingNode {
		return fmt.Errorf("%s: not a job", file)
	}
	root := doc.Content[0]
	uncomment(&doc)
	for _, key := range []string{"due", "weight", "units"} {
		drop(root, key)
	}
	sys := m.in.Shop.Units.Length.System
	if m.j.Units != nil {
		sys = *m.j.Units
	}
	root.Content = append([]*yaml.Node{{Kind: yaml.ScalarNode, Value: "units"}, {Kind: yaml.ScalarNode, Value: sys.Name()}}, root.Content...)
	// Only words are scrubbed: an id or a length never is.
	walkScalars(root, func(key string, n *yaml.Node) {
		switch key {
		case "name", "for", "note", "measure", "ask", "hangs", "why", "cautions":
			n.Value = m.text(file, n.Value)
		}
	})
	var b bytes.Buffer
	enc := yaml.NewEncoder(&b)
	enc.SetIndent(2)
	if err := enc.Encode(&doc); err != nil {
		return err
	}
	m.files[file] = b.Bytes()
	return nil
}

func uncomment(n *yaml.Node) {
	n.HeadComment, n.LineComment, n.FootComment = "", "", ""
	for _, c := range n.Content {
		uncomment(c)
	}
}

func drop(m *yaml.Node, key string) {
	for i := 0; i+1 < len(m.Content); i += 2 {
		if m.Content[i].Value == key {
			m.Content = append(m.Content[:i], m.Content[i+2:]...)
			return
		}
	}
}

func walkScalars(n *yaml.Node, f func(key string, n *yaml.Node)) {
	switch n.Kind {
	case yaml.MappingNode:
		for i := 0; i+1 < len(n.Content); i += 2 {
			k, v := n.Content[i], n.Content[i+1]
			switch v.Kind {
			case yaml.ScalarNode:
				f(k.Value, v)
			case yaml.SequenceNode:
				for _, it := range v.Content {
					if it.Kind == yaml.ScalarNode {
						f(k.Value, it)
					} else {
						walkScalars(it, f)
					}
				}
			default:
				walkScalars(v, f)
			}
		}
	case yaml.SequenceNode:
		for _, c := range n.Content {
			walkScalars(c, f)
		}
	}
}

// story copies build.md, ticks cleared: a reader begins from the start.
func (m *maker) story() error {
	if m.j.Build.File == "" || len(m.j.Build.Data) == 0 {
		return nil
	}
	data := bytes.Clone(m.j.Build.Data)
	for _, t := range m.j.Build.Tasks() {
		if t.Done && t.Byte < len(data) {
			data[t.Byte] = ' '
		}
	}
	text := m.pictures(htmlComment.ReplaceAllString(string(data), ""), m.j.Dir)
	m.files[m.j.Build.File] = []byte(m.text(m.j.Build.File, text))
	return nil
}

// log copies what happened: without private entries, without what was taken
// back, by the day and not the hour.
func (m *maker) log() error {
	private := 0
	for _, e := range m.j.Log {
		if e.Private {
			private++
		}
	}
	perDay := map[string]int{}
	for _, e := range m.j.Counting() {
		if e.Private || e.Did == job.DidBuy || e.Did == job.DidUse {
			continue
		}
		day := e.Time.Format("2006-01-02")
		perDay[day]++
		y, mo, d := e.Time.Date()
		e.Time = time.Date(y, mo, d, 12, perDay[day], 0, 0, time.UTC)
		e.Written = time.Time{} // a shared build tells no hours
		e.Paid, e.Minutes, e.Tap, e.Machine = nil, 0, "", ""
		file := fmt.Sprintf("%s/log/%s.md", m.j.Dir, job.EntryName(e, "build"))
		for i := 2; m.files[file] != nil; i++ {
			file = fmt.Sprintf("%s/log/%s-%d.md", m.j.Dir, job.EntryName(e, "build"), i)
		}
		e.Text = m.textFrom(e.File, file, m.pictures(htmlComment.ReplaceAllString(e.Text, ""), m.j.Dir+"/log"))
		m.files[file] = job.FormatEntry(e)
	}
	if private > 0 {
		m.leaveOut(fmt.Sprintf("%d private log entr%s", private, map[bool]string{true: "y", false: "ies"}[private == 1]))
	}
	return nil
}

// pictures cleans the pictures a text shows and renames them, since a camera's
// file name can tell the hour; a picture that cannot be cleaned stays at home.
func (m *maker) pictures(text, dir string) string {
	out := pictureLink.ReplaceAllStringFunc(text, func(link string) string {
		p := pictureLink.FindStringSubmatch(link)
		alt, at := p[1], path.Join(dir, p[2])
		if strings.Contains(p[2], ":") || !strings.HasPrefix(at, m.j.Dir+"/") {
			m.leaveOut("a picture from elsewhere")
			return "[picture: " + alt + "]"
		}
		data, err := m.in.Open(at)
		if err != nil {
			return "[picture: " + alt + "]"
		}
		clean, ext, err := picture.Clean(data, picture.Keep)
		if err != nil {
			m.leaveOut("a picture that could not be cleaned")
			return "[picture: " + alt + "]"
		}
		sum := sha256.Sum256(clean)
		name := m.j.Dir + "/photos/" + hex.EncodeToString(sum[:6]) + ext
		m.files[name], m.shown[at] = clean, true
		rel := "photos/" + path.Base(name)
		if dir != m.j.Dir {
			rel = "../" + rel
		}
		return "![" + alt + "](" + rel + ")"
	})
	// Links in other forms, which a reader's program would not find anyway.
	return pictureName.ReplaceAllStringFunc(out, func(name string) string {
		if m.files[m.j.Dir+"/photos/"+path.Base(name)] != nil {
			return name
		}
		return gone
	})
}

// manifest hashes the plain files and says what has changed since the last.
func manifest(j *job.Job, in Input, files site.Files) Manifest {
	out := Manifest{Format: Format, Job: j.ID, Name: j.Name, By: in.Shop.Sharing.Author, Files: map[string]string{}}
	all := sha256.New()
	for _, p := range files.Paths() {
		sum := sha256.Sum256(files[p])
		out.Files[p] = hex.EncodeToString(sum[:])
		fmt.Fprintf(all, "%s %x\n", p, sum)
	}
	out.Version = hex.EncodeToString(all.Sum(nil))[:16]
	if in.Before == nil {
		return out
	}
	if in.Before.Version == out.Version {
		out.Changes = in.Before.Changes
		return out
	}
	for _, p := range files.Paths() {
		switch old, was := in.Before.Files[p]; {
		case !was:
			out.Changes = append(out.Changes, "new: "+p)
		case old != out.Files[p]:
			out.Changes = append(out.Changes, "changed: "+p)
		}
	}
	var gone []string
	for p := range in.Before.Files {
		if _, still := out.Files[p]; !still {
			gone = append(gone, "gone: "+p)
		}
	}
	sort.Strings(gone)
	out.Changes = append(out.Changes, gone...)
	return out
}

// exact writes a length so that it reads back the same in any shop.
func (m *maker) exact(l measure.Length) string { return measure.Exact(l, m.in.Shop.Units.Length) }
