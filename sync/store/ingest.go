package store

import (
	"bufio"
	"bytes"
	"crypto/sha1"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
)

// Ingest stores a pack that comes from a network. It is visible only once all of it arrived, every object in it could be
// read, and every delta found its base.
func (o *Objects) Ingest(r io.Reader) error {
	dir := filepath.Join(o.Dir, "pack")
	if err := MakeBelow(o.disk, o.Dir, dir, 0o777); err != nil {
		return Name(err, dir)
	}
	tmp := filepath.Join(dir, "tmp_pack_"+nonce())
	f, err := o.disk.Create(tmp, 0o644)
	if err != nil {
		return Name(err, dir)
	}
	_, err = io.Copy(onlyWriter{f}, r)
	var done []packed
	var sum Hash
	if err == nil {
		done, sum, err = o.indexPack(f, tmp)
	}
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil || len(done) == 0 {
		_ = o.disk.Remove(tmp)
		return Name(err, dir)
	}
	return o.install(tmp, encodeIdx(done, sum), sum)
}

// onlyWriter keeps io.Copy from going round the Disk's own Write.
type onlyWriter struct{ io.Writer }

// counted reads bytes one by one or in blocks, and sums what was read.
type counted struct {
	r   *bufio.Reader
	n   int64
	crc uint32
	sum hash.Hash
}

func (c *counted) Read(b []byte) (int, error) {
	n, err := c.r.Read(b)
	c.took(b[:n])
	return n, err
}

// ReadByte makes the inflater take exactly the bytes it needs.
func (c *counted) ReadByte() (byte, error) {
	b, err := c.r.ReadByte()
	if err == nil {
		c.took([]byte{b})
	}
	return b, err
}

func (c *counted) took(b []byte) {
	c.n += int64(len(b))
	c.crc = crc32.Update(c.crc, crc32.IEEETable, b)
	c.sum.Write(b)
}

// indexPack reads a pack from beginning to end and works out the name of every object in it.
func (o *Objects) indexPack(f io.ReaderAt, path string) ([]packed, Hash, error) {
	bad := func(what string) ([]packed, Hash, error) {
		return nil, Hash{}, fmt.Errorf("the incoming pack is damaged: %s", what)
	}
	c := &counted{r: bufio.NewReaderSize(io.NewSectionReader(f, 0, 1<<62), 1<<16), sum: sha1.New()}
	var head [12]byte
	if _, err := io.ReadFull(c, head[:]); err != nil {
		return bad("cut short")
	}
	version := binary.BigEndian.Uint32(head[4:])
	if !bytes.Equal(head[:4], []byte("PACK")) || version != 2 && version != 3 {
		return bad("not a pack")
	}
	count := int(binary.BigEndian.Uint32(head[8:]))
	type delta struct {
		at   int // in done
		kind byte
	}
	var done []packed
	var deltas []delta
	known := map[Hash]int64{}
	for range count {
		start := c.n
		c.crc = 0
		b, err := c.ReadByte()
		if err != nil {
			return bad("cut short")
		}
		kind, size := (b>>4)&7, int64(b&15)
		for shift := 4; b&0x80 != 0; shift += 7 {
			if b, err = c.ReadByte(); err != nil || shift > 56 {
				return bad("an object's header")
			}
			size |= int64(b&0x7f) << shift
		}
		switch kind {
		case ofsDelta:
			for k := 0; ; k++ {
				if b, err = c.ReadByte(); err != nil || k > 9 {
					return bad("an object's header")
				}
				if b&0x80 == 0 {
					break
				}
			}
		case refDelta:
			var h Hash
			if _, err := io.ReadFull(c, h[:]); err != nil {
				return bad("cut short")
			}
		case 1, 2, 3, 4:
		default:
			return bad("an object of unknown kind")
		}
		data, err := inflate(c, size)
		if err != nil {
			return bad(err.Error())
		}
		p := packed{crc: c.crc, off: start}
		if kind < ofsDelta {
			p.h = HashOf(Kind(kind), data)
			known[p.h] = start
		} else {
			deltas = append(deltas, delta{len(done), kind})
		}
		done = append(done, p)
	}
	var sum, want Hash
	c.sum.Sum(sum[:0])
	if _, err := io.ReadFull(c.r, want[:]); err != nil || want != sum {
		return bad("its sum is wrong")
	}
	if len(deltas) == 0 {
		return done, sum, nil
	}
	// Deltas are read through a pack whose names are not all known yet: bases by place always, by name as they become known.
	src, err := os.Open(path)
	if err != nil {
		return nil, sum, err
	}
	defer src.Close()
	p := &pack{path: path, f: src, size: c.n + 20, found: known}
	o.mu.Lock()
	defer o.mu.Unlock()
	for len(deltas) > 0 {
		var later []delta
		for _, d := range deltas {
			k, data, err := p.read(o, done[d.at].off, 0)
			if errors.Is(err, ErrMissing) && d.kind == refDelta {
				later = append(later, d)
				continue
			}
			if err != nil {
				return bad(err.Error())
			}
			h := HashOf(k, data)
			done[d.at].h = h
			known[h] = done[d.at].off
		}
		if len(later) == len(deltas) {
			return bad("the base of a delta is missing")
		}
		deltas = later
	}
	return done, sum, nil
}

// Complete checks that a commit and everything it reaches is here, down to the commits that are known to be complete.
func (o *Objects) Complete(tip Hash, known []Hash) error {
	cs, err := Since(o.GetCommit, []Hash{tip}, known)
	if err != nil {
		return err
	}
	list, err := o.ObjectsOf(cs)
	if err != nil {
		return err
	}
	for _, h := range list {
		ok, err := o.Has(h)
		if err != nil {
			return err
		}
		if !ok {
			return missing(h, o.Dir)
		}
	}
	return nil
}
