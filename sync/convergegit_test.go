package sync

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"
)

// program runs the git program as a person does, by the machine's clock; it may refuse.
func (m *machine) program(args ...string) error {
	c := exec.Command("git", append([]string{"-c", "gc.auto=0"}, args...)...)
	c.Dir = m.dir
	at := m.now().Format(time.RFC3339)
	c.Env = append(os.Environ(), "GIT_CONFIG_NOSYSTEM=1", "GIT_CONFIG_GLOBAL="+os.DevNull, "GIT_AUTHOR_NAME=hand", "GIT_AUTHOR_EMAIL=hand@caul.invalid",
		"GIT_COMMITTER_NAME=hand", "GIT_COMMITTER_EMAIL=hand@caul.invalid", "GIT_AUTHOR_DATE="+at, "GIT_COMMITTER_DATE="+at, "GIT_MERGE_AUTOEDIT=no")
	if out, err := c.CombinedOutput(); err != nil {
		return fmt.Errorf("git %s: %w: %s", strings.Join(args, " "), err, strings.TrimSpace(string(out)))
	}
	return nil
}

// byGit commits with the git program, as a person does who keeps the shop by hand between two syncs. What git refuses, since a
// killed sync left its lock or there is nothing to commit, is left.
func (m *machine) byGit() {
	w := m.w
	what := w.r.IntN(4)
	if !haveGit {
		w.say("%s: no git program here: nothing is committed by hand", m.name)
		return
	}
	all := func(msg string) error {
		if err := m.program("add", "-A"); err != nil {
			return err
		}
		return m.program("commit", "-q", "--allow-empty", "-m", msg)
	}
	w.n++
	switch what {
	case 0: // all there is
		w.say("%s: git commits everything: %v", m.name, all("everything, by hand"))
	case 1: // one folder of it, the rest stays as it is
		j := m.job()
		if j == "" {
			return
		}
		err := m.program("add", "-A", "--", "jobs/"+j)
		if err == nil {
			err = m.program("commit", "-q", "-m", "one job, by hand", "--", "jobs/"+j)
		}
		w.say("%s: git commits %s: %v", m.name, j, err)
	case 2: // a branch, merged again
		j := m.job()
		if j == "" {
			return
		}
		entry := func(on string) {
			v := w.token("log")
			w.wrote(v, "log entry "+on)
			m.put("jobs/"+j+"/log/"+m.now().Format("2006-01-02T1504")+"-"+m.name+"-noted-"+v+".md", "---\nat: "+m.now().Format(time.RFC3339)+"\ndid: noted\n---\n"+v+"\n")
		}
		err := all("before the branch")
		if err == nil {
			err = m.program("checkout", "-q", "-b", "side")
		}
		if err != nil {
			w.say("%s: git makes no branch: %v", m.name, err)
			return
		}
		entry("on a branch")
		must := func(err error) {
			if err != nil {
				w.fail("%s: %v", m.name, err)
			}
		}
		must(all("on the branch"))
		must(m.program("checkout", "-q", "main"))
		entry("beside the branch")
		must(all("beside the branch"))
		must(m.program("merge", "-q", "--no-ff", "-m", "merged by hand", "side"))
		must(m.program("branch", "-q", "-D", "side"))
		w.say("%s: git merges a branch in %s", m.name, j)
	case 3: // what lies on a stick, fetched and merged as git merges, where that goes without a conflict
		bare := filepath.Join(w.sticks[w.r.IntN(len(w.sticks))], "caul.git")
		if _, err := os.Stat(bare); err != nil {
			return
		}
		err := all("before the merge")
		if err == nil {
			err = m.program("fetch", "-q", bare, "main")
		}
		if err == nil {
			if err = m.program("merge", "-q", "--no-ff", "-m", "the stick, merged by hand", "FETCH_HEAD"); err != nil {
				if stop := m.program("merge", "--abort"); stop != nil {
					w.say("%s: %v", m.name, stop)
				}
			}
		}
		w.say("%s: git merges %s: %v", m.name, filepath.Base(filepath.Dir(bare)), err)
	}
}
