package layout

import (
	"cmp"
	"slices"
)

// polish keeps the sheets and rearranges the parts on them for the last two
// levels: one large offcut rather than several small ones, then few fence
// settings. It takes parts out and puts them back as the search does, but
// never leaves one outside.
type polish struct {
	s    *search
	info map[uint32]shape
	seen map[setting]struct{}
}

// shape is what counts of one cut sheet.
type shape struct {
	offcut   int64
	settings []setting
}

type setting struct {
	axis Axis
	at   int64
}

// worth is what a whole layout is worth on the last two levels.
type worth struct {
	offcut   int64
	settings int
}

func (a worth) cmp(b worth) int {
	return cmp.Or(cmp.Compare(b.offcut, a.offcut), cmp.Compare(a.settings, b.settings))
}

// look works out the shape of a bin as it would be cut.
func (o *polish) look(b *bin) shape {
	if sh, ok := o.info[b.stamp]; ok {
		return sh
	}
	in := o.s.in
	st := &in.p.Stocks[b.stock]
	var sh shape
	if b.empty() {
		return sh
	}
	root := in.cuts(b, func(kd int32) int { return in.kinds[kd].parts[0] })
	var walk func(n *Node)
	walk = func(n *Node) {
		if n.Cut == None {
			if n.Part < 0 && in.p.keep(n.Rect) && !in.p.flawed(st, n.Rect) {
				sh.offcut = max(sh.offcut, in.p.sizeOf(n.Rect))
			}
			return
		}
		sh.settings = append(sh.settings, setting{n.Cut, n.At})
		walk(n.Near)
		if n.Far != nil {
			walk(n.Far)
		}
	}
	walk(root)
	o.s.ops += int64(8 * len(b.k))
	if len(o.info) > 4096 {
		clear(o.info)
	}
	o.info[b.stamp] = sh
	return sh
}

func (o *polish) worth(bins []*bin) worth {
	var w worth
	n := 0
	clear(o.seen)
	for _, b := range bins {
		sh := o.look(b)
		w.offcut = max(w.offcut, sh.offcut)
		for _, x := range sh.settings {
			o.seen[x] = struct{}{}
		}
		n += len(sh.settings)
	}
	w.settings = len(o.seen)
	o.s.ops += int64(n / 4)
	return w
}

// value guides the search: besides the worth, leftovers in large pieces, which
// lead to it.
func (o *polish) value(bins []*bin, w worth) float64 {
	in := o.s.in
	sum := 0.0
	for _, b := range bins {
		sum += b.score
	}
	largest := 1.0
	for i := range in.bases {
		largest = max(largest, in.bases[i].area)
	}
	return -float64(w.offcut)/largest + 0.004*float64(w.settings) - float64(0.2*sum*in.scale)
}

const polishLate = 60

// So many rounds without gain, and so many more for each part or group, end
// the polish.
const (
	polishIdle     = 400
	polishIdleEach = 60
)

// polish runs until the work is done, or nothing has been gained for long.
func (s *search) polish() {
	if !s.have || len(s.best) == 0 {
		return
	}
	o := &polish{s: s, info: map[uint32]shape{}, seen: map[setting]struct{}{}}
	// A sheet more may not be opened: the weight is held.
	var cur []*bin
	for i := range s.left {
		s.left[i] = 0
	}
	for _, b := range s.best {
		cur = append(cur, s.copyBin(b, nil))
	}
	for i, b := range s.best {
		b.stamp = cur[i].stamp
	}
	bestWorth := o.worth(s.best)
	v := o.value(cur, bestWorth)
	hist := make([]float64, polishLate)
	for i := range hist {
		hist[i] = v
	}
	// What stays outside stays there.
	var trial state
	var own []bool
	last := 0 // round of the last gain
	for round := 0; !s.over() && round-last <= polishIdle+polishIdleEach*len(s.in.units); round++ {
		s.ops += 8
		trial.bins = append(trial.bins[:0], cur...)
		trial.out, trial.outArea = trial.out[:0], 0
		own = slices.Grow(own[:0], len(cur))[:len(cur)]
		clear(own)
		own = s.ruinSome(&trial, own)
		own = s.recreate(&trial, own, 0)
		ok := len(trial.out) == 0
		var w worth
		var tv float64
		if ok {
			w = o.worth(trial.bins)
			tv = o.value(trial.bins, w)
		}
		h := &hist[round%polishLate]
		if ok && (tv <= *h || tv <= v) {
			for i, b := range cur {
				if own[i] {
					s.free(b)
				}
			}
			cur = append(cur[:0], trial.bins...)
			v = tv
			if w.cmp(bestWorth) < 0 {
				bestWorth, last = w, round
				s.best = s.best[:0]
				for _, b := range cur {
					s.best = append(s.best, s.keepCopy(b))
				}
				if s.onBest != nil {
					s.onBest()
				}
			}
		} else {
			for i, b := range trial.bins {
				if own[i] {
					s.free(b)
				}
			}
		}
		if v < *h {
			*h = v
		}
	}
}
