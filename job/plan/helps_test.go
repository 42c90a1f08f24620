package plan

import (
	"strings"
	"testing"
	"time"
)

// Why Monday and not Saturday, and what would bring it forward, by the sums of
// TestHandWorkedNights with a night of 10 C: the joint may be machined on
// Saturday at 13:20, twenty minutes after the shop shuts, and the trimming is
// done on Monday at 19:20. With the heater on it is cured at 08:20 and trimmed
// on Saturday 09:10-09:30. With the shop open until 14:00 on Saturday it is
// trimmed 13:20-13:40. An hour more on Friday evening changes nothing before
// Saturday: it shuts at 22:30, and the glue is no warmer for it; begun an hour
// sooner, at 18:00, all comes an hour sooner: clamps on 19:20, 160 minutes at
// 20 C, 300 in the night, 260 after 08:00 = 12:20, trimmed 12:20-12:40.
func TestWhyMondayAndWhatHelps(t *testing.T) {
	sh := shopOf(t, handFiles("10 C", handJob))
	now := instant(t, "2026-03-06T17:00:00+01:00")
	p := planOf(t, sh, now, Options{Explain: true, Helps: true})
	at(t, "finish", p.Jobs[0].Finish, "2026-03-09T19:20:00+01:00")
	var chain []string
	for _, l := range p.Chain {
		chain = append(chain, l.Text)
	}
	t.Log(strings.Join(chain, "\n"))
	said := strings.Join(chain, "\n")
	for _, want := range []string{"13:20", "Sat"} {
		if !strings.Contains(said, want) {
			t.Errorf("the chain does not say %q:\n%s", want, said)
		}
	}
	// Every link is an item of the plan, and each begins when the one before it is
	// over or the shop is shut in between.
	for i := 1; i < len(p.Chain); i++ {
		a, b := p.Items[p.Chain[i-1].Item], p.Items[p.Chain[i].Item]
		if b.From.Before(a.From) {
			t.Errorf("link %d begins before link %d", i, i-1)
		}
	}
	want := []struct {
		change, finish string
	}{
		{"the heater on at night", "2026-03-07T09:30:00+01:00"},
		{"one more hour on Fri 6 Mar, from 18:00 on", "2026-03-07T12:40:00+01:00"},
		{"one more hour on Sat 7 Mar, until 14:00", "2026-03-07T13:40:00+01:00"},
	}
	last := -1
	for _, w := range want {
		found := false
		for i, h := range p.Helps {
			if !strings.HasPrefix(h.Change, w.change) {
				continue
			}
			found = true
			at(t, h.Change, h.Finish, w.finish)
			if h.Saves != instant(t, "2026-03-09T19:20:00+01:00").Sub(h.Finish) {
				t.Errorf("%s saves %s", h.Change, h.Saves)
			}
			if i < last {
				t.Errorf("%s stands before something better", h.Change)
			}
			last = i
		}
		if !found {
			t.Errorf("%q is not among %+v", w.change, p.Helps)
		}
	}
	for _, h := range p.Helps {
		if strings.Contains(h.Change, "Fri 6 Mar, until") {
			t.Errorf("an hour later on Friday helps nothing: %+v", h)
		}
		if h.Saves < time.Minute {
			t.Errorf("%+v helps nothing", h)
		}
	}
}
