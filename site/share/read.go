package share

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"testing/fstest"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"caul/job"
	"caul/job/picture"
)

// Limits on a bundle somebody sends.
const (
	maxBundle  = 200 << 20 // of the zip, and of all its files unpacked
	maxFiles   = 2000
	maxPlain   = 4 << 20 // of one text file
	maxPathLen = 200
	maxRatio   = 200 // unpacked to packed, of one file
)

// Refused says why a bundle is not taken in.
type Refused struct {
	File string // inside the bundle, empty for the bundle itself
	Why  string
}

func (e *Refused) Error() string {
	if e.File == "" {
		return "the bundle is refused: " + e.Why
	}
	return fmt.Sprintf("the bundle is refused: %q: %s", e.File, e.Why)
}

// Hint is the next step.
func (e *Refused) Hint() string {
	return "nothing was written; ask whoever sent it to share it again"
}

// Bundle is a build somebody sent, read and found sound.
type Bundle struct {
	Manifest Manifest
	Shop     *job.Shop // its own small shop, with the one job
	Job      *job.Job
	Files    map[string][]byte // plain files, by path inside the small shop
}

// Open reads a bundle: a zip, or a folder that holds bundle.yaml. Nothing is
// written and no link is followed. Errors are *Refused for what is not sound.
func Open(name string) (*Bundle, error) {
	fi, err := os.Lstat(name)
	if err != nil {
		return nil, err
	}
	switch {
	case fi.Mode().IsRegular():
		if fi.Size() > maxBundle {
			return nil, &Refused{Why: fmt.Sprintf("larger than %d MB", maxBundle>>20)}
		}
		data, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		return Read(data)
	case fi.IsDir():
		files, err := readFolder(name)
		if err != nil {
			return nil, err
		}
		return check(files)
	}
	return nil, &Refused{Why: "neither a file nor a folder"}
}

// Read reads a bundle from the bytes of its zip.
func Read(data []byte) (*Bundle, error) {
	if len(data) > maxBundle {
		return nil, &Refused{Why: fmt.Sprintf("larger than %d MB", maxBundle>>20)}
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, &Refused{Why: "not a zip file, or a damaged one"}
	}
	if len(z.File) > maxFiles {
		return nil, &Refused{Why: fmt.Sprintf("more than %d files", maxFiles)}
	}
	files := map[string][]byte{}
	total := int64(0)
	for _, f := range z.File {
		if strings.HasSuffix(f.Name, "/") && f.FileInfo().IsDir() && f.UncompressedSize64 == 0 {
			continue
		}
		if err := goodPath(f.Name); err != nil {
			return nil, err
		}
		if f.Mode()&^fs.ModePerm != 0 {
			return nil, &Refused{f.Name, "a link or another special file"}
		}
		if f.Flags&1 != 0 {
			return nil, &Refused{f.Name, "locked with a password"}
		}
		if f.UncompressedSize64 > 1<<20 && f.CompressedSize64 > 0 && f.UncompressedSize64/f.CompressedSize64 > maxRatio {
			return nil, &Refused{f.Name, "packed far too small for what it claims to hold"}
		}
		r, err := f.Open()
		if err != nil {
			return nil, &Refused{f.Name, "cannot be unpacked"}
		}
		b, err := io.ReadAll(io.LimitReader(r, maxBundle-total+1))
		r.Close()
		if err != nil {
			return nil, &Refused{f.Name, "damaged"}
		}
		if total += int64(len(b)); total > maxBundle {
			return nil, &Refused{Why: fmt.Sprintf("unpacks to more than %d MB", maxBundle>>20)}
		}
		if err := add(files, f.Name, b); err != nil {
			return nil, err
		}
	}
	return check(files)
}

func readFolder(dir string) (map[string][]byte, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	files := map[string][]byte{}
	total := int64(0)
	err = fs.WalkDir(root.FS(), ".", func(p string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir():
			return nil
		case strings.HasPrefix(d.Name(), ".") && d.Type().IsRegular():
			return nil // what file managers, and caul itself, leave beside pages
		case !d.Type().IsRegular():
			return &Refused{p, "a link or another special file"}
		}
		if err := goodPath(p); err != nil {
			return err
		}
		fi, err := d.Info()
		if err != nil {
			return err
		}
		if total += fi.Size(); total > maxBundle || len(files) >= maxFiles {
			return &Refused{Why: "too large"}
		}
		b, err := fs.ReadFile(root.FS(), p)
		if err != nil {
			return err
		}
		return add(files, p, b)
	})
	return files, err
}

// add keeps a file, refusing two whose names many disks cannot tell apart.
func add(files map[string][]byte, name string, b []byte) error {
	for have := range files {
		if strings.EqualFold(have, name) {
			return &Refused{name, "there twice, or differs only in capital letters"}
		}
	}
	files[name] = b
	return nil
}

// reserved are names that Windows gives to devices.
var reserved = map[string]bool{"con": true, "prn": true, "aux": true, "nul": true}

func init() {
	for _, d := range "123456789" {
		reserved["com"+string(d)], reserved["lpt"+string(d)] = true, true
	}
}

// goodPath refuses any name that could lie outside, run, or be another file on
// another system.
func goodPath(p string) error {
	switch {
	case p == "" || len(p) > maxPathLen:
		return &Refused{p, "a name that is empty or too long"}
	case !utf8.ValidString(p):
		return &Refused{fmt.Sprintf("%q", p), "a name that is not UTF-8"}
	case strings.HasPrefix(p, "/") || strings.Contains(p, "\\") || strings.Contains(p, ":"):
		return &Refused{p, "an absolute path"}
	case path.Clean(p) != p || !filepath.IsLocal(filepath.FromSlash(p)):
		return &Refused{p, "a path that leads out of the bundle"}
	}
	for _, part := range strings.Split(p, "/") {
		stem, _, _ := strings.Cut(strings.ToLower(part), ".")
		switch {
		case strings.HasPrefix(part, "."):
			return &Refused{p, "a hidden file"}
		case strings.HasSuffix(part, ".") || strings.HasSuffix(part, " ") || strings.HasPrefix(part, " "):
			return &Refused{p, "a name that some systems read as another"}
		case reserved[stem]:
			return &Refused{p, "a name that some systems keep for a device"}
		}
	}
	for _, r := range p {
		if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || strings.ContainsRune(`<>"|?*`, r) {
			return &Refused{p, "a name with a sign that does not belong in one"}
		}
	}
	return nil
}

// check reads the plain files strictly and leaves everything else behind: the
// pages of a stranger are never taken in, they are drawn anew.
func check(files map[string][]byte) (*Bundle, error) {
	raw, ok := files["bundle.yaml"]
	if !ok {
		return nil, &Refused{Why: "no bundle.yaml in it: not a shared build"}
	}
	if len(raw) > maxPlain {
		return nil, &Refused{"bundle.yaml", "too large"}
	}
	b := &Bundle{Files: map[string][]byte{}}
	dec := yaml.NewDecoder(bytes.NewReader(raw))
	dec.KnownFields(true)
	if err := dec.Decode(&b.Manifest); err != nil {
		return nil, &Refused{"bundle.yaml", "does not read: " + firstLine(err)}
	}
	if b.Manifest.Format != Format {
		return nil, &Refused{"bundle.yaml", fmt.Sprintf("format %d; this caul reads %d", b.Manifest.Format, Format)}
	}
	jobDir := "jobs/" + b.Manifest.Job
	for p, data := range files {
		inner, ok := strings.CutPrefix(p, plain+"/")
		if !ok {
			continue // a page
		}
		sum := sha256.Sum256(data)
		if b.Manifest.Files[inner] != hex.EncodeToString(sum[:]) {
			return nil, &Refused{p, "not as the bundle's own list has it: damaged, or changed on the way"}
		}
		switch ext := path.Ext(inner); {
		case ext == ".yaml" && (path.Dir(inner) == "." || inner == jobDir+"/job.yaml"),
			ext == ".md" && (inner == jobDir+"/build.md" || path.Dir(inner) == jobDir+"/log"):
			if len(data) > maxPlain {
				return nil, &Refused{p, "too large"}
			}
		case (ext == ".jpg" || ext == ".png") && path.Dir(inner) == jobDir+"/photos":
			// Drawn anew, so that nothing but pixels comes in.
			clean, _, err := picture.Clean(data, picture.Keep)
			if err != nil {
				return nil, &Refused{p, err.Error()}
			}
			data = clean
		default:
			return nil, &Refused{p, "not a file that a shared build holds"}
		}
		b.Files[inner] = data
	}
	for p := range b.Manifest.Files {
		if _, ok := b.Files[p]; !ok {
			return nil, &Refused{p, "on the bundle's own list and not in it"}
		}
	}
	m := fstest.MapFS{}
	for p, data := range b.Files {
		m[p] = &fstest.MapFile{Data: data, Mode: 0o644}
	}
	shop, err := job.LoadFS(m, "")
	if err != nil {
		var probs job.Problems
		if errors.As(err, &probs) && len(probs) > 0 {
			return nil, &Refused{probs[0].File, "does not read: " + probs[0].Msg}
		}
		return nil, &Refused{Why: firstLine(err)}
	}
	if len(shop.Jobs) != 1 || shop.Jobs[0].ID != b.Manifest.Job {
		return nil, &Refused{Why: "a shared build holds one job, the one it names"}
	}
	b.Shop, b.Job = shop, shop.Jobs[0]
	return b, nil
}

func firstLine(err error) string {
	s, _, _ := strings.Cut(err.Error(), "\n")
	return s
}
