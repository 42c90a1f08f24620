package settle

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

var (
	runsFlag = flag.Int("settle.runs", 100, "histories that TestManyMachines plays through")
	seedFlag = flag.Uint64("settle.seed", 0, "first seed; 0: from the clock")
)

func firstSeed(t *testing.T) uint64 {
	seed := *seedFlag
	if seed == 0 {
		seed = uint64(time.Now().UnixNano()) % 1e9
	}
	t.Logf("first seed %d (again with -settle.seed=%d)", seed, seed)
	return seed
}

// Two to four machines, one to three remotes, clocks off by days, edits of all
// kinds, syncs in any order: at the end all hold the same tree, every file
// reads, and every token ever written is in the tree or was removed by an edit
// on top of it.
func TestManyMachines(t *testing.T) {
	seed := firstSeed(t)
	settled, back, records, criss := 0, 0, 0, 0
	for i := range *runsFlag {
		s := newShopRun(seed + uint64(i))
		if !s.run(20 + s.r.IntN(40)) {
			t.Fatalf("seed %d: the machines do not come to one head", seed+uint64(i))
		}
		head := s.machines[0].head
		tree := s.h.commits[head].tree
		for id := range s.h.ancestors(head) {
			if ps := s.h.commits[id].parents; len(ps) == 2 && len(s.h.bases(ps[0], ps[1])) > 1 {
				criss++
			}
		}
		require.Empty(t, s.lost(head), "seed %d: lost", seed+uint64(i))
		for p, text := range tree {
			switch {
			case isRecord(p):
				records++
				_, err := ParseRecord(p, []byte(text))
				require.NoError(t, err, "seed %d", seed+uint64(i))
			case isYAML(p):
				plain, _, ok := unframe([]byte(text))
				require.True(t, ok)
				d, err := readYAML(plain)
				require.NoError(t, err, "seed %d: %s\n%s", seed+uint64(i), p, text)
				require.Empty(t, doubled(d.root), "seed %d: %s\n%s", seed+uint64(i), p, text)
			}
			require.NotContains(t, text, "<<<<")
		}
		for name := range s.settled {
			settled++
			if _, ok := tree[name]; ok {
				back++
			}
		}
	}
	t.Logf("%d histories: %d merges with several bases, %d records at the end, %d settled of which %d came back", *runsFlag, criss, records, settled, back)
}

// Three and four machines from one base, each with its own edits, settled in
// every order. With values alone the files are the same whatever the order;
// with additions, moves and deletions it is counted how often they are.
func TestOrderOfMeeting(t *testing.T) {
	seed := firstSeed(t)
	for _, values := range []bool{true, false} {
		same, total := 0, 0
		for i := range *runsFlag {
			r := rand.New(rand.NewPCG(seed+uint64(i), 2))
			h := &hands{r: r}
			path := []string{"shop.yaml", "jobs/a/build.md", "prices.csv"}[r.IntN(3)]
			text := map[string]func() string{"shop.yaml": h.yaml, "jobs/a/build.md": h.markdown, "prices.csv": h.rows}[path]()
			h.values = values
			st := &history{commits: map[string]*commit{}, merges: map[string]string{}}
			root := st.add(&commit{tree: map[string]string{path: text}, machine: "home", when: homeTime})
			var heads []string
			for m := range 3 + r.IntN(2) {
				head, s := root, text
				for range 1 + r.IntN(3) {
					s = h.edit(path, s)
					when := homeTime.Add(time.Duration(r.IntN(5000)) * time.Minute)
					head = st.add(&commit{parents: []string{head}, tree: map[string]string{path: s}, machine: fmt.Sprintf("m%d", m), when: when})
				}
				heads = append(heads, head)
			}
			first := ""
			alike := true
			for k := range 6 {
				r.Shuffle(len(heads), func(a, b int) { heads[a], heads[b] = heads[b], heads[a] })
				head := heads[0]
				if k%2 == 0 {
					for _, x := range heads[1:] {
						head = st.merge(head, x)
					}
				} else {
					head = st.merge(st.merge(heads[0], heads[1]), st.merge(heads[len(heads)-2], heads[len(heads)-1]))
				}
				got := st.commits[head].tree[path]
				if first == "" {
					first = got
				}
				if alike && got != first && values {
					t.Errorf("seed %d: two orders, two results for %s\n%s", seed+uint64(i), path, diffLines(first, got))
				}
				alike = alike && got == first
			}
			total++
			if alike {
				same++
			}
		}
		t.Logf("values only %v: the same bytes in every order in %d of %d", values, same, total)
		if !values {
			require.Greater(t, same*10, total*8, "most orders should agree")
		}
	}
}

// lost names the tokens that were written at some time before head, are not in
// its tree, and were not removed knowingly: from every file they stood in a
// person took them out, or a person settled a record of that file that held
// them as the other value.
func (s *shopRun) lost(head string) []string {
	have := tokensOf(s.h.commits[head].tree)
	stood := map[string]map[string]bool{} // token -> files
	taken := map[string]bool{}            // token + file
	for id := range s.h.ancestors(head) {
		c := s.h.commits[id]
		for p, text := range c.tree {
			if isRecord(p) {
				continue
			}
			for tok := range tokensOf(map[string]string{p: text}) {
				if stood[tok] == nil {
					stood[tok] = map[string]bool{}
				}
				stood[tok][firstName(p)] = true
			}
		}
		if len(c.parents) != 1 {
			continue
		}
		for p, text := range s.h.commits[c.parents[0]].tree {
			now, kept := c.tree[p]
			if now == text && kept {
				continue
			}
			was, of := tokensOf(map[string]string{p: text}), p
			if isRecord(p) {
				r, _ := ParseRecord(p, []byte(text))
				was, of = tokensOf(map[string]string{"": string(r.Other.Data)}), r.Path
			}
			is := tokensOf(map[string]string{p: now})
			for tok := range was {
				if !is[tok] {
					taken[tok+" "+firstName(of)] = true
				}
			}
		}
	}
	var out []string
	for _, tok := range sortedKeys(stood) {
		for p := range stood[tok] {
			if !have[tok] && !taken[tok+" "+p] {
				out = append(out, tok+" of "+p)
			}
		}
	}
	return out
}

var secondName = regexp.MustCompile(`(-[0-9a-f]{8})+(\.[a-z]+)$`)

// firstName is the name a file had before it was kept as the second or its job
// was renamed.
func firstName(p string) string {
	p = secondName.ReplaceAllString(p, "$2")
	if s := strings.SplitN(p, "/", 3); len(s) == 3 && s[0] == "jobs" {
		return "jobs/*/" + s[2]
	}
	return p
}

func diffLines(a, b string) string {
	var w strings.Builder
	as, bs := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range max(len(as), len(bs)) {
		x, y := "", ""
		if i < len(as) {
			x = as[i]
		}
		if i < len(bs) {
			y = bs[i]
		}
		if x != y {
			fmt.Fprintf(&w, "%d: %q | %q\n", i+1, x, y)
		}
	}
	return w.String()
}
