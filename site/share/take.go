package share

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"caul/job"
	"caul/sync/settle"
)

// from is the folder of a taken job that keeps the build as it was taken in,
// and the answers it was taken in with, so that a later version can be settled
// with the reader's own changes.
const from = "from"

// Taken says what taking in did.
type Taken struct {
	Job   string   `json:"job"`
	Files []string `json:"files"` // that are new or changed; none where the shop has this version already
	Notes []string `json:"notes,omitempty"`
}

// Take writes the build into the reader's shop as a job of its own, or settles
// a later version with the copy that is there. The whole shop must read clean
// with it, or nothing is written.
func Take(b *Bundle, shop *job.Shop, a Answers, at time.Time) (*Taken, error) {
	id := b.Job.ID
	if a.As != "" {
		id = a.As
	}
	files := map[string][]byte{}
	dir := "jobs/" + id
	if shop.Job(id) != nil {
		return update(b, shop, id, a, at)
	}
	ad, err := adapt(b, shop, a)
	if err != nil {
		return nil, err
	}
	files[dir+"/job.yaml"] = ad.job
	for p, c := range b.Files {
		rest, ok := strings.CutPrefix(p, "jobs/"+b.Job.ID+"/")
		switch {
		case !ok || strings.HasPrefix(rest, "log/") || rest == "job.yaml":
			// the log is what happened in another shop: it stays with the build as it came
		default:
			files[dir+"/"+rest] = c
		}
		if ok && !strings.HasPrefix(rest, "photos/") {
			files[dir+"/"+from+"/"+rest] = c
		}
	}
	return finish(b, shop, id, a, ad, files, ad.notes)
}

// update settles a later version of a build with the reader's copy of the
// earlier, by the rules that two machines are settled by.
func update(b *Bundle, shop *job.Shop, id string, a Answers, at time.Time) (*Taken, error) {
	dir := "jobs/" + id
	read := func(p string) settle.File {
		data, err := job.ReadFile(shop.Dir, p)
		return settle.File{Exists: err == nil, Data: data}
	}
	if !read(dir + "/" + from + "/bundle.yaml").Exists {
		return nil, &Refused{Why: fmt.Sprintf("a job %q is here already, and it was not taken in from a shared build; take this one in under another name with --as", id)}
	}
	kept, err := answersIn(shop.Dir, dir)
	if err != nil {
		return nil, err
	}
	a = kept.and(a)
	ad, err := adapt(b, shop, a)
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{}
	notes := ad.notes
	mine := settle.Side{Machine: "mine", When: at}
	theirs := settle.Side{Machine: "shared", When: at.Add(-time.Second)} // where both changed one value, the reader's own stands
	for _, name := range []string{"job.yaml", "build.md"} {
		base, ours := read(dir+"/"+from+"/"+name), read(dir+"/"+name)
		data, ok := b.Files["jobs/"+b.Job.ID+"/"+name]
		if name == "job.yaml" {
			data = ad.job
		}
		next := settle.File{Exists: ok, Data: data}
		if !ok || base.Exists && bytes.Equal(base.Data, next.Data) {
			continue
		}
		out := settle.Settle(dir+"/"+name, base, ours, next, mine, theirs, settle.Options{Reread: job.CheckFile})
		for _, f := range out.Files {
			if !f.Deleted {
				files[f.Path] = f.Data
			}
		}
		for _, r := range out.BothWays {
			files[r.Name()] = r.Marshal()
			notes = append(notes, fmt.Sprintf("%s, %s: changed by you and in the new version; yours stands, theirs is kept: caul both-ways", r.Path, r.What))
		}
		notes = append(notes, out.Notes...)
	}
	for p, c := range b.Files {
		rest, ok := strings.CutPrefix(p, "jobs/"+b.Job.ID+"/")
		switch {
		case ok && strings.HasPrefix(rest, "photos/"):
			if !read(dir + "/" + rest).Exists {
				files[dir+"/"+rest] = c
			}
		case ok:
			files[dir+"/"+from+"/"+rest] = c
		}
	}
	return finish(b, shop, id, a, ad, files, notes)
}

// finish adds what a new build and a later version have in common, the build as
// it was taken in, the answers, and what the shop lacked, and writes it all.
func finish(b *Bundle, shop *job.Shop, id string, a Answers, ad *adapted, files map[string][]byte, notes []string) (*Taken, error) {
	dir := "jobs/" + id
	files[dir+"/"+from+"/job.yaml"] = ad.job
	if err := keep(dir, a, files); err != nil {
		return nil, err
	}
	if err := grow(shop, "shop.yaml", ad.shop, files); err != nil {
		return nil, err
	}
	if err := grow(shop, "stock.yaml", ad.stock, files); err != nil {
		return nil, err
	}
	raw, err := marshalManifest(b.Manifest)
	if err != nil {
		return nil, err
	}
	files[dir+"/"+from+"/bundle.yaml"] = raw
	return write(shop, id, files, notes)
}

// write checks the shop with the new files in it and writes them, job.yaml
// last, so that a cut-off taking-in leaves no job that only looks whole.
func write(shop *job.Shop, id string, files map[string][]byte, notes []string) (*Taken, error) {
	if err := readsWith(shop.Dir, files); err != nil {
		return nil, err
	}
	paths := make([]string, 0, len(files))
	for p := range files {
		paths = append(paths, p)
	}
	sort.Slice(paths, func(a, b int) bool {
		x, y := strings.HasSuffix(paths[a], id+"/job.yaml"), strings.HasSuffix(paths[b], id+"/job.yaml")
		if x != y {
			return y
		}
		return paths[a] < paths[b]
	})
	t := &Taken{Job: id, Files: []string{}, Notes: notes}
	for _, p := range paths {
		if old, err := job.ReadFile(shop.Dir, p); err == nil && bytes.Equal(old, files[p]) {
			continue
		}
		t.Files = append(t.Files, p)
		full := filepath.Join(shop.Dir, filepath.FromSlash(p))
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			return nil, err
		}
		if err := job.WriteFile(full, files[p]); err != nil {
			return nil, err
		}
	}
	return t, nil
}
