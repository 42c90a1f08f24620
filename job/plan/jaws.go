package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"caul/job"
	"caul/job/measure"
)

// jawsApart is how far a clamp's jaws stand apart over a joint and its cauls:
// the depth of every part that lies between them, one behind the other, as
// sawn. Thickness counts where faces meet, width where edges do, length at an
// end. sure is false where `bond:` alone leaves open what lies behind what; the
// wider reading is then taken, since a clamp too long still closes.
func jawsApart(j *job.Job, up *job.GlueUp) (apart measure.Length, sure bool) {
	var wood measure.Length
	if len(up.Faces) > 1 {
		wood, sure = jawsByFaces(j, up), true
	} else {
		wood, sure = jawsByBond(j, up)
	}
	if wood == 0 {
		wood, sure = 3*measure.Inch/2, false // two of the 3/4 in that BondOf takes where no part says more
	}
	return wood + 2*up.Caul.Length, sure
}

// depthBehind is how much wood of a part lies behind one of its faces.
func depthBehind(p *job.Part, f job.Face) measure.Length {
	switch f {
	case job.EdgeNear, job.EdgeFar:
		return p.Size[1].Length + p.Oversize.Length
	case job.EndLeft, job.EndRight:
		return p.Size[0].Length + p.Oversize.Length
	}
	return p.Size[2].Length
}

var across = map[job.Face]job.Face{job.FaceTop: job.FaceBack, job.FaceBack: job.FaceTop, job.EdgeNear: job.EdgeFar,
	job.EdgeFar: job.EdgeNear, job.EndLeft: job.EndRight, job.EndRight: job.EndLeft}

// partFace is a face of a kind of part.
type partFace struct {
	part *job.Part
	face job.Face
}

// mostWalks is how many steps are walked from part to part before all of them are taken as one row.
const mostWalks = 20_000

// jawsByFaces walks from part to part through the faces that meet, out at the
// face across from the one come in by, no part more often than there are of
// it, and gives the deepest row.
func jawsByFaces(j *job.Job, up *job.GlueUp) measure.Length {
	meets := map[partFace][]partFace{}
	var starts []partFace
	left := map[string]int{}
	for i := 0; i+1 < len(up.Faces); i += 2 {
		var pair [2]partFace
		for k := range pair {
			id, face, _ := strings.Cut(strings.TrimSpace(up.Faces[i+k]), " ")
			p := j.Part(id)
			if p == nil {
				return 0 // told by BondOf
			}
			f := job.Face(strings.TrimSpace(face))
			if f == "" {
				f = job.FaceTop
			}
			pair[k] = partFace{p, f}
			left[p.ID] = max(p.Qty, 1)
		}
		if pair[0] == pair[1] {
			left[pair[0].part.ID] = max(left[pair[0].part.ID], 2)
		}
		for k, a := range pair {
			if b := pair[1-k]; !slices.Contains(meets[a], b) {
				meets[a] = append(meets[a], b)
				starts = append(starts, a)
			}
		}
	}
	walks := 0
	var walk func(out partFace) measure.Length
	walk = func(out partFace) measure.Length {
		if walks++; walks > mostWalks {
			return 0
		}
		left[out.part.ID]--
		var best measure.Length
		for _, in := range meets[out] {
			if left[in.part.ID] > 0 {
				best = max(best, walk(partFace{in.part, across[in.face]}))
			}
		}
		left[out.part.ID]++
		return best + depthBehind(out.part, out.face)
	}
	var best, all measure.Length
	counted := map[string]bool{}
	for _, s := range starts {
		best = max(best, walk(s))
		if !counted[s.part.ID] {
			counted[s.part.ID] = true
			all += depthBehind(s.part, s.face) * measure.Length(left[s.part.ID])
		}
	}
	if walks > mostWalks {
		return all
	}
	return best
}

// jawsByBond reads from a written bond which way the parts lie. Where it is a
// long side of every part, they lie in one row, one more than there are lines.
// Else they are taken as layers about the deepest: one of each, and a second of
// each other kind that there are two of, as skins about ribs. Of parts whose
// ends it covers the longest stands on its end, as end grain is not glued to
// end grain (common practice, no source).
func jawsByBond(j *job.Job, up *job.GlueUp) (apart measure.Length, sure bool) {
	var ls []layer
	row := true
	onEnd := -1
	for i, id := range up.Joins {
		p := j.Part(id)
		if p == nil || slices.Contains(up.Joins[:i], id) {
			continue
		}
		named := 0
		for _, o := range up.Joins {
			if o == id {
				named++
			}
		}
		f, whole := sideOfBond(p, up)
		row = row && whole
		l := layer{depth: depthBehind(p, f), qty: max(p.Qty, named)}
		if !whole && onSide(p, job.EndLeft, up, true) {
			l.end = depthBehind(p, job.EndLeft)
			if onEnd < 0 || l.end > ls[onEnd].end {
				onEnd = len(ls)
			}
		}
		ls = append(ls, l)
	}
	if onEnd >= 0 {
		ls[onEnd].depth = ls[onEnd].end
	}
	slices.SortStableFunc(ls, func(a, b layer) int { return cmp.Compare(b.depth, a.depth) })
	var sum measure.Length
	if row || len(ls) == 1 {
		n := max(up.Count, 1) + 1
		for _, l := range ls {
			k := min(n, l.qty)
			sum += l.depth * measure.Length(k)
			n -= k
		}
		return sum, row && len(ls) == 1
	}
	for i, l := range ls {
		sum += l.depth
		if i > 0 && l.qty > 1 {
			sum += l.depth
		}
	}
	return sum, false
}

// layer is one kind of part in a stack: how deep, how many there are, and how
// deep where it stands on its end, if it may.
type layer struct {
	depth measure.Length
	qty   int
	end   measure.Length
}

// sideOfBond is the long side of a part that a bond is on: the one that it
// covers whole, else the one with more wood behind it of those it fits on.
func sideOfBond(p *job.Part, up *job.GlueUp) (f job.Face, whole bool) {
	for _, f := range []job.Face{job.FaceTop, job.EdgeNear} {
		if onSide(p, f, up, true) {
			return f, true
		}
	}
	if onSide(p, job.EdgeNear, up, false) && depthBehind(p, job.EdgeNear) > depthBehind(p, job.FaceTop) {
		return job.EdgeNear, false
	}
	return job.FaceTop, false
}

// onSide says whether a bond fits on a side of a part, or covers it whole.
func onSide(p *job.Part, f job.Face, up *job.GlueUp, whole bool) bool {
	u, v := p.Size[0].Length, p.Size[1].Length
	switch f {
	case job.EdgeNear:
		v = p.Size[2].Length
	case job.EndLeft:
		u = p.Size[2].Length
	}
	a, b := up.BondDim[0].Length, up.BondDim[1].Length
	if whole {
		return max(u, v) == max(a, b) && min(u, v) == min(a, b)
	}
	return max(u, v) >= max(a, b) && min(u, v) >= min(a, b)
}

// tooShort says that clamps do not open as far as a joint wants.
func tooShort(shop *job.Shop, c *job.Clamp, apart measure.Length, sure bool) string {
	u := shop.Units.Length
	w := fmt.Sprintf("the jaws stand %s apart over this joint, and the %s open to %s only: take longer ones",
		measure.FormatUnit(apart.Round(u), u), clampName(shop, 2, c.ID), measure.FormatUnit(c.Opening.Length.Round(u), u))
	if !sure {
		w = "as far as `bond:` tells, " + w + ", or write `faces:`, which says what lies behind what"
	}
	return w
}
