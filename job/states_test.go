package job

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// foldJob is a job of three steps, the second a glue-up.
func foldJob(log ...Entry) *Job {
	g := GlueUp{ID: "core"}
	j := &Job{ID: "box", Steps: []Step{{ID: "mill"}, {ID: "core", GlueUp: &g, After: []Lag{{Step: "mill"}}}, {ID: "trim", After: []Lag{{Step: "core", From: FromCured}}}}}
	for i := range log {
		if log[i].ID == "" {
			log[i].ID = fmt.Sprintf("e%d", i)
		}
	}
	j.Log = log
	return j
}

func entryAt(min int, machine, did, step string) Entry {
	return Entry{Time: noon.Add(time.Duration(min) * time.Minute), Machine: machine, Did: did, Step: step}
}

func TestStatesOfAnEvening(t *testing.T) {
	log := []Entry{
		entryAt(0, "shop", DidBegin, "mill"), entryAt(30, "shop", DidFinish, "mill"),
		entryAt(35, "shop", DidBegin, "core"), entryAt(60, "shop", DidClamp, "core"),
		entryAt(150, "shop", DidUnclamp, "core"), entryAt(2000, "shop", DidFinish, "core"),
		entryAt(2010, "shop", DidBegin, "trim"), entryAt(2020, "shop", DidAside, "trim"), entryAt(2100, "shop", DidResume, "trim"), entryAt(2120, "shop", DidFinish, "trim"),
	}
	for i, want := range [][3]State{
		{OnBench, Waiting, Waiting}, {Done, Waiting, Waiting}, {Done, OnBench, Waiting}, {Done, InClamps, Waiting}, {Done, Curing, Waiting},
		{Done, Done, Waiting}, {Done, Done, OnBench}, {Done, Done, Aside}, {Done, Done, OnBench}, {Done, Done, Done},
	} {
		states, doubts := foldJob(log[:i+1]...).States()
		require.Empty(t, doubts)
		require.Equal(t, want, [3]State{states["mill"].State, states["core"].State, states["trim"].State}, "after entry %d", i)
	}
	states, _ := foldJob(log...).States()
	require.Equal(t, noon.Add(60*time.Minute), states["core"].Clamped)
	require.Equal(t, noon.Add(150*time.Minute), states["core"].Unclamped)
	require.Equal(t, noon.Add(2010*time.Minute), states["trim"].Begun)
}

func TestUndo(t *testing.T) {
	undo := func(min int, id, of string) Entry {
		e := entryAt(min, "home", DidUndo, "")
		e.ID, e.Entry = id, of
		return e
	}
	begin, finish := entryAt(0, "shop", DidBegin, "mill"), entryAt(30, "shop", DidFinish, "mill")
	begin.ID, finish.ID = "b", "f"
	states, doubts := foldJob(begin, finish, undo(31, "u", "f")).States()
	require.Empty(t, doubts)
	require.Equal(t, OnBench, states["mill"].State)
	// a clock behind: the taking back is dated before what it takes back
	states, _ = foldJob(begin, finish, undo(-300, "u", "f")).States()
	require.Equal(t, OnBench, states["mill"].State)
	// taking back the taking back
	states, _ = foldJob(begin, finish, undo(31, "u", "f"), undo(32, "v", "u")).States()
	require.Equal(t, Done, states["mill"].State)
	// of something that is not there
	_, doubts = foldJob(begin, undo(31, "u", "nothing")).States()
	require.Len(t, doubts, 1)
	require.Contains(t, doubts[0].Text, "which is not in the log")
	// a round of two must end, whatever it means
	foldJob(undo(1, "u", "v"), undo(2, "v", "u")).States()
}

func TestContradictions(t *testing.T) {
	for _, c := range []struct {
		name string
		log  []Entry
		step string
		want State
		say  string
	}{
		{"two machines, the wrong way round", []Entry{entryAt(0, "shop", DidBegin, "mill"), entryAt(30, "shop", DidFinish, "mill"), entryAt(40, "home", DidBegin, "mill")}, "mill", Done, "clocks that disagree"},
		{"one machine begins again", []Entry{entryAt(0, "shop", DidBegin, "mill"), entryAt(30, "shop", DidFinish, "mill"), entryAt(40, "shop", DidBegin, "mill")}, "mill", OnBench, "begun again"},
		{"two machines, days apart", []Entry{entryAt(0, "shop", DidFinish, "mill"), entryAt(4000, "home", DidBegin, "mill")}, "mill", OnBench, "begun again"},
		{"clamped twice", []Entry{entryAt(0, "shop", DidFinish, "mill"), entryAt(1, "shop", DidClamp, "core"), entryAt(20, "shop", DidClamp, "core")}, "core", InClamps, "in clamps already"},
		{"off before on, by another clock", []Entry{entryAt(0, "shop", DidFinish, "mill"), entryAt(10, "home", DidUnclamp, "core"), entryAt(20, "shop", DidClamp, "core")}, "core", Curing, "clocks that disagree"},
		{"off without on", []Entry{entryAt(0, "shop", DidFinish, "mill"), entryAt(10, "shop", DidUnclamp, "core")}, "core", Curing, "no entry puts them on"},
		{"finished in the clamps", []Entry{entryAt(0, "shop", DidFinish, "mill"), entryAt(10, "shop", DidClamp, "core"), entryAt(20, "shop", DidFinish, "core")}, "core", Done, "no entry takes its clamps off"},
		{"before its time", []Entry{entryAt(10, "shop", DidBegin, "core")}, "core", OnBench, "never begun in the log"},
		{"set aside when done", []Entry{entryAt(0, "shop", DidFinish, "mill"), entryAt(10, "shop", DidAside, "mill")}, "mill", Done, "it stays done"},
		{"unknown step", []Entry{entryAt(0, "shop", DidBegin, "mlil")}, "mill", Waiting, "which the job does not have"},
		{"unknown check", []Entry{{Time: noon, Did: DidRead, Check: "flta"}}, "mill", Waiting, "which the job does not have"},
	} {
		t.Run(c.name, func(t *testing.T) {
			states, doubts := foldJob(c.log...).States()
			require.Equal(t, c.want, states[c.step].State)
			require.Contains(t, fmt.Sprint(doubts), c.say)
		})
	}
}

func TestSaidTwice(t *testing.T) {
	a, b := entryAt(0, "shop", DidBegin, "mill"), entryAt(1, "shop", DidBegin, "mill")
	a.Tap, b.Tap = "tap-7", "tap-7"
	j := foldJob(a, b)
	states, doubts := j.States()
	require.Empty(t, doubts)
	require.Len(t, states["mill"].Entries, 1)
	require.Len(t, j.Counting(), 1)
}

func TestFutureDated(t *testing.T) {
	j := foldJob(entryAt(0, "shop", DidBegin, "mill"))
	require.Empty(t, j.Doubts(noon))
	require.Contains(t, j.Doubts(noon.Add(-time.Hour))[0].Text, "which has not come yet")
	many := foldJob(entryAt(0, "shop", DidBegin, "mill"), entryAt(5, "shop", DidNote, ""), entryAt(9, "shop", DidNote, ""))
	require.Len(t, many.Doubts(noon.Add(-24*time.Hour)), 1)
	require.Contains(t, many.Doubts(noon.Add(-24 * time.Hour))[0].Text, "this and later entries are dated after now")
	sh := &Shop{Jobs: []*Job{many}}
	last, ahead := sh.LogAhead(noon.Add(-25 * time.Hour))
	require.True(t, ahead)
	require.Equal(t, noon.Add(9*time.Minute), last)
	_, ahead = sh.LogAhead(noon)
	require.False(t, ahead)
	back := entryAt(1, "shop", DidUndo, "mill")
	back.Entry = j.Log[0].ID
	require.Empty(t, foldJob(j.Log[0], back).Doubts(noon.Add(-5*time.Minute)), "taken back, and no more said")
}

// TestFoldIsASet folds random logs in every order they may arrive in, with
// entries that come twice: states and doubts are the same.
func TestFoldIsASet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dids := []string{DidBegin, DidClamp, DidUnclamp, DidFinish, DidAside, DidResume, DidNote, DidUndo}
		n := rapid.IntRange(0, 12).Draw(t, "entries")
		var log []Entry
		for i := range n {
			e := entryAt(rapid.IntRange(-3000, 3000).Draw(t, "minute"), rapid.SampledFrom([]string{"shop", "home"}).Draw(t, "machine"),
				rapid.SampledFrom(dids).Draw(t, "did"), rapid.SampledFrom([]string{"mill", "core", "trim", "gone"}).Draw(t, "step"))
			e.ID = fmt.Sprintf("e%02d", i)
			if e.Did == DidUndo {
				e.Entry = fmt.Sprintf("e%02d", rapid.IntRange(0, n).Draw(t, "of"))
			}
			log = append(log, e)
		}
		s1, d1 := foldJob(slices.Clone(log)...).States()
		mixed := rapid.Permutation(append(slices.Clone(log), log...)).Draw(t, "order")
		s2, d2 := foldJob(mixed...).States()
		if fmt.Sprint(s1, d1) != fmt.Sprint(s2, d2) {
			t.Fatalf("%v\n%v\n%v\n%v", s1, s2, d1, d2)
		}
		for _, s := range s1 {
			if s.State == InClamps && s.Clamped.IsZero() || s.State == Done && s.Finished.IsZero() || s.State == Waiting && !s.Begun.IsZero() {
				t.Fatalf("%+v", s)
			}
		}
	})
}

// A step that was set aside before it was begun waits again when it is taken
// up; one that was under way is on the bench again.
func TestTakeUp(t *testing.T) {
	at := func(m int) time.Time { return time.Date(2026, 3, 14, 9, m, 0, 0, time.UTC) }
	entry := func(m int, did string) Entry {
		return Entry{ID: did + at(m).Format("1504"), Time: at(m), Did: did, Step: "cut"}
	}
	j := &Job{ID: "x", Steps: []Step{{ID: "cut"}}}
	j.Log = []Entry{entry(1, DidAside), entry(2, DidResume)}
	st, _ := j.States()
	require.Equal(t, Waiting, st["cut"].State)
	j.Log = []Entry{entry(0, DidBegin), entry(1, DidAside), entry(2, DidResume)}
	st, _ = j.States()
	require.Equal(t, OnBench, st["cut"].State)
}
