package schedule

// Lemmas on what set-up changes take in all, by plain counting.

// entries counts the states of the set-ups of a resource that have to be
// entered at least once, and the least time for that.
func (c *replay) entries(r int) (time, count int64) {
	for k, su := range c.p.Setups {
		for s := range su.Change {
			need := su.Resource == r && s != su.Initial
			asked := false
			for _, a := range c.p.Activities {
				for _, st := range a.States {
					if st.Setup == k && st.State == s {
						asked = true
						need = need && a.Fixed == nil
					}
				}
			}
			if !need || !asked {
				continue
			}
			least := int64(-1)
			for from := range su.Change {
				if v := su.Change[from][s]; from != s && (least < 0 || v < least) {
					least = v
				}
			}
			time += least
			count++
		}
	}
	return time, count
}

// tooMuch reports whether the work on a resource, with changes of the time
// given, does not fit the hours before the finish.
func (c *replay) tooMuch(r int, changes, finish int64) bool {
	cal, users := Always, 0
	for _, a := range c.p.Activities {
		if len(a.States) > 0 && a.Fixed == nil && c.p.Setups[a.States[0].Setup].Resource == r {
			if users > 0 && a.Calendar != cal {
				return false
			}
			cal = a.Calendar
			users++
		}
	}
	work := changes
	for i, a := range c.p.Activities {
		if a.Fixed == nil && a.Stretch == nil && a.Calendar == cal && c.qty(r, i, i) > 0 {
			if c.lb[2*i] < 0 {
				return false
			}
			work += a.Work
		}
	}
	return users > 0 && c.p.Resources[r].Capacity == 1 && c.openTicks(cal, 0, finish) < work
}
