package schedule

import (
	"fmt"
	"testing"
)

func TestDbg(t *testing.T) {
	for _, k := range []int{3, 19, 23, 24, 13, 17} {
		p := bigShop(k, 0)
		o := newOpenTime(p.Calendars[0])
		w := int64(0)
		for _, a := range p.Activities {
			w += a.Work
		}
		m, err := compile(p)
		if err != nil {
			fmt.Println(err)
			continue
		}
		mx := int64(0)
		for i := range p.Activities {
			mx = max(mx, m.tm[i].end(m.lb0[i]))
		}
		fmt.Println(k, len(p.Activities), "work", w, "energy bound", o.first(w), "critical", mx, "horizon", p.Horizon)
	}
}
