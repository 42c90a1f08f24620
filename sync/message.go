package sync

import (
	"fmt"
	"sort"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"caul/sync/settle"
	"caul/sync/store"
)

// splitJob takes a path apart into the job and what is below it; no job for files elsewhere.
func splitJob(path string) (job, rest string) {
	p, ok := strings.CutPrefix(path, "jobs/")
	if !ok {
		return "", path
	}
	job, rest, ok = strings.Cut(p, "/")
	if !ok {
		return "", path
	}
	return job, rest
}

// subjectMax is where the first line of a message stops listing jobs.
const subjectMax = 100

// renamedIn finds the jobs that were renamed between the last commit and a tree: old names by new.
func (x *session) renamedIn(ds []store.Diff, tree store.Hash) (map[string]string, error) {
	came, went := false, false
	for _, d := range ds {
		if j, p := splitJob(d.Path); j != "" && p == "job.yaml" {
			came, went = came || d.OldMode == 0, went || d.NewMode == 0
		}
	}
	if !came || !went {
		return nil, nil
	}
	before, err := x.repo.TreeOf(x.head)
	if err != nil {
		return nil, err
	}
	was, err := jobsOf(x.repo.Objects, before)
	if err != nil {
		return nil, err
	}
	now, err := jobsOf(x.repo.Objects, tree)
	if err != nil {
		return nil, err
	}
	to, err := renamedJobs(x.repo.Objects, was, now)
	if err != nil {
		return nil, err
	}
	from := map[string]string{}
	for o, n := range to {
		from[n] = o
	}
	return from, nil
}

// asRenamed takes out of a list what a renaming of jobs alone brought and took away: of a file that is in both folders, only an
// edit is left.
func asRenamed(cs []Change, from map[string]string, same func(a, b string) bool) []Change {
	to := map[string]string{}
	for n, o := range from {
		to[o] = n
	}
	had, has := map[string]bool{}, map[string]bool{}
	for _, c := range cs {
		switch c.What {
		case Deleted:
			had[c.Path] = true
		case Added:
			has[c.Path] = true
		}
	}
	var out []Change
	for _, c := range cs {
		j, p := splitJob(c.Path)
		if o := from[j]; o != "" && c.What == Added && had["jobs/"+o+"/"+p] {
			if same("jobs/"+o+"/"+p, c.Path) {
				continue
			}
			c.What = Edited
		}
		if n := to[j]; n != "" && c.What == Deleted {
			if c.Path = "jobs/" + n + "/" + p; has[c.Path] {
				continue
			}
		}
		out = append(out, c)
	}
	return out
}

// describe tells changes in shop words: "torsion-table: clamped core, finished mill; edited job.yaml". from has the old names of
// jobs that were renamed, by the new; entry reads a log entry.
func describe(cs []Change, from map[string]string, entry func(path string) []byte) string {
	type work struct {
		did, files   []string
		photos       int
		born, buried bool
	}
	jobs := map[string]*work{}
	var names, rest []string
	decided := 0
	for n := range from {
		jobs[n] = &work{}
		names = append(names, n)
	}
	for _, c := range cs {
		if strings.HasPrefix(c.Path, settle.RecordFolder+"/") && c.What == Deleted {
			decided++
			continue
		}
		j, p := splitJob(c.Path)
		if j == "" {
			rest = append(rest, string(c.What)+" "+c.Path)
			continue
		}
		w := jobs[j]
		if w == nil {
			w = &work{}
			jobs[j] = w
			names = append(names, j)
		}
		switch {
		case strings.HasPrefix(p, "log/") && c.What == Added:
			w.did = append(w.did, didWhat(p, entry(c.Path)))
		case strings.HasPrefix(p, "photos/") && c.What == Added:
			w.photos++
		default:
			if p == "job.yaml" {
				w.born = w.born || c.What == Added
				w.buried = w.buried || c.What == Deleted
			}
			w.files = append(w.files, string(c.What)+" "+p)
		}
	}
	sort.Strings(names)
	var lines []string
	for _, n := range names {
		w := jobs[n]
		var parts []string
		switch {
		case w.buried:
			lines = append(lines, n+": removed the job")
			continue
		case w.born:
			parts = append(parts, "new job")
			w.files = nil
		}
		if o := from[n]; o != "" {
			parts = append(parts, "renamed from "+o)
		}
		if len(w.did) > 6 {
			w.did = append(w.did[:5:5], fmt.Sprintf("and %d more entries", len(w.did)-5))
		}
		if len(w.did) > 0 {
			parts = append(parts, strings.Join(w.did, ", "))
		}
		if w.photos > 0 {
			parts = append(parts, count(w.photos, "photo", "photos"))
		}
		if len(w.files) > 3 {
			parts = append(parts, count(len(w.files), "file", "files"))
		} else if len(w.files) > 0 {
			parts = append(parts, strings.Join(w.files, ", "))
		}
		lines = append(lines, n+": "+strings.Join(parts, "; "))
	}
	if len(rest) > 6 {
		rest = append(rest[:5:5], fmt.Sprintf("and %d more files", len(rest)-5))
	}
	if len(rest) > 0 {
		lines = append(lines, strings.Join(rest, ", "))
	}
	if decided > 0 {
		lines = append(lines, "decided "+count(decided, "value", "values")+" that two machines had changed")
	}
	for i, l := range lines { // a message is text of lines, whatever a file is called
		lines[i] = strings.Map(func(r rune) rune { // bytes that are no text come out as the sign for that
			if unicode.IsControl(r) {
				return ' '
			}
			return r
		}, l)
	}
	subject := strings.Join(lines, "; ")
	if len(subject) <= subjectMax {
		return subject
	}
	if len(lines) == 1 {
		return lines[0]
	}
	const most = 40
	short := "work on " + count(len(names), "job", "jobs")
	if len(names) == 0 {
		short = "work on " + count(len(cs), "file", "files")
	}
	if len(lines) > most {
		lines = append(lines[:most:most], fmt.Sprintf("and %d more", len(lines)-most))
	}
	return short + "\n\n" + strings.Join(lines, "\n")
}

// didWhat tells a log entry: from its front matter, or else from its name.
func didWhat(name string, data []byte) string {
	var did, step string
	if s, ok := strings.CutPrefix(strings.ReplaceAll(string(data), "\r\n", "\n"), "---\n"); ok {
		if end := strings.Index(s, "\n---"); end >= 0 {
			s = s[:end]
		}
		for _, l := range strings.Split(s, "\n") {
			k, v, ok := strings.Cut(l, ":")
			if !ok {
				continue
			}
			switch v = strings.Trim(strings.TrimSpace(v), `"'`); k {
			case "did":
				did = v
			case "step":
				step = v
			}
		}
	}
	if did != "" {
		return strings.TrimSpace(oneLine(did + " " + step))
	}
	return "entry " + strings.TrimSuffix(strings.TrimPrefix(name, "log/"), ".md")
}

func oneLine(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if len(s) > 60 {
		s = strings.ToValidUTF8(s[:60], "")
	}
	return s
}

// editedKey begins the lines of a message that tell when a file was last written by hand: that, and not the time of the
// sync, decides which of two edits is the newer.
const editedKey = "Edited: "

// editedMax bounds the lines.
const editedMax = 200

// trailers tells when each changed file of text was written.
func trailers(edited map[string]time.Time) string {
	var paths []string
	for p := range edited {
		if strings.ContainsAny(p, "\n\r") || !utf8.ValidString(p) || !strings.HasSuffix(p, ".yaml") && !strings.HasSuffix(p, ".md") {
			continue
		}
		paths = append(paths, p)
	}
	if len(paths) == 0 || len(paths) > editedMax {
		return ""
	}
	sort.Strings(paths)
	var b strings.Builder
	b.WriteString("\n")
	for _, p := range paths {
		b.WriteString(editedKey + edited[p].UTC().Format(time.RFC3339) + " " + p + "\n")
	}
	return b.String()
}

// editedAt reads when a commit says a path was written; the commit's own author time otherwise.
func editedAt(c *store.CommitInfo, path string) time.Time {
	for _, l := range strings.Split(c.Message, "\n") {
		if r, ok := strings.CutPrefix(l, editedKey); ok {
			at, p, ok := strings.Cut(r, " ")
			if ok && p == path {
				if t, err := time.Parse(time.RFC3339, at); err == nil {
					return t
				}
			}
		}
	}
	return c.Author.When
}
