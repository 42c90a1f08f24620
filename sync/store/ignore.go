package store

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
)

// rule is one line of a .gitignore file. Meaning: git's gitignore(5).
type rule struct {
	keep    bool // a line that begins with !
	dirOnly bool
	re      *regexp.Regexp // against the path below the file's folder
}

func parseRule(line string, fold bool) (rule, bool) {
	line = strings.TrimSuffix(line, "\r")
	for strings.HasSuffix(line, " ") && !strings.HasSuffix(line, "\\ ") {
		line = line[:len(line)-1]
	}
	if line == "" || line[0] == '#' {
		return rule{}, false
	}
	var r rule
	if line[0] == '!' {
		r.keep, line = true, line[1:]
	}
	if strings.HasSuffix(line, "/") {
		r.dirOnly, line = true, line[:len(line)-1]
	}
	if line == "" {
		return rule{}, false
	}
	anchored := strings.Contains(line, "/")
	line = strings.TrimPrefix(line, "/")
	var b strings.Builder
	if fold {
		b.WriteString("(?i)")
	}
	b.WriteString("(?s)^")
	if !anchored {
		b.WriteString("(?:.*/)?")
	}
	for i := 0; i < len(line); {
		rest := line[i:]
		switch {
		case strings.HasPrefix(rest, "**/") && (i == 0 || line[i-1] == '/'):
			b.WriteString("(?:.*/)?")
			i += 3
		case rest == "**" && (i == 0 || line[i-1] == '/'):
			b.WriteString(".+")
			i += 2
		case rest[0] == '*':
			b.WriteString("[^/]*")
			for i < len(line) && line[i] == '*' {
				i++
			}
		case rest[0] == '?':
			b.WriteString("[^/]")
			i++
		case rest[0] == '[':
			class, n := parseClass(rest)
			if n == 0 {
				return rule{}, false // git lets a pattern with an unclosed bracket match nothing
			}
			b.WriteString(class)
			i += n
		case rest[0] == '\\':
			if len(rest) < 2 {
				return rule{}, false
			}
			b.WriteString(regexp.QuoteMeta(rest[1:2]))
			i += 2
		default:
			j := strings.IndexAny(rest[1:], "*?[\\/") + 1
			if j == 0 {
				j = len(rest)
			}
			b.WriteString(regexp.QuoteMeta(rest[:j]))
			i += j
		}
	}
	b.WriteString("$")
	re, err := regexp.Compile(b.String())
	if err != nil {
		return rule{}, false
	}
	r.re = re
	return r, true
}

// parseClass turns a bracket expression into one of a regular expression and gives its length; 0 when it is not closed.
func parseClass(s string) (string, int) {
	i := 1
	var b strings.Builder
	b.WriteString("[")
	if i < len(s) && (s[i] == '!' || s[i] == '^') {
		b.WriteString("^/") // a negated class does not match a separator
		i++
	}
	for first := true; i < len(s); first = false {
		c := s[i]
		switch {
		case c == ']' && !first:
			return b.String() + "]", i + 1
		case c == '[' && strings.HasPrefix(s[i:], "[:"):
			j := strings.Index(s[i:], ":]")
			if j < 0 {
				return "", 0
			}
			b.WriteString(s[i : i+j+2])
			i += j + 2
			continue
		case c == '\\' && i+1 < len(s):
			b.WriteString("\\" + s[i+1:i+2])
			i += 2
			continue
		case c == '-':
			b.WriteString("-")
		case c == '[' || c == ']' || c == '^' || c == '&' || c == '~' || c == '\\':
			b.WriteString("\\" + string(c))
		default:
			b.WriteByte(c)
		}
		i++
	}
	return "", 0
}

// ignores is the rules of one folder and those above it.
type ignores struct {
	parent *ignores
	dir    string // path below the shop with a slash at its end; empty for the root
	file   string // the .gitignore file, empty when rules are given
	fold   bool
	once   sync.Once
	rules  []rule

	coverOnce sync.Once
	cover     bool
}

// covered tells whether the folder itself, or one above it, is ignored: then only tracked files in it count.
func (g *ignores) covered() bool {
	g.coverOnce.Do(func() {
		if g.dir != "" && g.parent != nil {
			g.cover = g.parent.covered() || g.parent.match(strings.TrimSuffix(g.dir, "/"), true)
		}
	})
	return g.cover
}

func parseRules(data []byte, fold bool) []rule {
	var out []rule
	for _, l := range strings.Split(strings.TrimPrefix(string(data), "\ufeff"), "\n") {
		if r, ok := parseRule(l, fold); ok {
			out = append(out, r)
		}
	}
	return out
}

// match decides whether a path is ignored; the last rule that speaks of it decides, the nearest file first.
// The folder above it is taken not to be ignored.
func (g *ignores) match(path string, dir bool) bool {
	for ; g != nil; g = g.parent {
		g.once.Do(func() {
			if g.file == "" {
				return
			}
			// A .gitignore that is a symbolic link is not followed, as git does not.
			if fi, err := os.Lstat(g.file); err == nil && fi.Mode().IsRegular() {
				if data, err := os.ReadFile(g.file); err == nil {
					g.rules = parseRules(data, g.fold)
				}
			}
		})
		below, ok := strings.CutPrefix(path, g.dir)
		if !ok {
			continue
		}
		for i := len(g.rules) - 1; i >= 0; i-- {
			if r := g.rules[i]; (dir || !r.dirOnly) && r.re.MatchString(below) {
				return !r.keep
			}
		}
	}
	return false
}

// baseIgnores gathers info/exclude and core.excludesFile.
func (r *Repo) baseIgnores() *ignores {
	g := &ignores{fold: r.cfg.ignoreCase}
	add := func(path string) {
		if path == "" {
			return
		}
		if data, err := os.ReadFile(path); err == nil {
			g.rules = append(g.rules, parseRules(data, g.fold)...)
		}
	}
	add(r.cfg.excludesFile) // the later has more say
	add(filepath.Join(r.Git, "info", "exclude"))
	return g
}
