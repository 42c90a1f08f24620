package store

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/go-git/go-git/v5/plumbing"
)

// Who is a name, an address and a moment, as a commit keeps them.
type Who struct {
	Name, Email string
	When        time.Time
}

// CommitInfo is a commit.
type CommitInfo struct {
	Hash      Hash
	Tree      Hash
	Parents   []Hash
	Author    Who
	Committer Who
	Message   string
}

func cleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		if r == '<' || r == '>' || r == '\n' || r == 0 {
			return -1
		}
		return r
	}, s)
	s = strings.Trim(s, " .,:;<>\"\\'")
	if s == "" {
		return "unknown"
	}
	return s
}

func (w Who) encode() string {
	_, off := w.When.Zone()
	sign := '+'
	if off < 0 {
		sign, off = '-', -off
	}
	off /= 60
	return fmt.Sprintf("%s <%s> %d %c%02d%02d", cleanName(w.Name), cleanName(w.Email), max(w.When.Unix(), 0), sign, off/60, off%60)
}

func (c *CommitInfo) encode() []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "tree %s\n", c.Tree)
	for _, p := range c.Parents {
		fmt.Fprintf(&b, "parent %s\n", p)
	}
	fmt.Fprintf(&b, "author %s\ncommitter %s\n\n", c.Author.encode(), c.Committer.encode())
	b.WriteString(strings.ReplaceAll(c.Message, "\x00", ""))
	return b.Bytes()
}

func parseWho(s string) (Who, error) {
	i, j := strings.IndexByte(s, '<'), strings.LastIndexByte(s, '>')
	if i < 0 || j < i {
		return Who{}, errors.New("bad author line")
	}
	w := Who{Name: strings.TrimSpace(s[:i]), Email: s[i+1 : j]}
	f := strings.Fields(s[j+1:])
	if len(f) > 0 {
		sec, err := strconv.ParseInt(f[0], 10, 64)
		if err != nil {
			return w, err
		}
		off := 0
		if len(f) > 1 && len(f[1]) == 5 {
			if n, err := strconv.Atoi(f[1][1:]); err == nil {
				off = (n/100*60 + n%100) * 60
				if f[1][0] == '-' {
					off = -off
				}
			}
		}
		w.When = time.Unix(sec, 0).In(time.FixedZone("", off))
	}
	return w, nil
}

func parseCommit(data []byte) (*CommitInfo, error) {
	c := &CommitInfo{}
	s := string(data)
	head, msg, _ := strings.Cut(s, "\n\n")
	c.Message = msg
	seen := false
	for _, l := range strings.Split(head, "\n") {
		k, v, _ := strings.Cut(l, " ")
		var err error
		switch k {
		case "tree":
			seen = len(v) == 40
			c.Tree = plumbing.NewHash(v)
		case "parent":
			if len(v) != 40 {
				return nil, errors.New("bad parent line")
			}
			c.Parents = append(c.Parents, plumbing.NewHash(v))
		case "author":
			c.Author, err = parseWho(v)
		case "committer":
			c.Committer, err = parseWho(v)
		}
		if err != nil {
			return nil, err
		}
	}
	if !seen {
		return nil, errors.New("commit without a tree")
	}
	return c, nil
}
