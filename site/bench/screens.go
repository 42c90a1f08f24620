package bench

import (
	"fmt"
	"html/template"
	"math/rand/v2"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/plan"
	"caul/job/proof"
	"caul/site"
)

func (s *Server) funcs() template.FuncMap {
	return template.FuncMap{
		"t": func(key string) (string, error) {
			w, ok := words[key]
			if !ok {
				return "", fmt.Errorf("no word for %q", key)
			}
			return w, nil
		},
		"dict4": func(job, step, did, label, back string) map[string]string {
			return map[string]string{"job": job, "step": step, "did": did, "label": label, "back": back, "class": did}
		},
		"words": func() map[string]string { return words },
		"id":    newID,
		"class": func(v any) string { return strings.ReplaceAll(fmt.Sprint(v), " ", "-") },
	}
}

// newID is the id of a tap made by a plain form; script makes its own.
func newID() string {
	return strconv.FormatUint(rand.Uint64(), 36) + strconv.FormatUint(rand.Uint64()|1<<63, 36)
}

type pageView struct {
	Title    string
	ShopName string
	Path     string
	Version  int
	ReadOnly bool
	Trouble  string
	V        any
}

func (s *Server) show(w http.ResponseWriter, r *http.Request, name, title string, v any) {
	shop, trouble, version := s.look()
	ro := s.cfg.ReadOnly || !s.door.open(r, s.cfg.Now())
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if r.Header.Get("X-Caul-Part") != "" {
		name += "-part"
	}
	err := s.t.ExecuteTemplate(w, name, pageView{Title: title, ShopName: shop.Name, Path: r.URL.RequestURI(), Version: version, ReadOnly: ro, Trouble: trouble, V: v})
	if err != nil {
		s.cfg.Log.Error("could not draw the page", "why", err)
	}
}

type firstView struct {
	Timers  []timerView
	OnBench []choiceView
	CanDo   []choiceView
	Blocked []blockedView
	Checks  []plan.DueCheck
	Doubts  []string
	Jobs    []*job.Job
	For     int
	Choices []int
	Open    bool
	Finish  string
}

type timerView struct {
	plan.Timer
	JobName string
	ReadyAt string
	Unix    int64 // milliseconds, for the page's countdown
	Left    string
	Over    bool
	Clamped bool
	Held    string
}

type choiceView struct {
	plan.Choice
	JobName string
	GlueUp  bool
}

type blockedView struct {
	plan.Blocked
	JobName string
	UntilAt string
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
	s.mu.Lock()
	p := s.plan
	s.mu.Unlock()
	return plan.At(shop, s.cfg.Now(), measure.SpanOf(time.Duration(minutes)*time.Minute), p)
}

func (s *Server) first(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	v := firstView{For: minutesFor(r), Choices: []int{15, 30, 50, 90, 180}, Jobs: shop.Jobs}
	n, err := s.now(shop, v.For)
	if err != nil {
		v.Doubts = append(v.Doubts, err.Error())
		n = &plan.Now{At: s.cfg.Now()}
	}
	v.Open, v.Checks = n.Open, n.Checks
	v.Doubts = append(v.Doubts, n.Doubts...)
	if !n.Finish.IsZero() {
		v.Finish = n.Finish.In(zone(shop)).Format("Mon 2 Jan 15:04")
	}
	for _, t := range n.Timers {
		v.Timers = append(v.Timers, s.timer(shop, t))
	}
	choice := func(c plan.Choice) choiceView {
		cv := choiceView{Choice: c, JobName: jobName(shop, c.Job)}
		if j := findJob(shop, c.Job); j != nil {
			if st := findStep(j, c.Step); st != nil {
				cv.GlueUp = st.GlueUp != nil
			}
		}
		return cv
	}
	for _, c := range n.OnBench {
		v.OnBench = append(v.OnBench, choice(c))
	}
	for _, c := range n.CanDo {
		if v.For == 0 || c.Fits {
			v.CanDo = append(v.CanDo, choice(c))
		}
	}
	for _, b := range n.Blocked {
		bv := blockedView{Blocked: b, JobName: jobName(shop, b.Job)}
		if !b.Until.IsZero() {
			bv.UntilAt = b.Until.In(zone(shop)).Format("Mon 15:04")
		}
		v.Blocked = append(v.Blocked, bv)
	}
	s.show(w, r, "first", shop.Name, v)
}

func (s *Server) timer(shop *job.Shop, t plan.Timer) timerView {
	now := s.cfg.Now()
	v := timerView{Timer: t, JobName: jobName(shop, t.Job), ReadyAt: t.Ready.In(zone(shop)).Format("Mon 15:04"),
		Unix: t.Ready.UnixMilli(), Over: !t.Ready.After(now), Clamped: t.Kind == plan.Clamped}
	v.Left = leftText(t.Ready.Sub(now))
	var held []string
	for _, c := range shop.Clamps {
		if n := t.Clamps[c.ID]; n > 0 {
			held = append(held, fmt.Sprintf("%d %s", n, c.ID))
		}
	}
	v.Held = strings.Join(held, ", ")
	return v
}

// leftText writes a time left as the page's script does, so that nothing
// jumps when the script takes over.
func leftText(d time.Duration) string {
	if d <= 0 {
		return words["over"]
	}
	m := int((d + time.Minute - 1) / time.Minute)
	if m < 60 {
		return fmt.Sprintf("%d min", m)
	}
	return fmt.Sprintf("%d h %02d min", m/60, m%60)
}

func jobName(s *job.Shop, id string) string {
	if j := findJob(s, id); j != nil {
		return j.Name
	}
	return id
}

type stepView struct {
	Job      *job.Job
	Step     *job.Step
	State    job.State
	Timer    *timerView
	Cautions []string
	Body     template.HTML
	Tasks    []job.Task
	Checks   []job.Check
	OpenTime int64 // seconds
	Doing    []string
}

func (s *Server) step(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	j := findJob(shop, r.PathValue("job"))
	if j == nil {
		http.NotFound(w, r)
		return
	}
	st := findStep(j, r.PathValue("step"))
	if st == nil {
		http.NotFound(w, r)
		return
	}
	states, _ := j.States()
	v := stepView{Job: j, Step: st, State: states[st.ID].State, Cautions: proof.StepCautions(shop, j, st.ID), Checks: j.Checks}
	if n, err := s.now(shop, 0); err == nil {
		for _, t := range n.Timers {
			if t.Job == j.ID && t.Step == st.ID {
				tv := s.timer(shop, t)
				v.Timer = &tv
			}
		}
	}
	var body strings.Builder
	for _, sec := range j.Build.Sections {
		if sec.Step == st.ID {
			body.WriteString(sec.Body + "\n\n")
			v.Tasks = append(v.Tasks, sec.Tasks...)
		}
	}
	html, err := site.Prose(withoutTasks(body.String()), j.Dir, func(file string) string {
		return "/photos/" + j.ID + "/" + path.Base(file)
	})
	if err == nil {
		v.Body = html
	}
	if st.GlueUp != nil {
		v.OpenTime = int64(plan.OpenTime(shop, st.GlueUp, s.cfg.Now()).Duration().Seconds())
	}
	name := st.Name
	if name == "" {
		name = st.ID
	}
	s.show(w, r, "step", name, v)
}

// withoutTasks leaves out task items, which the page draws as buttons.
func withoutTasks(md string) string {
	var out []string
	for _, l := range strings.Split(md, "\n") {
		t := strings.TrimLeft(l, " \t")
		if len(t) > 5 && strings.ContainsAny(t[:1], "-*+") && (strings.HasPrefix(t[1:], " [ ]") || strings.HasPrefix(t[1:], " [x]") || strings.HasPrefix(t[1:], " [X]")) {
			continue
		}
		out = append(out, l)
	}
	return strings.Join(out, "\n")
}

type jobView struct {
	Job    *job.Job
	States map[string]job.StepState
	Log    []logView
}

type logView struct{ When, What, Text string }

// logShown is how many of the newest entries the page shows.
const logShown = 30

func (s *Server) jobPage(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	j := findJob(shop, r.PathValue("job"))
	if j == nil {
		http.NotFound(w, r)
		return
	}
	states, _ := j.States()
	v := jobView{Job: j, States: states}
	for i := len(j.Log) - 1; i >= 0 && len(v.Log) < logShown; i-- {
		e := j.Log[i]
		v.Log = append(v.Log, logView{When: e.Time.In(zone(shop)).Format("Mon 2 Jan 15:04"), What: strings.TrimSpace(e.Did + " " + e.Step + e.Check), Text: e.Text})
	}
	s.show(w, r, "job", j.Name, v)
}

func (s *Server) photo(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	j := findJob(shop, r.PathValue("job"))
	name := r.PathValue("file")
	if j == nil || name != filepath.Base(name) || strings.HasPrefix(name, ".") || !filepath.IsLocal(name) {
		http.NotFound(w, r)
		return
	}
	full := filepath.Join(s.cfg.Dir, filepath.FromSlash(j.Dir), "photos", name)
	if fi, err := os.Lstat(full); err != nil || !fi.Mode().IsRegular() {
		http.NotFound(w, r)
		return
	}
	switch strings.ToLower(filepath.Ext(name)) {
	case ".jpg", ".jpeg", ".png", ".gif", ".webp":
		http.ServeFile(w, r, full)
	default:
		http.NotFound(w, r)
	}
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

func (s *Server) calendar(w http.ResponseWriter, _ *http.Request) {
	shop, _, _ := s.look()
	s.mu.Lock()
	p := s.plan
	s.mu.Unlock()
	if p == nil {
		http.Error(w, "there is no plan yet", http.StatusServiceUnavailable)
		return
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	_, _ = w.Write(plan.Calendar(p, plan.CalendarOptions{Shop: shop.Name}))
}

// events tells the page, by server-sent events, that there is something new.
func (s *Server) events(w http.ResponseWriter, r *http.Request) {
	rc := http.NewResponseController(w)
	_ = rc.SetWriteDeadline(time.Time{}) // this answer goes on
	w.Header().Set("Content-Type", "text/event-stream")
	c := make(chan int, 1)
	s.mu.Lock()
	if len(s.waiters) >= 64 {
		s.mu.Unlock()
		http.Error(w, "too many pages are open", http.StatusServiceUnavailable)
		return
	}
	s.waiters[c] = true
	version := s.version
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		delete(s.waiters, c)
		s.mu.Unlock()
	}()
	fmt.Fprintf(w, "retry: 2000\nevent: look\ndata: %d\n\n", version)
	if rc.Flush() != nil {
		return
	}
	beat := time.NewTicker(15 * time.Second)
	defer beat.Stop()
	for {
		select {
		case <-r.Context().Done():
			return
		case v := <-c:
			fmt.Fprintf(w, "event: look\ndata: %d\n\n", v)
		case <-beat.C:
			fmt.Fprint(w, ": still here\n\n")
		}
		if rc.Flush() != nil {
			return
		}
	}
}

func (s *Server) pairPage(w http.ResponseWriter, r *http.Request) {
	s.pairForm(w, r, "", http.StatusOK)
}

func (s *Server) pairForm(w http.ResponseWriter, r *http.Request, why string, code int) {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	_ = s.t.ExecuteTemplate(w, "pair", struct{ Why, Code string }{why, r.URL.Query().Get("code")})
}

func (s *Server) pair(w http.ResponseWriter, r *http.Request) {
	if !s.door.ours(r) {
		http.Error(w, "not from a page of this shop", http.StatusForbidden)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if err := r.ParseForm(); err != nil {
		http.Error(w, "not a form", http.StatusBadRequest)
		return
	}
	cookie, res := s.door.pair(r.PostForm.Get("code"), s.cfg.Now())
	switch res {
	case paired:
		http.SetCookie(w, cookie)
		http.Redirect(w, r, "/", http.StatusSeeOther)
	case oldCode:
		s.pairForm(w, r, words["pair-old"], http.StatusForbidden)
	case tooMany:
		s.pairForm(w, r, words["pair-many"], http.StatusTooManyRequests)
	default:
		s.pairForm(w, r, words["pair-wrong"], http.StatusForbidden)
	}
}
