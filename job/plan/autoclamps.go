package plan

import (
	"caul/job"
	"caul/job/glue"
	"caul/job/measure"
)

// autoClamps chooses clamps for a glue-up with `clamps: auto`, for the plan and
// the glue-up sheet alike: the first kind in shop.yaml that is long enough and
// that has as many as the sheet asks for, else one kind after the other. Spring
// and band clamps press too little to be chosen unasked.
func autoClamps(shop *job.Shop, j *job.Job, up *job.GlueUp, k *glue.Kind) map[string]int {
	usable := usableClamps(shop, j, up)
	b, err := BondOf(j, up)
	if err != nil {
		return lay(usable, 4) // common practice, no source: where the joint's size is not known
	}
	for i := range usable {
		if s := workWith(k, b, up, usable[i:i+1], nil); s != nil && s.Short == 0 && s.Take <= usable[i].Qty {
			return map[string]int{usable[i].ID: max(s.Take, 1)}
		}
	}
	n := 0
	if s := workWith(k, b, up, usable, nil); s != nil {
		n = max(s.Take, 1)
	}
	out := lay(usable, n)
	if s := workWith(k, b, up, usable, out); s != nil && s.Take < n {
		out = lay(usable, max(s.Take, 1)) // those laid out press harder than the rest
	}
	return out
}

// usableClamps are the kinds of clamp that reach over a joint, or where none
// does, those that press and open furthest.
func usableClamps(shop *job.Shop, j *job.Job, up *job.GlueUp) []job.Clamp {
	apart, _ := jawsApart(j, up)
	var longest, reach []job.Clamp
	for _, c := range shop.Clamps {
		if c.Kind == "spring" || c.Kind == "band" || c.Qty == 0 {
			continue
		}
		if reaches(&c, apart) {
			reach = append(reach, c)
		}
		if len(longest) > 0 && c.Opening.Length > longest[0].Opening.Length {
			longest = longest[:0]
		}
		if len(longest) == 0 || c.Opening.Length == longest[0].Opening.Length {
			longest = append(longest, c)
		}
	}
	if len(reach) > 0 {
		return reach
	}
	return longest
}

// reaches says whether a kind of clamp opens so far; where its opening is not
// known, it is taken to.
func reaches(c *job.Clamp, apart measure.Length) bool {
	return !c.Opening.Set || c.Opening.Length >= apart
}

// workWith works out the sheet with some kinds of clamp, as many as given or
// as there are.
func workWith(k *glue.Kind, b Bond, up *job.GlueUp, clamps []job.Clamp, number map[string]int) *glue.Sheet {
	ask := glue.Ask{Glue: k, Bond: b.Area, Lines: b.Lines, Length: b.Long, Width: b.Wide, ToLine: b.ToLine, Caul: up.Caul.Length}
	for _, c := range clamps {
		n := c.Qty
		if number != nil {
			n = number[c.ID]
		}
		if n > 0 {
			own(&ask, c, n)
		}
	}
	s, err := glue.Work(ask)
	if err != nil {
		return nil
	}
	return s
}

// own adds clamps of a kind to what a glue-up may use.
func own(ask *glue.Ask, c job.Clamp, n int) {
	ask.Owned = append(ask.Owned, glue.Owned{Kind: c.Kind, Count: n, Force: measure.Force(c.Force)})
	if c.Pad.Set && (ask.Pad == 0 || c.Pad.Length < ask.Pad) {
		ask.Pad = c.Pad.Length
	}
}

// lay takes so many clamps, one kind after the other.
func lay(clamps []job.Clamp, n int) map[string]int {
	out := map[string]int{}
	for _, c := range clamps {
		if k := min(n, c.Qty); k > 0 {
			out[c.ID] = k
			n -= k
		}
	}
	return out
}
