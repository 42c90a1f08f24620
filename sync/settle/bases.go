package settle

import (
	"bytes"
	"sort"
)

// SettleBases makes one base of several, for two histories that crossed (both
// machines settled the same two versions, each for itself). root is the common
// base of the bases, absent if there is none; where it is itself one of
// several, call SettleBases for it first. The bases may come in any order.
//
// The outcome is only ever a base: nothing of it is shown to a person. Its
// records are part of the base all the same: a record that both sides made
// then counts as known, and one that a side has settled since stays settled.
// So is a second file. SettleFolder with the bases as the two sides does this
// for many paths.
func SettleBases(path string, root File, bases []Version, opts Options) Outcome {
	if len(bases) == 0 {
		return one(path, root)
	}
	vs := append([]Version(nil), bases...)
	sort.SliceStable(vs, func(i, j int) bool {
		x, y := stampOf(vs[i].Side.Machine, vs[i].Side.When), stampOf(vs[j].Side.Machine, vs[j].Side.When)
		if x.less(y) || y.less(x) {
			return x.less(y)
		}
		if vs[i].File.Exists != vs[j].File.Exists {
			return !vs[i].File.Exists
		}
		return bytes.Compare(vs[i].File.Data, vs[j].File.Data) < 0
	})
	out := one(path, vs[0].File)
	side := vs[0].Side
	for _, v := range vs[1:] {
		now := File{!out.Files[0].Deleted, out.Files[0].Data}
		next := Settle(path, root, now, v.File, side, v.Side, opts)
		out.Files = append(next.Files, out.Files[1:]...)
		out.BothWays = append(out.BothWays, next.BothWays...)
		side = Side{Machine: v.Side.Machine, When: v.Side.When, Edits: bothEdits(side, v.Side)}
	}
	return out
}

func bothEdits(a, b Side) func() []Edit {
	if a.Edits == nil && b.Edits == nil {
		return nil
	}
	return func() []Edit {
		var out []Edit
		for _, s := range []Side{a, b} {
			if s.Edits != nil {
				out = append(out, s.Edits()...)
			}
		}
		return out
	}
}
