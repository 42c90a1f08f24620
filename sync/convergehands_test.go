package sync

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"caul/sync/store"
)

// hand does one thing a person does in a shop.
func (m *machine) hand() {
	w := m.w
	j := m.job()
	do := w.r.IntN(15)
	if j == "" {
		do = 0
	}
	base := "jobs/" + j + "/"
	switch do {
	case 0: // a new job
		j = fmt.Sprintf("job-%c", 'a'+rune(w.r.IntN(5)))
		if m.get("jobs/"+j+"/job.yaml") != "" {
			return
		}
		v := w.token("val")
		w.wrote(v, "part of new job "+j)
		m.put("jobs/"+j+"/job.yaml", "name: "+j+"\nparts:\n  - id: skin\n    note: "+v+"\n    qty: 2\n  - id: rib\n    note: none\n# the end\n")
		m.put("jobs/"+j+"/build.md", "# "+j+"\n\nFirst words.\n\n- [ ] mill\n- [ ] clamp\n- [ ] trim\n\nLast words.\n")
		w.say("%s: new job %s", m.name, j)
	case 1, 2, 3: // a log entry
		v := w.token("log")
		w.wrote(v, "log entry")
		m.put(base+"log/"+m.now().Format("2006-01-02T1504")+"-"+m.name+"-did-"+v+".md", "---\nat: "+m.now().Format(time.RFC3339)+"\ndid: finished\nstep: mill\n---\n"+v+"\n")
		w.say("%s: entry %s in %s", m.name, v, j)
	case 4: // a photo, now and then under a name another may use
		v := w.token("pix")
		name := fmt.Sprintf("%sphotos/p%d.jpg", base, w.r.IntN(40))
		if old := m.get(name); old != "" {
			w.gone(old)
		}
		w.wrote(v, "photo "+name)
		m.put(name, "\xff\xd8\xff"+v+" "+strings.Repeat(fmt.Sprint(w.r.Uint64()), 20))
		w.say("%s: photo %s %s", m.name, name, v)
	case 5, 6: // a value
		old := m.get(base + "job.yaml")
		re := regexp.MustCompile(`(note: )(\w+)`)
		all := re.FindAllStringSubmatchIndex(old, -1)
		if len(all) == 0 {
			return
		}
		at := all[w.r.IntN(len(all))]
		v := w.token("val")
		w.gone(old[at[4]:at[5]])
		w.wrote(v, "value in "+j)
		m.put(base+"job.yaml", old[:at[4]]+v+old[at[5]:])
		w.say("%s: value %s over %s in %s", m.name, v, old[at[4]:at[5]], j)
	case 7: // a new part
		old := m.get(base + "job.yaml")
		if !strings.Contains(old, "# the end\n") {
			return
		}
		v := w.token("val")
		w.wrote(v, "new part of "+j)
		m.put(base+"job.yaml", strings.Replace(old, "# the end\n", fmt.Sprintf("  - id: part-%d\n    note: %s\n# the end\n", w.r.IntN(6), v), 1))
		w.say("%s: new part %s in %s", m.name, v, j)
	case 8: // a tick
		old := m.get(base + "build.md")
		m.put(base+"build.md", strings.Replace(old, "- [ ] ", "- [x] ", 1))
		w.say("%s: tick in %s", m.name, j)
	case 9: // a paragraph
		old := m.get(base + "build.md")
		if !strings.Contains(old, "Last words") {
			return
		}
		v := w.token("par")
		w.wrote(v, "paragraph in "+j)
		m.put(base+"build.md", strings.Replace(old, "Last words", "A word on "+v+".\n\nLast words", 1))
		w.say("%s: paragraph %s in %s", m.name, v, j)
	case 10: // a paragraph rewritten
		old := m.get(base + "build.md")
		t := regexp.MustCompile(`A word on (par\d+z)`).FindStringSubmatch(old)
		if t == nil {
			return
		}
		v := w.token("par")
		w.gone(t[1])
		w.wrote(v, "paragraph rewritten in "+j)
		m.put(base+"build.md", strings.Replace(old, t[1], v, 1))
		w.say("%s: paragraph %s over %s in %s", m.name, v, t[1], j)
	case 11: // shop-wide values
		old := m.get("prices.yaml")
		v := w.token("val")
		key := fmt.Sprintf("item-%d", w.r.IntN(4))
		line := regexp.MustCompile("(?m)^" + key + `: .*\n`)
		w.gone(line.FindString(old))
		w.wrote(v, "price of "+key)
		m.put("prices.yaml", line.ReplaceAllString(old, "")+key+": "+v+"\n")
		w.say("%s: price %s %s", m.name, key, v)
	case 12: // a file removed
		var files []string
		for _, d := range []string{"photos", "log"} {
			es, _ := os.ReadDir(filepath.Join(m.dir, base, d))
			for _, e := range es {
				files = append(files, base+d+"/"+e.Name())
			}
		}
		if len(files) == 0 {
			return
		}
		p := files[w.r.IntN(len(files))]
		w.gone(m.get(p))
		require.NoError(w.t, os.Remove(filepath.Join(m.dir, p)))
		w.say("%s: removed %s", m.name, p)
	case 13: // a job renamed, or rarely removed
		if w.r.IntN(3) == 0 {
			w.goneBelow(m, base)
			if w.during {
				w.goneHead(m, j)
			}
			require.NoError(w.t, os.RemoveAll(filepath.Join(m.dir, "jobs", j)))
			w.say("%s: removed job %s", m.name, j)
			return
		}
		to := fmt.Sprintf("job-%c-%d", 'a'+rune(w.r.IntN(5)), w.r.IntN(3))
		if _, err := os.Stat(filepath.Join(m.dir, "jobs", to)); err == nil {
			return
		}
		require.NoError(w.t, os.Rename(filepath.Join(m.dir, "jobs", j), filepath.Join(m.dir, "jobs", to)))
		w.say("%s: job %s is now %s", m.name, j, to)
	case 14: // a both-ways value taken or confirmed
		s, err := openOn(m.dir, store.OS{})
		require.NoError(w.t, err)
		defer s.Close()
		bs, err := s.BothWays()
		require.NoError(w.t, err)
		if len(bs) == 0 {
			return
		}
		b := bs[w.r.IntN(len(bs))]
		require.NoError(w.t, b.Err)
		which := Side(w.r.IntN(2))
		rec := m.get(b.Name)
		before := m.all()
		if err := s.Take(b.Name, which); err != nil {
			w.say("%s: take %s: %v", m.name, b.Name, err)
			return
		}
		// Whoever settles a record has seen what it holds and what the file held.
		after := m.all()
		for _, t := range append(tokens.FindAllString(rec, -1), tokens.FindAllString(before, -1)...) {
			if !strings.Contains(after, t) {
				delete(w.open, t)
			}
		}
		// What the record held and the files do not hold now was seen beside the other and not chosen, though another record may
		// have it as well: somebody else who settles that one, and still has the text in a file, takes nothing away.
		files := m.own()
		for _, t := range tokens.FindAllString(rec, -1) {
			if !strings.Contains(files, t) {
				delete(w.open, t)
			}
		}
		w.say("%s: took %d of %s", m.name, which, b.Name)
	}
}

func (w *world) goneBelow(m *machine, base string) {
	_ = filepath.WalkDir(filepath.Join(m.dir, base), func(p string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			data, _ := os.ReadFile(p)
			w.gone(string(data))
		}
		return nil
	})
}

// goneHead notes what the last commit has of a job: who removes a job while a sync is bringing it up to date removes what they
// themselves had put in, though the file may hold the incoming text for the moment.
func (w *world) goneHead(m *machine, job string) {
	s, err := openOn(m.dir, store.OS{})
	require.NoError(w.t, err)
	defer s.Close()
	_, head, err := s.repo.Head()
	require.NoError(w.t, err)
	tree, err := s.repo.TreeOf(head)
	require.NoError(w.t, err)
	require.NoError(w.t, s.repo.Objects.EachFile(tree, "", func(p string, _ store.Mode, h store.Hash) error {
		if j, _ := splitJob(p); j == job {
			data, err := s.repo.Objects.GetBlob(h)
			require.NoError(w.t, err)
			w.gone(string(data))
		}
		return nil
	}))
}
