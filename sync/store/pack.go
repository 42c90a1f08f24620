package store

import (
	"bufio"
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"sync"
)

// pack is a pack file with its index (version 2), opened when first used.
// Format: git's Documentation/gitformat-pack.
type pack struct {
	base string // pack-<hash>
	path string // without extension

	idx   []byte
	n     int
	f     *os.File
	size  int64
	cache map[int64]object // bases of deltas
	held  int

	found map[Hash]int64 // names known so far, of a pack that has no index yet
}

const (
	ofsDelta = 6
	refDelta = 7
	// maxDepth bounds chains of deltas; git writes at most 4095.
	maxDepth = 4096
	// heldMax bounds the memory for delta bases of one pack.
	heldMax = 8 << 20
	// maxObject refuses sizes that no shop file has, so that a damaged header cannot ask for all memory.
	maxObject = 2 << 30
)

func (p *pack) close() {
	if p.f != nil {
		p.f.Close()
	}
	p.f, p.idx, p.cache, p.held = nil, nil, nil, 0
}

// openIdx reads the pack's index. The pack itself is opened when an object is read from it: a history may have many packs.
func (p *pack) openIdx() error {
	if p.idx != nil || p.found != nil {
		return nil
	}
	idx, err := os.ReadFile(p.path + ".idx")
	if err != nil {
		return Name(err, p.path+".idx")
	}
	if len(idx) < 8+1024+40 || !bytes.Equal(idx[:8], []byte{0xff, 't', 'O', 'c', 0, 0, 0, 2}) {
		return &Error{ErrDamaged, p.path + ".idx", "run: git index-pack " + p.path + ".pack", errors.New("not a pack index of version 2")}
	}
	n := int(binary.BigEndian.Uint32(idx[8+255*4:]))
	if len(idx) < 8+1024+n*28+40 {
		return &Error{ErrDamaged, p.path + ".idx", "run: git index-pack " + p.path + ".pack", errors.New("cut short")}
	}
	p.idx, p.n = idx, n
	return nil
}

func (p *pack) open() error {
	if p.f != nil {
		return nil
	}
	if err := p.openIdx(); err != nil {
		return err
	}
	f, err := os.Open(p.path + ".pack")
	if err != nil {
		return err
	}
	fi, err := f.Stat()
	if err != nil {
		f.Close()
		return err
	}
	p.f, p.size = f, fi.Size()
	return nil
}

func (p *pack) name(i int) []byte { return p.idx[8+1024+i*20 : 8+1024+i*20+20] }

// lookup finds where an object starts in the pack.
func (p *pack) lookup(h Hash) (int64, bool, error) {
	if p.found != nil {
		off, ok := p.found[h]
		return off, ok, nil
	}
	if err := p.openIdx(); err != nil {
		return 0, false, err
	}
	lo := 0
	if h[0] > 0 {
		lo = int(binary.BigEndian.Uint32(p.idx[8+(int(h[0])-1)*4:]))
	}
	hi := int(binary.BigEndian.Uint32(p.idx[8+int(h[0])*4:]))
	if lo > hi || hi > p.n {
		return 0, false, &Error{ErrDamaged, p.path + ".idx", "run: git index-pack " + p.path + ".pack", errors.New("bad fan-out")}
	}
	for lo < hi {
		mid := (lo + hi) / 2
		switch c := bytes.Compare(p.name(mid), h[:]); {
		case c == 0:
			off, err := p.offset(mid)
			return off, err == nil, err
		case c < 0:
			lo = mid + 1
		default:
			hi = mid
		}
	}
	return 0, false, nil
}

func (p *pack) offset(i int) (int64, error) {
	off := int64(binary.BigEndian.Uint32(p.idx[8+1024+p.n*24+i*4:]))
	if off&0x80000000 != 0 {
		at := 8 + 1024 + p.n*28 + int(off&0x7fffffff)*8
		if at+8 > len(p.idx)-40 {
			return 0, &Error{ErrDamaged, p.path + ".idx", "run: git index-pack " + p.path + ".pack", errors.New("bad offset")}
		}
		off = int64(binary.BigEndian.Uint64(p.idx[at:]))
	}
	return off, nil
}

var zlibs = sync.Pool{}
var bufs = sync.Pool{New: func() any { return bufio.NewReaderSize(nil, 4096) }}

// inflate reads exactly size bytes of a zlib stream.
func inflate(r io.Reader, size int64) ([]byte, error) {
	if size < 0 || size > maxObject {
		return nil, fmt.Errorf("object of %d bytes", size)
	}
	var z io.ReadCloser
	var err error
	if got := zlibs.Get(); got != nil {
		z = got.(io.ReadCloser)
		err = z.(zlib.Resetter).Reset(r, nil)
	} else {
		z, err = zlib.NewReader(r)
	}
	if err != nil {
		return nil, err
	}
	// A damaged header may claim any size: memory grows with what is really there.
	var out []byte
	if size <= 1<<20 {
		out = make([]byte, size)
		_, err = io.ReadFull(z, out)
	} else {
		var b bytes.Buffer
		var n int64
		n, err = io.Copy(&b, io.LimitReader(z, size))
		if err == nil && n != size {
			err = io.ErrUnexpectedEOF
		}
		out = b.Bytes()
	}
	if err != nil {
		return nil, err
	}
	var one [1]byte
	if n, err := z.Read(one[:]); n != 0 || (err != nil && err != io.EOF) { // also checks the stream's own sum
		return nil, errors.New("object longer than its header says")
	}
	zlibs.Put(z)
	return out, nil
}

// header reads the kind and size at off, and for deltas the base. It returns where the zlib stream begins.
func (p *pack) header(off int64) (kind byte, size int64, base int64, ref Hash, data int64, err error) {
	if off < 12 || off >= p.size-20 {
		return 0, 0, 0, ref, 0, errors.New("offset outside the pack")
	}
	var buf [64]byte
	n, err := p.f.ReadAt(buf[:], off)
	if err != nil && err != io.EOF {
		return 0, 0, 0, ref, 0, err
	}
	b := buf[:n]
	i := 0
	next := func() byte {
		if i >= len(b) {
			err = io.ErrUnexpectedEOF
			return 0
		}
		i++
		return b[i-1]
	}
	err = nil
	c := next()
	kind = (c >> 4) & 7
	size = int64(c & 15)
	for shift := 4; c&0x80 != 0 && err == nil; shift += 7 {
		c = next()
		if shift > 56 {
			return 0, 0, 0, ref, 0, errors.New("bad size")
		}
		size |= int64(c&0x7f) << shift
	}
	switch kind {
	case ofsDelta:
		c = next()
		d := int64(c & 0x7f)
		for k := 0; c&0x80 != 0 && err == nil && k < 9; k++ {
			c = next()
			d = ((d + 1) << 7) | int64(c&0x7f)
		}
		base = off - d
		if d <= 0 || base < 12 {
			return 0, 0, 0, ref, 0, errors.New("bad delta base")
		}
	case refDelta:
		if i+20 > len(b) {
			return 0, 0, 0, ref, 0, io.ErrUnexpectedEOF
		}
		copy(ref[:], b[i:i+20])
		i += 20
	case 1, 2, 3, 4:
	default:
		err = fmt.Errorf("object of kind %d", kind)
	}
	return kind, size, base, ref, off + int64(i), err
}

func (p *pack) inflateAt(at, size int64) ([]byte, error) {
	r := bufs.Get().(*bufio.Reader)
	defer bufs.Put(r)
	r.Reset(io.NewSectionReader(p.f, at, p.size-20-at))
	return inflate(r, size)
}

// read gives the object at off, following deltas.
func (p *pack) read(o *Objects, off int64, depth int) (Kind, []byte, error) {
	if err := p.open(); err != nil {
		return 0, nil, err
	}
	if x, ok := p.cache[off]; ok {
		return x.kind, x.data, nil
	}
	if depth > maxDepth {
		return 0, nil, errors.New("delta chain without end")
	}
	kind, size, baseOff, ref, at, err := p.header(off)
	if err != nil {
		return 0, nil, err
	}
	data, err := p.inflateAt(at, size)
	if err != nil {
		return 0, nil, err
	}
	if kind < ofsDelta {
		return Kind(kind), data, nil
	}
	var k Kind
	var base []byte
	if kind == ofsDelta {
		k, base, err = p.read(o, baseOff, depth+1)
	} else if bo, ok, lerr := p.lookup(ref); lerr != nil || !ok {
		if err = lerr; err == nil {
			k, base, err = o.get(ref)
		}
	} else {
		baseOff = bo
		k, base, err = p.read(o, bo, depth+1)
	}
	if err != nil {
		return 0, nil, err
	}
	if baseOff != 0 && len(base) < heldMax/4 {
		if p.cache == nil || p.held > heldMax {
			p.cache, p.held = map[int64]object{}, 0
		}
		if _, ok := p.cache[baseOff]; !ok {
			p.cache[baseOff] = object{k, base}
			p.held += len(base)
		}
	}
	out, err := applyDelta(base, data)
	return k, out, err
}

var errDelta = errors.New("bad delta")

// applyDelta builds an object from its base and a delta.
func applyDelta(base, d []byte) ([]byte, error) {
	varint := func() (int64, bool) {
		var v int64
		for s := 0; s < 63; s += 7 {
			if len(d) == 0 {
				return 0, false
			}
			c := d[0]
			d = d[1:]
			v |= int64(c&0x7f) << s
			if c&0x80 == 0 {
				return v, true
			}
		}
		return 0, false
	}
	from, ok := varint()
	if !ok || from != int64(len(base)) {
		return nil, errDelta
	}
	to, ok := varint()
	if !ok || to > maxObject {
		return nil, errDelta
	}
	out := make([]byte, 0, min(to, 1<<20))
	for len(d) > 0 {
		c := d[0]
		d = d[1:]
		switch {
		case c&0x80 != 0:
			var off, n int64
			for i := range 7 {
				if c&(1<<i) == 0 {
					continue
				}
				if len(d) == 0 {
					return nil, errDelta
				}
				if i < 4 {
					off |= int64(d[0]) << (8 * i)
				} else {
					n |= int64(d[0]) << (8 * (i - 4))
				}
				d = d[1:]
			}
			if n == 0 {
				n = 0x10000
			}
			if off+n > int64(len(base)) || int64(len(out))+n > to {
				return nil, errDelta
			}
			out = append(out, base[off:off+n]...)
		case c == 0:
			return nil, errDelta
		default:
			if int(c) > len(d) || int64(len(out))+int64(c) > to {
				return nil, errDelta
			}
			out = append(out, d[:c]...)
			d = d[c:]
		}
	}
	if int64(len(out)) != to {
		return nil, errDelta
	}
	return out, nil
}
