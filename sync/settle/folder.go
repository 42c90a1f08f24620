package settle

import (
	"bytes"
	"fmt"
	"slices"
	"sort"
	"strings"
)

// Lookup gives the version of a path in one tree; absent is no error.
type Lookup func(path string) (File, error)

// Folder is what SettleFolder settles: three trees, and who changed a path.
type Folder struct {
	Base, Ours, Theirs Lookup
	// Sides says who changed the path on our side and on theirs, and when.
	Sides func(path string) (ours, theirs Side)
}

// SettleFolder settles many paths of a shop at once: each by Settle, then the
// second names and the records are put where they belong. paths are those that
// differ between any two of the three trees; paths left out count as settled
// (equal in ours and theirs, or changed on one side only and taken from there).
//
// The outcome's Files, sorted by path, are all that has to be written over
// those. BothWays are the records that are new to both sides. For a base of
// two bases, call it with the bases as sides and lay Files over one of them.
func SettleFolder(paths []string, f Folder, opts Options) (Outcome, error) {
	var out Outcome
	files := map[string]Out{}
	var extra []Out
	var records []Record
	for _, p := range slices.Compact(slices.Sorted(slices.Values(paths))) {
		v, err := f.versions(p)
		if err != nil {
			return Outcome{}, err
		}
		var a, b Side
		if f.Sides != nil && !sameFile(v.ours, v.theirs) && !sameFile(v.ours, v.base) && !sameFile(v.theirs, v.base) {
			a, b = f.Sides(p)
		}
		o := Settle(p, v.base, v.ours, v.theirs, a, b, opts)
		files[p] = o.Files[0]
		extra = append(extra, o.Files[1:]...)
		records = append(records, o.BothWays...)
		out.Notes = append(out.Notes, o.Notes...)
	}
	for _, x := range extra { // a name that other bytes have by now is made longer
		now, err := f.settled(files, x.Path)
		for err == nil && now.Exists && !bytes.Equal(now.Data, x.Data) {
			x.Path = SecondName(x.Path, x.Data)
			now, err = f.settled(files, x.Path)
		}
		if err != nil {
			return Outcome{}, err
		}
		files[x.Path] = x
	}
	for _, r := range records {
		x := Out{Path: r.Name(), Data: r.Marshal()}
		now, err := f.settled(files, x.Path)
		if err != nil {
			return Outcome{}, err
		}
		if now.Exists {
			x = oneRecord(x, now)
		} else {
			out.BothWays = append(out.BothWays, r)
		}
		files[x.Path] = x
	}
	for _, x := range files {
		out.Files = append(out.Files, x)
	}
	sort.Slice(out.Files, func(i, j int) bool { return out.Files[i].Path < out.Files[j].Path })
	out.clear()
	return out, nil
}

func oneRecord(x Out, there File) Out {
	o, ok := settleRecord(x.Path, File{}, there, File{true, x.Data})
	if !ok {
		return x
	}
	return o.Files[0]
}

type versions struct{ base, ours, theirs File }

func (f Folder) versions(p string) (v versions, err error) {
	for _, x := range []struct {
		l  Lookup
		to *File
	}{{f.Base, &v.base}, {f.Ours, &v.ours}, {f.Theirs, &v.theirs}} {
		if *x.to, err = x.l(p); err != nil {
			return v, fmt.Errorf("%s: %w", p, err)
		}
	}
	return v, nil
}

// settled is what a path comes to: as settled so far, or, for a path that was
// left out, as the side that changed it has it.
func (f Folder) settled(files map[string]Out, p string) (File, error) {
	if x, ok := files[p]; ok {
		return File{!x.Deleted, x.Data}, nil
	}
	v, err := f.versions(p)
	if err != nil || !sameFile(v.ours, v.base) {
		return v.ours, err
	}
	return v.theirs, nil
}

// clear makes room where a file of one side has the name of a folder of the
// other: the file moves to its second name.
func (o *Outcome) clear() {
	folders := map[string]bool{}
	for _, x := range o.Files {
		if x.Deleted {
			continue
		}
		for p := x.Path; ; {
			i := strings.LastIndexByte(p, '/')
			if i < 0 {
				break
			}
			p = p[:i]
			folders[p] = true
		}
	}
	for i, x := range o.Files {
		if !x.Deleted && folders[x.Path] {
			o.Files[i] = Out{Path: x.Path, Deleted: true}
			second := SecondName(x.Path, x.Data)
			o.Files = append(o.Files, Out{Path: second, Data: x.Data})
			o.Notes = append(o.Notes, fmt.Sprintf("%s is a file on one machine and a folder on the other; the file is kept as %s", x.Path, second))
		}
	}
	sort.SliceStable(o.Files, func(i, j int) bool { return o.Files[i].Path < o.Files[j].Path })
}
