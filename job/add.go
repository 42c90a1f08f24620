package job

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"

	"caul/job/measure"
)

// AddEntry puts one entry into a job's log as a new file, durably, and gives
// its slash path inside the shop. machine is who writes it; e.Time is when it
// happened and must be set; its zone is written down. An existing entry is
// never touched: a taken name gets a number. The entry is read back before it
// is written, so that what is stored is what was meant.
func AddEntry(dir, jobID string, e Entry, machine string) (string, error) {
	return addEntry(osDisk{}, dir, jobID, e, machine)
}

func addEntry(d disk, dir, jobID string, e Entry, machine string) (string, error) {
	if e.Time.IsZero() {
		return "", errors.New("the entry does not say when")
	}
	if !isDid(e.Did) {
		return "", fmt.Errorf("no entry can say %q; one of: %s", e.Did, strings.Join(Dids(), ", "))
	}
	if !idShape.MatchString(jobID) || strings.Contains(jobID, "/") {
		return "", fmt.Errorf("%q is not a job", jobID)
	}
	jobDir := "jobs/" + jobID
	full, err := inShop(dir, jobDir)
	if err != nil {
		return "", err
	}
	if st, err := lstatDir(full); err != nil || !st {
		return "", fmt.Errorf("there is no job %q", jobID)
	}
	data := FormatEntry(e)
	if err := entryStands(jobDir, e, data); err != nil {
		return "", err
	}
	logDir, err := makeDir(d, dir, jobDir+"/log")
	if err != nil {
		return "", err
	}
	stem := EntryName(e, machine)
	for i := 1; i < 10_000; i++ {
		name := stem
		if i > 1 {
			name = fmt.Sprintf("%s-%d", stem, i)
		}
		err := createFile(d, filepath.Join(logDir, name+".md"), data)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return "", err
		}
		return jobDir + "/log/" + name + ".md", nil
	}
	return "", fmt.Errorf("no free name for %s", stem)
}

// entryStands reads a formatted entry back and compares the facts.
func entryStands(jobDir string, e Entry, data []byte) error {
	back, err := ReadEntry(jobDir+"/log/new.md", data, Units{Temp: "C"}, time.UTC)
	if err != nil {
		return fmt.Errorf("the entry would not read back: %w", err)
	}
	if !back.Time.Equal(e.Time.Truncate(time.Second)) || !back.WrittenAt().Equal(e.WrittenAt().Truncate(time.Second)) || back.Did != e.Did || back.Step != e.Step || back.Entry != e.Entry ||
		back.Check != e.Check || back.Item != e.Item || back.Qty != e.Qty || back.Minutes != e.Minutes || back.Tap != e.Tap || back.Private != e.Private ||
		back.Value.Set != e.Value.Set || back.Value.Length != e.Value.Length || len(back.Five) != len(e.Five) || !maps.Equal(back.Clamps, e.Clamps) {
		return errors.New("the entry would not read back as it was meant; check its words for odd characters")
	}
	if (back.Air == nil) != (e.Air == nil) || back.Air != nil && *back.Air != *e.Air || (back.Paid == nil) != (e.Paid == nil) || back.Paid != nil && *back.Paid != *e.Paid {
		return errors.New("the entry would not read back as it was meant")
	}
	return nil
}

var notName = regexp.MustCompile(`[^\p{L}\p{N}]+`)

// nameWord is a word as it stands in a file name, of at most so many letters.
func nameWord(s string, most int) string {
	s = strings.Trim(notName.ReplaceAllString(strings.ToLower(s), "-"), "-")
	if r := []rune(s); len(r) > most {
		s = strings.Trim(string(r[:most]), "-")
	}
	return s
}

// EntryName is the file name, without .md, that an entry gets: local time,
// machine, what was done, and to what.
func EntryName(e Entry, machine string) string {
	m := nameWord(machine, 24)
	if m == "" {
		m = "shop"
	}
	parts := []string{e.Time.Format("2006-01-02T1504"), m, e.Did}
	for _, w := range []string{e.Step, e.Check, e.Item} {
		if w = nameWord(w, 32); w != "" {
			parts = append(parts, w)
			break
		}
	}
	return strings.Join(parts, "-")
}

// FormatEntry writes an entry as its file.
func FormatEntry(e Entry) []byte {
	var b strings.Builder
	b.WriteString("---\n")
	line := func(key, v string) {
		if v != "" {
			b.WriteString(key + ": " + quote(v, false) + "\n")
		}
	}
	line("at", e.Time.Format(time.RFC3339))
	if !e.Written.IsZero() && !e.Written.Equal(e.Time) {
		line("written", e.Written.Format(time.RFC3339))
	}
	line("did", e.Did)
	line("step", e.Step)
	line("entry", e.Entry)
	line("check", e.Check)
	line("item", e.Item)
	if e.Qty != 0 {
		line("qty", fmt.Sprint(e.Qty))
	}
	if e.Value.Set {
		line("value", exactText(e.Value))
	}
	if len(e.Five) > 0 {
		var fs []string
		for _, f := range e.Five {
			fs = append(fs, quote(exactText(f), true))
		}
		b.WriteString("five: [" + strings.Join(fs, ", ") + "]\n")
	}
	if e.Air != nil {
		line("air", e.Air.String())
	}
	if len(e.Clamps) > 0 {
		var cs []string
		for _, k := range slices.Sorted(maps.Keys(e.Clamps)) {
			cs = append(cs, fmt.Sprintf("%s: %d", quote(k, true), e.Clamps[k]))
		}
		b.WriteString("clamps: {" + strings.Join(cs, ", ") + "}\n")
	}
	if e.Paid != nil {
		line("paid", e.Paid.String())
	}
	if e.Minutes != 0 {
		line("minutes", e.Minutes.String())
	}
	if e.Private {
		line("private", "true")
	}
	line("tap", e.Tap)
	b.WriteString("---\n")
	text := cleanProse(e.Text)
	b.WriteString(text)
	if text != "" {
		b.WriteString("\n")
	}
	shown := map[string]bool{}
	for _, p := range pictures(text, "jobs/x/log") {
		shown[path.Base(p.File)] = true
	}
	for _, p := range e.Pictures {
		base := path.Base(p.File)
		if shown[base] {
			continue
		}
		alt := strings.Map(func(r rune) rune {
			if r == '[' || r == ']' || unicode.IsControl(r) {
				return ' '
			}
			return r
		}, p.Alt)
		fmt.Fprintf(&b, "\n![%s](../photos/%s)\n", strings.TrimSpace(alt), base)
	}
	return []byte(b.String())
}

// cleanProse takes out what a text file of the shop may not hold: invalid
// UTF-8, control characters, and lines that would read as a merge half done.
func cleanProse(s string) string {
	s = strings.ToValidUTF8(s, "?")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	s = strings.Map(func(r rune) rune {
		switch {
		case r == '\r', r == 0x85, r == 0x2028, r == 0x2029:
			return '\n'
		case r < 0x20 && r != '\n' && r != '\t', r == 0x7f:
			return -1
		}
		return r
	}, s)
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		if conflictMark(l) != "" {
			lines[i] = " " + l
		}
	}
	return strings.Trim(strings.Join(lines, "\n"), "\n")
}

// exactText writes a length so that it reads back the same in any shop.
func exactText(d Dim) string {
	u := measure.Units{System: measure.Metric, Mark: 2}
	if d.Src != "" && hasUnit(d) {
		return d.Src
	}
	if d.Src != "" {
		// as the maker wrote it, with the unit that was meant
		for _, sys := range []measure.System{measure.Inches, measure.Metric} {
			t := d.Src + " " + sys.Name()
			if l, err := measure.ParseLength(t, sys); err == nil && l == d.Length {
				return t
			}
		}
	}
	if d.Length%measure.Frac(0, 1, 128) == 0 || d.Length%(measure.Inch/10_000) == 0 {
		u = measure.Units{System: measure.Inches, Mark: 128}
	}
	return measure.Exact(d.Length, u)
}

// hasUnit tells whether the text names its unit, so that it means the same in
// any shop.
func hasUnit(d Dim) bool {
	a, err1 := measure.ParseLength(d.Src, measure.Inches)
	b, err2 := measure.ParseLength(d.Src, measure.Metric)
	return err1 == nil && err2 == nil && a == b && a == d.Length && a != 0
}

// AddPicture stores a picture under a job's photos, durably, and gives its
// slash path inside the shop. The bytes are taken as they are: turn, scale and
// strip them first (job/picture). A taken name with other bytes gets a number;
// the same bytes are stored once.
func AddPicture(dir, jobID, name string, data []byte) (string, error) {
	return addPicture(osDisk{}, dir, jobID, name, data)
}

func addPicture(d disk, dir, jobID, name string, data []byte) (string, error) {
	if !idShape.MatchString(jobID) || strings.Contains(jobID, "/") {
		return "", fmt.Errorf("%q is not a job", jobID)
	}
	full, err := inShop(dir, "jobs/"+jobID)
	if err != nil {
		return "", err
	}
	if st, err := lstatDir(full); err != nil || !st {
		return "", fmt.Errorf("there is no job %q", jobID)
	}
	ext := strings.ToLower(path.Ext(name))
	switch ext {
	case ".jpg", ".jpeg", ".png":
	default:
		return "", fmt.Errorf("%q is not a picture; jpg, jpeg and png are", name)
	}
	stem := strings.Trim(notName.ReplaceAllString(strings.ToLower(strings.TrimSuffix(path.Base(name), path.Ext(name))), "-"), "-")
	if r := []rune(stem); len(r) > 60 {
		stem = string(r[:60])
	}
	if stem == "" {
		stem = "picture"
	}
	sub := "jobs/" + jobID + "/photos"
	photos, err := makeDir(d, dir, sub)
	if err != nil {
		return "", err
	}
	for i := 1; i < 10_000; i++ {
		n := stem + ext
		if i > 1 {
			n = fmt.Sprintf("%s-%d%s", stem, i, ext)
		}
		err := createFile(d, filepath.Join(photos, n), data)
		if errors.Is(err, fs.ErrExist) {
			if sameBytes(filepath.Join(photos, n), data) {
				return sub + "/" + n, nil
			}
			continue
		}
		if err != nil {
			return "", err
		}
		return sub + "/" + n, nil
	}
	return "", fmt.Errorf("no free name for %s", name)
}

// Tick ticks or clears one task item of a job's build.md by changing one byte.
// The task is found again by its text when the file has changed since it was
// read.
func Tick(dir, file string, task Task, done bool) error {
	return tick(osDisk{}, dir, file, task, done)
}

func tick(d disk, dir, file string, task Task, done bool) error {
	return updateFile(d, dir, file, func(old []byte) ([]byte, error) {
		b := ReadBuild(file, old, nil)
		var found []Task
		at := -1
		for _, t := range b.Tasks() {
			if t.Text == task.Text {
				found = append(found, t)
				if t.Byte == task.Byte {
					at = t.Byte
				}
			}
		}
		switch {
		case at >= 0:
		case len(found) == 1:
			at = found[0].Byte
		case len(found) == 0:
			return nil, fmt.Errorf("%s no longer holds the task %q", file, task.Text)
		default:
			return nil, fmt.Errorf("%s holds the task %q %d times and has changed since it was read; read it again", file, task.Text, len(found))
		}
		if old[at] != ' ' == done {
			return old, nil
		}
		out := append([]byte(nil), old...)
		out[at] = ' '
		if done {
			out[at] = 'x'
		}
		return out, nil
	})
}
