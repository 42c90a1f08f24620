package settle

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

var handPaths = []string{"shop.yaml", jobPath, "jobs/a/build.md", "prices.csv"}

func (h *hands) fresh(path string) string {
	switch {
	case isYAML(path):
		return h.yaml()
	case isMarkdown(path):
		return h.markdown()
	}
	return h.rows()
}

// Two sides that change different values: the result is the base's text with
// both changes in it, byte for byte.
func TestDifferentValues(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := &hands{r: rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))}
		path := rapid.SampledFrom(handPaths).Draw(t, "path")
		base := h.fresh(path)
		spots := plainValue.FindAllStringSubmatchIndex(base, -1)
		who := rapid.SliceOfN(rapid.IntRange(0, 3), len(spots), len(spots)).Draw(t, "who")
		ours, theirs, want := "", "", ""
		last := 0
		for i, a := range spots {
			keep := base[last:a[2]]
			old := base[a[2]:a[3]]
			last = a[3]
			o, th := old, old
			switch who[i] {
			case 1:
				o = h.word()
			case 2:
				th = h.word()
			case 3:
				o = h.word()
				th = o
			}
			w := o
			if w == old {
				w = th
			}
			ours, theirs, want = ours+keep+o, theirs+keep+th, want+keep+w
		}
		ours, theirs, want = ours+base[last:], theirs+base[last:], want+base[last:]
		out := Settle(path, some(base), some(ours), some(theirs), atHome, atShop, Options{})
		require.Equal(t, want, string(out.Files[0].Data))
		require.Empty(t, out.BothWays)
	})
}

// Any edits by hand on both sides: symmetric, settled once is settled, one
// side's change alone is that side's bytes, nothing is dropped, and a reader
// that refuses the result gets one side whole.
func TestAnyEdits(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		h := &hands{r: rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))}
		path := rapid.SampledFrom(handPaths).Draw(rt, "path")
		base := h.fresh(path)
		version := func() string {
			s := base
			for range 1 + h.pick(5) {
				s = h.edit(path, s)
			}
			return s
		}
		ours, theirs := version(), version()
		checkPair(t, path, some(base), some(ours), some(theirs))
		checkPair(t, path, some(base), some(ours), some(base))
		out := Settle(path, some(base), some(ours), some(theirs), atHome, atShop, Options{})
		res := some(string(out.Files[0].Data))
		later := Side{Machine: "home", When: shopTime.Add(time.Hour)}
		for _, side := range []string{ours, theirs} { // the settled file meets a side again
			again := Settle(path, some(side), res, some(side), later, atShop, Options{})
			require.Equal(rt, string(res.Data), string(again.Files[0].Data))
			require.Empty(rt, again.BothWays)
		}
		refuse := Options{Reread: func(_ string, data []byte) error {
			if string(data) == string(res.Data) {
				return errUnsound
			}
			return nil
		}}
		out = Settle(path, some(base), some(ours), some(theirs), atHome, atShop, refuse)
		got := string(out.Files[0].Data)
		require.Contains(rt, []string{ours, theirs}, got)
		if ours != theirs && ours != base && theirs != base && got != string(res.Data) {
			require.Len(rt, out.BothWays, 1)
			require.Equal(rt, KindFile, out.BothWays[0].Kind)
			require.Equal(rt, got, string(out.BothWays[0].Stands.Data))
			require.Contains(rt, []string{ours, theirs}, string(out.BothWays[0].Other.Data))
		}
	})
}

// Every record of a settling can be taken, and taking it back gives the
// settled bytes again.
func TestTakeAndBack(t *testing.T) {
	taken, refused := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		h := &hands{r: rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)), values: true}
		path := rapid.SampledFrom(handPaths).Draw(t, "path")
		base := h.fresh(path)
		spots := plainValue.FindAllStringSubmatchIndex(base, -1)
		a := spots[h.pick(len(spots))]
		ours := base[:a[2]] + h.word() + base[a[3]:]
		theirs := base[:a[2]] + h.word() + base[a[3]:]
		for range 3 {
			h.values = rapid.Bool().Draw(t, "values")
			ours = h.edit(path, ours)
		}
		out := Settle(path, some(base), some(ours), some(theirs), atHome, atShop, Options{})
		res := File{true, out.Files[0].Data}
		for _, r := range out.BothWays {
			took, err := Take(r, TakeOther, res)
			if err != nil {
				refused++
				continue
			}
			taken++
			if !r.Other.Exists || !r.Stands.Exists {
				continue
			}
			require.NotEqual(t, string(res.Data), string(took.Data))
			back, err := Take(r, TakeStands, took)
			require.NoError(t, err, "%s\n%s", r.Marshal(), took.Data)
			require.Equal(t, string(res.Data), string(back.Data))
		}
	})
	t.Logf("%d taken, %d refused", taken, refused)
	require.Greater(t, taken, 20*refused)
}

// The base of a crossed history does not depend on the order of its bases, and
// what both machines settled alike is no clash again.
func TestBasesInAnyOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := &hands{r: rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))}
		path := rapid.SampledFrom(handPaths).Draw(t, "path")
		root := h.fresh(path)
		var vs []Version
		for i := range rapid.IntRange(2, 4).Draw(t, "bases") {
			vs = append(vs, Version{some(h.edit(path, root)), Side{Machine: string(rune('a' + i)), When: homeTime.Add(time.Duration(h.pick(500)) * time.Minute)}})
		}
		out := SettleBases(path, some(root), vs, Options{})
		for range 3 {
			h.r.Shuffle(len(vs), func(i, j int) { vs[i], vs[j] = vs[j], vs[i] })
			require.Equal(t, out, SettleBases(path, some(root), vs, Options{}))
		}
		if len(vs) == 2 { // both machines settled the two, each for itself, and one went on
			settled := Settle(path, some(root), vs[0].File, vs[1].File, vs[0].Side, vs[1].Side, Options{})
			require.Equal(t, settled.Files, out.Files)
			base := some(string(out.Files[0].Data))
			on := some(h.edit(path, string(base.Data)))
			next := Settle(path, base, on, some(string(settled.Files[0].Data)), atHome, atShop, Options{})
			require.Equal(t, one(path, on), next)
		}
	})
}

// A record that was settled on one machine stays settled; two that saw
// different standing values become the one that saw the later.
func TestRecordsOfTwoMachines(t *testing.T) {
	r := Record{Path: jobPath, Kind: KindValue, What: "copies", Base: some("1"), Stands: Value{true, []byte("3"), "shop", shopTime}, Other: Value{true, []byte("2"), "home", homeTime}}
	later := r
	later.Stands = Value{true, []byte("4"), "bench", shopTime.Add(time.Hour)}
	require.Equal(t, r.Name(), later.Name())
	p := r.Name()
	was, is := File{true, r.Marshal()}, File{true, later.Marshal()}
	gone := Outcome{Files: []Out{{Path: p, Deleted: true}}}
	require.Equal(t, gone, Settle(p, was, File{}, was, atHome, atShop, Options{}))
	require.Equal(t, gone, Settle(p, was, File{}, is, atHome, atShop, Options{}))
	require.Equal(t, gone, Settle(p, was, is, File{}, atHome, atShop, Options{}))
	require.Equal(t, one(p, is), Settle(p, File{}, was, is, atHome, atShop, Options{}))
	require.Equal(t, one(p, is), Settle(p, File{}, is, was, atHome, atShop, Options{}))
	require.Equal(t, one(p, is), Settle(p, was, is, some("scribble"), atHome, atShop, Options{}))
	require.Contains(t, string(was.Data), "what: copies\n")
	require.Contains(t, string(was.Data), "stands: shop\n")
}

// The newer value is told by the edit that made it, not by the file's last
// change.
func TestNewerByTheEditThatMadeIt(t *testing.T) {
	base, ours, theirs := "a: 1\nb: 1\n", "a: 2\nb: 2\n", "a: 3\nb: 1\n"
	at := func(h int) time.Time { return homeTime.Add(time.Duration(h) * time.Hour) }
	a := Side{Machine: "home", When: at(5), Edits: func() []Edit {
		return []Edit{{"home", at(5), some("a: 2\nb: 1\n"), some(ours)}, {"home", at(1), some(base), some("a: 2\nb: 1\n")}}
	}}
	b := Side{Machine: "shop", When: at(3), Edits: func() []Edit { return []Edit{{"shop", at(3), some(base), some(theirs)}} }}
	out := Settle("shop.yaml", some(base), some(ours), some(theirs), a, b, Options{})
	require.Equal(t, "a: 3\nb: 2\n", string(out.Files[0].Data))
	require.Equal(t, at(1), out.BothWays[0].Other.When)
	a.Edits, b.Edits = nil, nil
	out = Settle("shop.yaml", some(base), some(ours), some(theirs), a, b, Options{})
	require.Equal(t, "a: 2\nb: 2\n", string(out.Files[0].Data))
}

// A file of one side where the other has a folder: both are kept.
func TestFileWhereAFolderIs(t *testing.T) {
	ours, theirs := map[string]string{"jobs/a": "x\n"}, map[string]string{"jobs/a/job.yaml": "name: y\n"}
	out, err := SettleFolder([]string{"jobs/a", "jobs/a/job.yaml"}, Folder{look(nil), look(ours), look(theirs), nil}, Options{})
	require.NoError(t, err)
	require.Equal(t, []Out{
		{Path: "jobs/a", Deleted: true},
		{Path: SecondName("jobs/a", []byte("x\n")), Data: []byte("x\n")},
		{Path: "jobs/a/job.yaml", Data: []byte("name: y\n")},
	}, out.Files)
	require.Len(t, out.Notes, 1)
}

// A second file is not left out because its name is taken by other bytes, or
// was deleted by one side.
func TestSecondNameTaken(t *testing.T) {
	p := "jobs/a/photos/x.jpg"
	q := SecondName(p, []byte("\xff1"))
	base := map[string]string{p: "\xff0", q: "\xff1"}
	for _, c := range []struct{ inOurs, inTheirs string }{{"", "\xff1"}, {"\xff1", ""}, {"\xff9", "\xff1"}, {"\xff1", "\xff1"}} {
		ours, theirs := map[string]string{p: "\xff1"}, map[string]string{p: "\xff2"}
		if c.inOurs != "" {
			ours[q] = c.inOurs
		}
		if c.inTheirs != "" {
			theirs[q] = c.inTheirs
		}
		out, err := SettleFolder([]string{p}, Folder{look(base), look(ours), look(theirs), func(string) (Side, Side) { return atHome, atShop }}, Options{})
		require.NoError(t, err)
		require.Len(t, out.Files, 2)
		require.Equal(t, "\xff1", string(out.Files[0].Data), "%v", c)
		want := q
		if c.inOurs == "\xff9" {
			want = SecondName(q, []byte("\xff1"))
		}
		require.Equal(t, want, out.Files[0].Path)
	}
}
