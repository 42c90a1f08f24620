package remote

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/format/pktline"

	"caul/sync/store"
)

// The smart protocol of git, version 0 (git's Documentation/gitprotocol-pack). The same bytes go through ssh, through https
// and between two benches.

const agent = "agent=caul"

// pkts reads packet lines. After the last one that was asked for, the reader stands at the byte that follows it.
type pkts struct{ r *bufio.Reader }

var errFlush = errors.New("flush")

// next gives one line; errFlush for a flush packet.
func (p pkts) next() ([]byte, error) {
	var head [4]byte
	if _, err := io.ReadFull(p.r, head[:]); err != nil {
		return nil, err
	}
	n := 0
	for _, c := range head {
		d := strings.IndexByte("0123456789abcdef", c|0x20)
		if d < 0 {
			return nil, fmt.Errorf("%w: %q", errNotGit, head[:])
		}
		n = n<<4 | d
	}
	switch {
	case n == 0:
		return nil, errFlush
	case n < 4 || n > 65520:
		return nil, fmt.Errorf("%w: %q", errNotGit, head[:])
	}
	b := make([]byte, n-4)
	_, err := io.ReadFull(p.r, b)
	return b, err
}

var errNotGit = errors.New("not a packet line")

// maxRefs bounds what a server may make us remember.
const maxRefs = 100_000

// readAdvert reads what a server says it has, and what it can do.
func readAdvert(p pkts) (*Advert, map[string]bool, error) {
	ad := &Advert{Refs: map[string]store.Hash{}}
	caps := map[string]bool{}
	first := true
	for {
		b, err := p.next()
		if errors.Is(err, errFlush) {
			return ad, caps, nil
		}
		if err != nil {
			return nil, nil, err
		}
		s := strings.TrimSuffix(string(b), "\n")
		if e, ok := strings.CutPrefix(s, "ERR "); ok {
			return nil, nil, fmt.Errorf("the server says: %s", clip(e))
		}
		if strings.HasPrefix(s, "version ") {
			continue
		}
		if first {
			line, c, _ := strings.Cut(s, "\x00")
			for _, x := range strings.Fields(c) {
				caps[x] = true
				if t, ok := strings.CutPrefix(x, "symref=HEAD:"); ok {
					ad.Head = t
				}
			}
			s, first = line, false
		}
		h, name, ok := strings.Cut(s, " ")
		if !ok || len(h) != 40 || len(ad.Refs) > maxRefs {
			if strings.HasPrefix(s, "shallow ") {
				continue
			}
			return nil, nil, fmt.Errorf("%w: %q", errNotGit, clip(s))
		}
		if name == "capabilities^{}" || name == "HEAD" || strings.HasSuffix(name, "^{}") {
			continue
		}
		ad.Refs[name] = plumbing.NewHash(h)
	}
}

// clip makes a server's words fit for a message.
func clip(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < 32 || r == 127 {
			return ' '
		}
		return r
	}, s)
	if len(s) > 300 {
		s = strings.ToValidUTF8(s[:300], "") + "..."
	}
	return strings.TrimSpace(s)
}

// writeWants asks for a commit and names what we have.
func writeWants(w io.Writer, caps map[string]bool, tip store.Hash, haves []store.Hash) error {
	e := pktline.NewEncoder(w)
	ask := agent
	for _, c := range []string{"side-band-64k", "ofs-delta", "no-progress"} {
		if caps[c] {
			ask += " " + c
		}
	}
	if err := e.Encodef("want %s %s\n", tip, ask); err != nil {
		return err
	}
	if err := e.Flush(); err != nil {
		return err
	}
	for _, h := range haves {
		if err := e.Encodef("have %s\n", h); err != nil {
			return err
		}
	}
	return e.EncodeString("done\n")
}

// readPack reads the answer to writeWants into the store.
func readPack(p pkts, caps map[string]bool, into *store.Objects) error {
	for {
		b, err := p.next()
		if err != nil {
			return err
		}
		s := string(b)
		if e, ok := strings.CutPrefix(s, "ERR "); ok {
			return fmt.Errorf("the server says: %s", clip(e))
		}
		if strings.HasPrefix(s, "NAK") || strings.HasPrefix(s, "ACK ") {
			// git says ACK again for a have that is the parent of the first one it knew.
			if more, err := p.r.Peek(8); err == nil && (string(more[4:]) == "ACK " || string(more[4:]) == "NAK\n") {
				continue
			}
			break
		}
		return fmt.Errorf("%w: %q", errNotGit, clip(s))
	}
	var r io.Reader = p.r
	if caps["side-band-64k"] {
		r = &band{p: p}
	}
	return into.Ingest(r)
}

// band takes the data out of side-band packets. What a hook or server prints goes to text.
type band struct {
	p    pkts
	left []byte
	text bytes.Buffer
	end  bool
}

func (b *band) Read(out []byte) (int, error) {
	for len(b.left) == 0 {
		if b.end {
			return 0, io.EOF
		}
		l, err := b.p.next()
		if errors.Is(err, errFlush) {
			b.end = true
			return 0, io.EOF
		}
		if err == io.EOF {
			err = io.ErrUnexpectedEOF
		}
		if err != nil {
			return 0, err
		}
		if len(l) == 0 {
			continue
		}
		switch l[0] {
		case 1:
			b.left = l[1:]
		case 2:
			if b.text.Len() < 1<<16 {
				b.text.Write(l[1:])
			}
		case 3:
			return 0, fmt.Errorf("the server says: %s", clip(string(l[1:])))
		default:
			return 0, fmt.Errorf("%w: band %q", errNotGit, l[:min(len(l), 40)])
		}
	}
	n := copy(out, b.left)
	b.left = b.left[n:]
	return n, nil
}

// writeUpdate writes the command that moves a ref; the pack follows it.
func writeUpdate(w io.Writer, caps map[string]bool, ref string, old, new store.Hash) error {
	ask := "report-status " + agent
	if caps["side-band-64k"] {
		ask += " side-band-64k"
	}
	e := pktline.NewEncoder(w)
	if err := e.Encodef("%s %s %s\x00 %s\n", old, new, ref, ask); err != nil {
		return err
	}
	return e.Flush()
}

var movedWords = regexp.MustCompile(`fetch first|non-fast-forward|failed to update|cannot lock|but expected|stale info|already exists|reference already|failed to lock`)

// readStatus reads what became of a push.
func readStatus(p pkts, caps map[string]bool, ref, where string) error {
	var side *band
	if caps["side-band-64k"] {
		side = &band{p: p}
		p = pkts{bufio.NewReader(side)}
	}
	said := func() string {
		if side == nil {
			return ""
		}
		return clip(side.text.String())
	}
	unpacked, done := false, false
	for {
		b, err := p.next()
		if errors.Is(err, errFlush) || err == io.EOF && done {
			break
		}
		if err != nil {
			if err == io.EOF {
				err = io.ErrUnexpectedEOF
			}
			return err
		}
		s := strings.TrimSuffix(string(b), "\n")
		switch {
		case s == "unpack ok":
			unpacked = true
		case strings.HasPrefix(s, "unpack "):
			return &store.Error{Kind: ErrRefused, Path: where, Hint: "look at the server's disk and permissions, then sync again", Err: errors.New(clip(s + " " + said()))}
		case s == "ok "+ref:
			done = true
		case strings.HasPrefix(s, "ng "+ref):
			why := clip(strings.TrimPrefix(s, "ng "+ref))
			switch {
			case movedWords.MatchString(why):
				return &store.Error{Kind: store.ErrMoved, Path: where, Hint: "sync again", Err: errors.New(why)}
			case strings.Contains(why, "checked out"):
				return &store.Error{Kind: ErrCheckout, Path: where, Hint: "push to a bare repository, or sync through a stick or caul bench --lan"}
			}
			if t := said(); t != "" {
				why += ": " + t
			}
			return &store.Error{Kind: ErrRefused, Path: where, Hint: "ask whoever keeps the server what it checks", Err: errors.New(why)}
		}
	}
	if !unpacked || !done {
		return &store.Error{Kind: ErrProtocol, Path: where, Hint: "sync again; nothing was lost", Err: errors.New("no word on what became of the push")}
	}
	return nil
}

// haves names commits this store has: all of the newest, then ever fewer, so that a server that knows an old one finds it.
func haves(objs *store.Objects, known []store.Hash) ([]store.Hash, error) {
	cs, err := store.Newest(objs.GetCommit, known, 4096)
	if err != nil {
		return nil, err
	}
	var out []store.Hash
	step, next := 1, 0
	for i, c := range cs {
		if i < 64 || i == next {
			out = append(out, c.Hash)
			if i >= 64 {
				step *= 2
			}
			next = i + step
		}
	}
	if n := len(cs); n > 0 && out[len(out)-1] != cs[n-1].Hash {
		out = append(out, cs[n-1].Hash)
	}
	return out, nil
}
