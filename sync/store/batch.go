package store

// Batch gathers new objects in memory and writes them as packs: one sync to disk for hundreds of objects. What is gathered
// can be read at once through the Objects it belongs to; it is on disk after Flush.
type Batch struct {
	o    *Objects
	list []Hash
	size int
	dry  bool

	hashOnly bool
}

// batchMax bounds what waits in memory.
const batchMax = 32 << 20

// NewBatch begins a batch. A dry batch never writes.
func (o *Objects) NewBatch(dry bool) *Batch { return &Batch{o: o, dry: dry} }

// HashOnly makes a dry batch forget the content of files, where only their names are asked for.
func (b *Batch) HashOnly() { b.hashOnly = true }

// Add takes an object in, unless it is stored already.
func (b *Batch) Add(k Kind, data []byte) (Hash, error) {
	h := HashOf(k, data)
	ok, err := b.o.Has(h)
	if err != nil || ok {
		return h, err
	}
	b.o.stage(k, data)
	b.list = append(b.list, h)
	b.size += len(data)
	if b.size > batchMax && !b.dry {
		err = b.Flush()
	}
	return h, err
}

// Flush writes what was gathered, synced.
func (b *Batch) Flush() error {
	if b.dry || len(b.list) == 0 {
		return nil
	}
	o := b.o
	err := o.writePack(len(b.list), func(p *packer) error {
		for _, h := range b.list {
			o.mu.Lock()
			x := o.extra[h]
			o.mu.Unlock()
			if err := p.add(h, x.kind, x.data); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	b.Drop()
	return nil
}

// Drop forgets what was gathered and not written.
func (b *Batch) Drop() {
	b.o.mu.Lock()
	defer b.o.mu.Unlock()
	for _, h := range b.list {
		delete(b.o.extra, h)
	}
	b.list, b.size = nil, 0
}

// AddTree adds a folder's listing; an empty one is the empty tree.
func (b *Batch) AddTree(es []TreeEntry) (Hash, error) { return b.Add(Tree, encodeTree(es)) }

// AddCommit adds a commit and fills in its hash.
func (b *Batch) AddCommit(c *CommitInfo) (Hash, error) {
	h, err := b.Add(Commit, c.encode())
	c.Hash = h
	return h, err
}

// Only drops what the commit h does not reach: trees that were made on the way and given up.
func (b *Batch) Only(h Hash) error {
	keep := map[Hash]bool{}
	b.o.mu.Lock()
	mine := make(map[Hash]object, len(b.list))
	for _, l := range b.list {
		mine[l] = b.o.extra[l]
	}
	b.o.mu.Unlock()
	var visit func(h Hash) error
	visit = func(h Hash) error {
		x, ok := mine[h]
		if !ok || keep[h] {
			return nil
		}
		keep[h] = true
		switch x.kind {
		case Commit:
			c, err := parseCommit(x.data)
			if err != nil {
				return err
			}
			for _, p := range append(c.Parents, c.Tree) {
				if err := visit(p); err != nil {
					return err
				}
			}
		case Tree:
			es, err := parseTree(x.data)
			if err != nil {
				return err
			}
			for _, e := range es {
				if err := visit(e.Hash); err != nil {
					return err
				}
			}
		}
		return nil
	}
	if err := visit(h); err != nil {
		return err
	}
	var list []Hash
	b.o.mu.Lock()
	defer b.o.mu.Unlock()
	b.size = 0
	for _, l := range b.list {
		if keep[l] {
			list = append(list, l)
			b.size += len(b.o.extra[l].data)
		} else {
			delete(b.o.extra, l)
		}
	}
	b.list = list
	return nil
}
