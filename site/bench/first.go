package bench

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/plan"
	"caul/job/proof"
)

type firstView struct {
	Timers  []timerView
	OnBench []choiceView
	CanDo   []choiceView
	More    []choiceView // as CanDo: one tap away, so that a phone need not be rolled past them
	Longer  []choiceView // ready, but does not fit the time
	Next    []nextView
	Blocked []blockedView
	Later   []blockedView // as Blocked
	Checks  []plan.DueCheck
	Doubts  []string
	Jobs    []*job.Job
	Last    *lastView
	For     int
	Choices []choiceOf
	Nothing string // why there is nothing to do
	Open    bool
	OpensAt string
	Finish  string
	Feed    string
}

// choiceOf is a span of time one may say one has.
type choiceOf struct {
	Minutes int
	Text    string
}

// choices are the spans that have a button.
func choices() []choiceOf {
	var out []choiceOf
	for _, m := range []int{15, 30, 50, 90, 180} {
		c := choiceOf{Minutes: m}
		switch h := m / 60; {
		case h == 0:
			c.Text = fmt.Sprintf("%d %s", m, words["min"])
		case m%60 == 0:
			c.Text = fmt.Sprintf("%d %s", h, words["h"])
		default:
			c.Text = fmt.Sprintf("%d %s %02d", h, words["h"], m%60)
		}
		out = append(out, c)
	}
	return out
}

type timerView struct {
	plan.Timer
	JobName string
	ReadyAt string
	Unix    int64 // milliseconds, for the page's countdown
	Left    string
	Over    bool
	Held    string
	Clamped bool
	Acts    *actsView
}

type choiceView struct {
	plan.Choice
	JobName  string
	LatestAt string
	Acts     *actsView
}

type blockedView struct {
	plan.Blocked
	JobName string
	UntilAt string
}

type nextView struct{ Job, Step, Name, JobName, At string }

// lastView is the newest entry, for taking it back.
type lastView struct{ Job, Entry, What, At string }

// actsView is what can be tapped about a step. All buttons stand in the page;
// those that make no sense in the step's state are hidden, so that a page that
// has lost the network can go on from one to the next.
type actsView struct {
	Job, Step string
	State     string // ready, bench, clamps, curing, done, aside, waiting
	GlueUp    bool
	Over      bool // what it waits for is over
	Path      string
}

var stateWord = map[job.State]string{
	job.Waiting: "waiting", job.Ready: "ready", job.OnBench: "bench", job.InClamps: "clamps",
	job.Curing: "curing", job.Done: "done", job.Aside: "aside",
}

func acts(shop *job.Shop, jobID, step string, st job.State, over bool, path string) *actsView {
	a := &actsView{Job: jobID, Step: step, State: stateWord[st], Over: over, Path: path}
	if j := shop.Job(jobID); j != nil {
		if s := j.Step(step); s != nil {
			a.GlueUp = s.GlueUp != nil
		}
	}
	return a
}

// minutesFor is the time somebody says they have, of the choices the page
// offers or any other sensible number.
func minutesFor(r *http.Request) int {
	n, err := strconv.Atoi(r.URL.Query().Get("for"))
	if err != nil || n < 0 || n > 24*60 {
		return 0
	}
	return n
}

func (s *Server) now(shop *job.Shop, minutes int) (*plan.Now, error) {
	return plan.At(shop, s.cfg.Now(), measure.SpanOf(time.Duration(minutes)*time.Minute), s.planned())
}

func (s *Server) first(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	z := zone(shop)
	v := firstView{For: minutesFor(r), Choices: choices(), Jobs: shop.Jobs, Last: s.last(shop), Feed: "/calendar.ics"}
	if s.door.asks && s.door.open(r, s.cfg.Now()) {
		v.Feed += "?key=" + s.door.feed()
	}
	n, err := s.now(shop, v.For)
	if err != nil {
		v.Doubts = append(v.Doubts, err.Error())
		n = &plan.Now{At: s.cfg.Now()}
	}
	v.Open, v.Checks = n.Open, n.Checks
	v.Doubts = append(v.Doubts, n.Doubts...)
	if !n.Finish.IsZero() {
		v.Finish = dayTime(n.Finish, z)
	}
	if !n.Open && !n.Next.IsZero() {
		v.OpensAt = dayTime(n.Next, z)
	}
	path := r.URL.RequestURI()
	for _, t := range n.Timers {
		v.Timers = append(v.Timers, s.timer(shop, t, path))
	}
	choice := func(c plan.Choice) choiceView {
		cv := choiceView{Choice: c, JobName: jobName(shop, c.Job), Acts: acts(shop, c.Job, c.Step, c.State, false, path)}
		if c.State == job.InClamps {
			cv.Acts = nil // scraping, while the clamps are on
		}
		if !c.Latest.IsZero() {
			cv.LatestAt = dayTime(c.Latest, z)
		}
		return cv
	}
	for _, c := range n.OnBench {
		v.OnBench = append(v.OnBench, choice(c))
	}
	for _, c := range n.CanDo {
		switch {
		case c.Off: // the card of the clamps has the button
		case c.Fits || v.For == 0:
			v.CanDo = append(v.CanDo, choice(c))
		default:
			v.Longer = append(v.Longer, choice(c))
		}
	}
	for _, b := range n.Blocked {
		bv := blockedView{Blocked: b, JobName: jobName(shop, b.Job)}
		if !b.Until.IsZero() && !strings.Contains(b.By, b.Until.In(z).Format("15:04")) {
			bv.UntilAt = dayTime(b.Until, z)
		}
		v.Blocked = append(v.Blocked, bv)
	}
	v.CanDo, v.More = firstOf(v.CanDo)
	v.Blocked, v.Later = firstOf(v.Blocked)
	v.Next = s.next(shop)
	v.Nothing = Nothing(shop, len(v.Timers) > 0)
	s.show(w, r, "first", shop.Name, v)
}

// listShown is how much of a list stands open on the first screen.
const listShown = 6

func firstOf[T any](list []T) (open, more []T) {
	if len(list) <= listShown+1 { // one more is no longer than the line that says so
		return list, nil
	}
	return list[:listShown], list[listShown:]
}

// nextShown is how many planned steps the first screen tells.
const nextShown = 4

// next is what the plan has after now.
func (s *Server) next(shop *job.Shop) []nextView {
	p := s.planned()
	if p == nil {
		return nil
	}
	var out []nextView
	for _, it := range p.Items {
		if it.Kind != plan.Bench && it.Kind != plan.ClampsOff || it.Started || !it.From.After(s.cfg.Now()) {
			continue
		}
		name := it.Name
		if it.Kind == plan.ClampsOff {
			name = words["unclamp"] + ": " + name
		}
		out = append(out, nextView{it.Job, it.Step, name, jobName(shop, it.Job), dayTime(it.From, zone(shop))})
		if len(out) == nextShown {
			break
		}
	}
	return out
}

func (s *Server) timer(shop *job.Shop, t plan.Timer, path string) timerView {
	now := s.cfg.Now()
	v := timerView{Timer: t, JobName: jobName(shop, t.Job), ReadyAt: dayTime(t.Ready, zone(shop)),
		Unix: t.Ready.UnixMilli(), Clamped: t.Kind == plan.Clamped, Over: !t.Never && !t.Ready.After(now)}
	v.Left = leftText(t.Ready.Sub(now))
	if t.Never {
		v.Left, v.ReadyAt = words["too-cold"], ""
	}
	var held []string
	for _, c := range shop.Clamps {
		if n := t.Clamps[c.ID]; n > 0 {
			name := c.Name
			if name == "" {
				name = c.ID
			}
			held = append(held, fmt.Sprintf("%d %s", n, name))
		}
	}
	v.Held = strings.Join(held, ", ")
	if t.Kind == plan.Clamped {
		v.Acts = acts(shop, t.Job, t.Step, job.InClamps, v.Over, path)
	}
	return v
}

// lastFor is how long an entry is offered for taking back on the first screen.
const lastFor = 12 * time.Hour

func (s *Server) last(shop *job.Shop) *lastView {
	var best *lastView
	var at time.Time
	for _, j := range shop.Jobs {
		e := s.lastEntry(j)
		if e == nil || s.cfg.Now().Sub(e.WrittenAt()) > lastFor || !e.WrittenAt().After(at) {
			continue
		}
		at = e.WrittenAt()
		best = &lastView{Job: j.ID, Entry: e.ID, What: entryWords(j, e), At: e.Time.In(zone(shop)).Format("15:04")}
	}
	return best
}

// lastEntry is the entry of a job that this machine wrote last and that is not
// taken back yet.
func (s *Server) lastEntry(j *job.Job) *job.Entry {
	_, e := job.LastWritten([]*job.Job{j}, s.cfg.Machine)
	return e
}

// entryWords says what an entry tells.
func entryWords(j *job.Job, e *job.Entry) string {
	w, ok := words["did-"+e.Did]
	if !ok {
		w = e.Did
	}
	if e.Did == job.DidNote && len(e.Pictures) > 0 {
		w = words["picture"]
	}
	about := e.Item
	if st := j.Step(e.Step); st != nil {
		about = stepName(st)
	} else if c := j.Check(e.Check); c != nil {
		about = c.Measure
	}
	if about != "" {
		w += ": " + about
	}
	return w
}

func stepName(st *job.Step) string {
	if st.Name == "" {
		return st.ID
	}
	return st.Name
}

// leftText writes a time left as the page's script does, so that nothing
// jumps when the script takes over.
func leftText(d time.Duration) string {
	if d <= 0 {
		return words["over"]
	}
	m := int((d + time.Minute - 1) / time.Minute)
	if m < 60 {
		return fmt.Sprintf("%d %s", m, words["min"])
	}
	return fmt.Sprintf("%d %s %02d %s", m/60, words["h"], m%60, words["min"])
}

// dayTime writes an instant as the shop says it.
func dayTime(t time.Time, z *time.Location) string { return t.In(z).Format("Mon 2 Jan 15:04") }

func jobName(s *job.Shop, id string) string {
	if j := s.Job(id); j != nil {
		return j.Name
	}
	return id
}

func (s *Server) nowJSON(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	n, err := s.now(shop, minutesFor(r))
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	writeJSON(w, n)
}

func (s *Server) calendar(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	p := s.planned()
	if p == nil { // just started, or nothing can be planned
		var err error
		if p, err = plan.Make(r.Context(), shop, s.cfg.Now(), plan.Options{}); err != nil {
			http.Error(w, err.Error(), http.StatusServiceUnavailable)
			return
		}
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	_, _ = w.Write(plan.Calendar(p, plan.CalendarOptions{Shop: shop.Name}))
}

// cautionsOf are the cautions that stand beside a step.
func cautionsOf(shop *job.Shop, j *job.Job, step string) []string {
	return proof.StepCautions(shop, j, step)
}
