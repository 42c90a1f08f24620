package settle

import (
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
// A job whose folder one side renamed while the other worked in it is followed:
// what the other side changed or added goes to the new folder.
//
// The outcome's Files, sorted by path, are all that has to be written over
// those. BothWays are the records that are new to both sides. For a base of
// two bases, call it with the bases as sides and lay Files over one of them.
func SettleFolder(paths []string, f Folder, opts Options) (Outcome, error) {
	var out Outcome
	files := map[string]Out{}
	var extra []Out
	var records []Record
	sorted := slices.Compact(slices.Sorted(slices.Values(paths)))
	sorted, moved, gone, err := f.follow(sorted)
	if err != nil {
		return Outcome{}, err
	}
	sorted = slices.Compact(slices.Sorted(slices.Values(sorted)))
	for _, p := range sorted {
		if gone[p] { // it is under the job's new name now
			files[p] = Out{Path: p, Deleted: true}
			continue
		}
		s, ok := moved[p]
		if !ok {
			s = source{p, p, p}
		}
		v, err := f.versionsAt(s)
		if err != nil {
			return Outcome{}, err
		}
		var a, b Side
		if f.Sides != nil && !sameFile(v.ours, v.theirs) && !sameFile(v.ours, v.base) && !sameFile(v.theirs, v.base) {
			a, _ = f.Sides(s.ours)
			_, b = f.Sides(s.theirs)
		}
		o := Settle(p, v.base, v.ours, v.theirs, a, b, opts)
		files[p] = o.Files[0]
		extra = append(extra, o.Files[1:]...)
		records = append(records, o.BothWays...)
		out.Notes = append(out.Notes, o.Notes...)
	}
	for _, x := range extra {
		v, err := f.versions(x.Path)
		if err != nil {
			return Outcome{}, err
		}
		if now, ok := files[x.Path]; ok {
			v.settled(now)
		}
		if !v.ours.Exists && !v.theirs.Exists { // where a side has it, that side's version is the later one
			files[x.Path] = x
		}
	}
	for _, r := range records {
		x := Out{Path: r.Name(), Data: r.Marshal()}
		v, err := f.versions(x.Path)
		if err != nil {
			return Outcome{}, err
		}
		switch now, listed := files[x.Path]; {
		case listed && !now.Deleted:
			x = oneRecord(x, File{true, now.Data})
		case v.ours.Exists:
			x = oneRecord(x, v.ours)
		case v.theirs.Exists:
			x = oneRecord(x, v.theirs)
		default:
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

func (f Folder) versions(p string) (versions, error) { return f.versionsAt(source{p, p, p}) }

func (f Folder) versionsAt(s source) (v versions, err error) {
	for _, x := range []struct {
		l  Lookup
		p  string
		to *File
	}{{f.Base, s.base, &v.base}, {f.Ours, s.ours, &v.ours}, {f.Theirs, s.theirs, &v.theirs}} {
		if *x.to, err = x.l(x.p); err != nil {
			return v, fmt.Errorf("%s: %w", x.p, err)
		}
	}
	return v, nil
}

func (v *versions) settled(o Out) {
	v.ours = File{!o.Deleted, o.Data}
	v.theirs = v.ours
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
