package store

import (
	"bufio"
	"bytes"
	"compress/flate"
	"compress/zlib"
	"crypto/sha1"
	"encoding/binary"
	"errors"
	"fmt"
	"hash"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"sort"
)

// packer writes the entries of a pack to a stream and notes where each went.
type packer struct {
	w    *bufio.Writer
	sum  hash.Hash
	off  int64
	crc  uint32
	done []packed
	z    *zlib.Writer // best-speed deflater, kept between objects
	z0   *zlib.Writer // stores without deflating
}

type packed struct {
	h   Hash
	crc uint32
	off int64
}

func newPacker(w io.Writer, count int) (*packer, error) {
	p := &packer{w: bufio.NewWriterSize(w, 1<<16), sum: sha1.New()}
	var head [12]byte
	copy(head[:], "PACK")
	binary.BigEndian.PutUint32(head[4:], 2)
	binary.BigEndian.PutUint32(head[8:], uint32(count))
	_, err := p.Write(head[:])
	return p, err
}

// Write passes bytes on and counts them in.
func (p *packer) Write(b []byte) (int, error) {
	p.sum.Write(b)
	p.crc = crc32.Update(p.crc, crc32.IEEETable, b)
	p.off += int64(len(b))
	return p.w.Write(b)
}

func (p *packer) entry(k byte, size int64) error {
	p.crc = 0
	var b [16]byte
	i := 0
	c := k<<4 | byte(size&15)
	for size >>= 4; size > 0; size >>= 7 {
		b[i] = c | 0x80
		i++
		c = byte(size & 0x7f)
	}
	b[i] = c
	_, err := p.Write(b[:i+1])
	return err
}

// pressed tells content that will not get smaller: photos come deflated already.
func pressed(data []byte) bool {
	return bytes.HasPrefix(data, []byte("\xff\xd8\xff")) || bytes.HasPrefix(data, []byte("\x89PNG")) ||
		bytes.HasPrefix(data, []byte("PK\x03\x04")) || (len(data) > 12 && string(data[8:12]) == "WEBP")
}

func (p *packer) add(h Hash, k Kind, data []byte) error {
	at := p.off
	if err := p.entry(byte(k), int64(len(data))); err != nil {
		return err
	}
	var z *zlib.Writer
	if pressed(data) {
		if p.z0 == nil {
			p.z0, _ = zlib.NewWriterLevel(nil, flate.NoCompression)
		}
		z = p.z0
	} else {
		if p.z == nil {
			p.z, _ = zlib.NewWriterLevel(nil, flate.BestSpeed)
		}
		z = p.z
	}
	z.Reset(p)
	if _, err := z.Write(data); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	p.done = append(p.done, packed{h, p.crc, at})
	return nil
}

// copyFrom takes an entry over from another pack as it stands when it is whole in itself; a delta is resolved first.
// The content is checked against its name on the way.
func (p *packer) copyFrom(o *Objects, h Hash) error {
	o.mu.Lock()
	defer o.mu.Unlock()
	k, data, err := o.get(h)
	if err != nil {
		return err
	}
	if len(data) > 4096 { // for small ones deflating anew is cheaper than the second look
		if q, off, err := o.find(h); err == nil && q != nil {
			if q.open() != nil {
				return p.add(h, k, data)
			}
			if kind, size, _, _, at, err := q.header(off); err == nil && kind < ofsDelta {
				if end, ok := q.end(off); ok {
					raw := make([]byte, end-at)
					if _, err := q.f.ReadAt(raw, at); err == nil {
						// The bytes that were read may differ from those checked: check these.
						if again, err := inflate(bytes.NewReader(raw), size); err == nil && bytes.Equal(again, data) {
							start := p.off
							if err := p.entry(kind, size); err != nil {
								return err
							}
							if _, err := p.Write(raw); err != nil {
								return err
							}
							p.done = append(p.done, packed{h, p.crc, start})
							return nil
						}
					}
				}
			}
		}
	}
	return p.add(h, k, data)
}

// end finds where the entry at off ends: at the next entry's start.
func (p *pack) end(off int64) (int64, bool) {
	best := p.size - 20
	for i := range p.n {
		if o, err := p.offset(i); err == nil && o > off && o < best {
			best = o
		}
	}
	return best, best > off
}

// finish writes the pack's sum and returns it.
func (p *packer) finish() (Hash, error) {
	var h Hash
	p.sum.Sum(h[:0])
	if _, err := p.w.Write(h[:]); err != nil {
		return h, err
	}
	return h, p.w.Flush()
}

// encodeIdx writes a pack index of version 2.
func encodeIdx(done []packed, sum Hash) []byte {
	sort.Slice(done, func(i, j int) bool { return bytes.Compare(done[i].h[:], done[j].h[:]) < 0 })
	var b bytes.Buffer
	b.Write([]byte{0xff, 't', 'O', 'c', 0, 0, 0, 2})
	be := binary.BigEndian
	var fan [256]uint32
	for _, d := range done {
		fan[d.h[0]]++
	}
	var total uint32
	var u4 [4]byte
	put := func(v uint32) { be.PutUint32(u4[:], v); b.Write(u4[:]) }
	for _, n := range fan {
		total += n
		put(total)
	}
	for _, d := range done {
		b.Write(d.h[:])
	}
	for _, d := range done {
		put(d.crc)
	}
	var far []int64
	for _, d := range done {
		if d.off >= 1<<31 {
			put(1<<31 | uint32(len(far)))
			far = append(far, d.off)
			continue
		}
		put(uint32(d.off))
	}
	for _, f := range far {
		put(uint32(f >> 32))
		put(uint32(f))
	}
	b.Write(sum[:])
	s := sha1.Sum(b.Bytes())
	b.Write(s[:])
	return b.Bytes()
}

// StreamPack writes the named objects as a pack, for a network.
func (o *Objects) StreamPack(w io.Writer, list []Hash) error {
	p, err := newPacker(w, len(list))
	if err != nil {
		return err
	}
	for _, h := range list {
		if err := p.copyFrom(o, h); err != nil {
			return err
		}
	}
	_, err = p.finish()
	return err
}

// CopyFrom stores the named objects of another repository here as one pack: all of them or, after any trouble, none.
func (o *Objects) CopyFrom(src *Objects, list []Hash) error {
	if len(list) == 0 {
		return nil
	}
	return o.writePack(len(list), func(p *packer) error {
		for _, h := range list {
			if err := p.copyFrom(src, h); err != nil {
				return err
			}
		}
		return nil
	})
}

// CopyPacks takes over whole packs of another repository, byte for byte, where nearly all of a pack is needed: a first copy
// then costs what copying its files costs. It returns what is still needed.
func (o *Objects) CopyPacks(src *Objects, need []Hash) ([]Hash, error) {
	const few = 500 // below, going object by object is as quick and leaves one pack
	if len(need) < few {
		return need, nil
	}
	want := make(map[Hash]bool, len(need))
	for _, h := range need {
		want[h] = true
	}
	src.mu.Lock()
	defer src.mu.Unlock()
	if err := src.rescan(); err != nil {
		return nil, err
	}
	for _, p := range src.packs {
		if err := p.openIdx(); err != nil {
			return nil, err
		}
		var h Hash
		hits := 0
		for i := range p.n {
			copy(h[:], p.name(i))
			if want[h] {
				hits++
			}
		}
		if hits < few || hits*10 < p.n*9 {
			continue
		}
		if err := p.open(); err != nil {
			return nil, err
		}
		if err := o.copyPack(p); err != nil {
			return nil, err
		}
		for i := range p.n {
			copy(h[:], p.name(i))
			delete(want, h)
		}
	}
	rest := need[:0:0]
	for _, h := range need {
		if want[h] {
			rest = append(rest, h)
		}
	}
	return rest, nil
}

// copyPack copies a pack, checking its own sum and that of its index on the way.
func (o *Objects) copyPack(p *pack) error {
	bad := func(ext, what string) error {
		return &Error{ErrDamaged, p.path + ext, "git fsck there lists the damage; sync with another remote or machine that still has everything", errors.New(what)}
	}
	if s := sha1.Sum(p.idx[:len(p.idx)-20]); !bytes.Equal(s[:], p.idx[len(p.idx)-20:]) {
		return bad(".idx", "its sum is wrong")
	}
	dir := filepath.Join(o.Dir, "pack")
	if err := MakeBelow(o.disk, o.Dir, dir, 0o777); err != nil {
		return Name(err, dir)
	}
	tmp := filepath.Join(dir, "tmp_pack_"+nonce())
	f, err := o.disk.Create(tmp, 0o644)
	if err != nil {
		return Name(err, dir)
	}
	sum := sha1.New()
	_, err = io.CopyBuffer(io.MultiWriter(onlyWriter{f}, sum), io.NewSectionReader(p.f, 0, p.size-20), make([]byte, 1<<20))
	var end, got Hash
	sum.Sum(got[:0])
	if err == nil {
		if _, err = p.f.ReadAt(end[:], p.size-20); err == nil && (end != got || !bytes.Equal(end[:], p.idx[len(p.idx)-40:len(p.idx)-20])) {
			err = bad(".pack", "its sum is wrong")
		}
	}
	if err == nil {
		_, err = f.Write(end[:])
	}
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		_ = o.disk.Remove(tmp)
		return Name(err, dir)
	}
	return o.install(tmp, p.idx, end)
}

func (o *Objects) writePack(count int, fill func(*packer) error) error {
	dir := filepath.Join(o.Dir, "pack")
	if err := MakeBelow(o.disk, o.Dir, dir, 0o777); err != nil {
		return Name(err, dir)
	}
	tmp := filepath.Join(dir, "tmp_pack_"+nonce())
	f, err := o.disk.Create(tmp, 0o644)
	if err != nil {
		return Name(err, dir)
	}
	p, err := newPacker(f, count)
	if err == nil {
		err = fill(p)
	}
	var sum Hash
	if err == nil {
		sum, err = p.finish()
	}
	if err == nil && len(p.done) != count {
		err = fmt.Errorf("pack of %d objects got %d", count, len(p.done))
	}
	if err == nil {
		err = f.Sync()
	}
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		_ = o.disk.Remove(tmp)
		return Name(err, dir)
	}
	return o.install(tmp, encodeIdx(p.done, sum), sum)
}

// install gives a synced pack its name: the pack first, then the index that makes it visible.
func (o *Objects) install(tmp string, idx []byte, sum Hash) error {
	dir := filepath.Join(o.Dir, "pack")
	base := filepath.Join(dir, "pack-"+sum.String())
	if exists(base+".idx") && exists(base+".pack") {
		_ = o.disk.Remove(tmp)
		return nil
	}
	itmp, err := writeTemp(o.disk, filepath.Join(dir, "tmp_idx"), idx, 0o644)
	if err == nil {
		err = o.disk.Rename(tmp, base+".pack")
	}
	if err == nil {
		err = o.disk.Rename(itmp, base+".idx")
	}
	if err == nil {
		err = o.disk.SyncDir(dir)
	}
	if err != nil {
		_ = o.disk.Remove(tmp)
		if itmp != "" {
			_ = o.disk.Remove(itmp)
		}
		return Name(err, dir)
	}
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.rescan()
}

// Tidy removes what interrupted writes left in the pack folder. Call it only under the lock of the shop.
func (o *Objects) Tidy() {
	dir := filepath.Join(o.Dir, "pack")
	names, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, n := range names {
		if s := n.Name(); len(s) == len("tmp_pack_")+12 && s[:9] == "tmp_pack_" || len(s) > 8 && s[:8] == "tmp_idx." {
			_ = o.disk.Remove(filepath.Join(dir, s))
		}
	}
}
