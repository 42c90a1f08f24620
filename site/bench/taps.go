package bench

import (
	"encoding/json"
	"errors"
	"mime"
	"net/http"
	"path"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/plan"
)

// tapRequest is one tap as the page sends it. ID is made on the device: the
// device's own name, a hyphen, and a number that is never used again. At and
// Sent are by the device's clock; only what lies between them counts.
type tapRequest struct {
	ID    string    `json:"id"`
	At    time.Time `json:"at"`
	Sent  time.Time `json:"sent"`
	Job   string    `json:"job"`
	Step  string    `json:"step"`
	Did   string    `json:"did"`
	Note  string    `json:"note"`
	Check string    `json:"check"`
	Value string    `json:"value"`
	Air   string    `json:"air"`
	Entry string    `json:"entry"` // to take back: the entry the page showed,
	Of    string    `json:"of"`    // or the id of a tap that came after it
	Text  string    `json:"text"`  // a task's text
	Done  bool      `json:"done"`  // the task is to be ticked
	Back  string    `json:"-"`     // where a plain form goes afterwards
	shows bool      // a picture, which needs no words
}

// Limits on what one request may bring.
const (
	maxTap  = 128 << 10
	maxNote = 64 << 10            // the page takes 16,000 characters, of up to four bytes
	maxAge  = 14 * 24 * time.Hour // how long a tap may wait on a device
)

var tapVerbs = map[string]bool{
	job.DidBegin: true, job.DidClamp: true, job.DidUnclamp: true, job.DidFinish: true, job.DidUndo: true,
	job.DidAside: true, job.DidResume: true, job.DidNote: true, job.DidRead: true, job.DidAir: true, job.DidUse: true,
}

// readTap reads a tap from the page's script (JSON) or from a plain form.
func readTap(w http.ResponseWriter, r *http.Request) (tapRequest, error) {
	var t tapRequest
	r.Body = http.MaxBytesReader(w, r.Body, maxTap)
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	switch kind {
	case "application/json":
		d := json.NewDecoder(r.Body)
		d.DisallowUnknownFields()
		if err := d.Decode(&t); err != nil {
			return t, err
		}
	case "application/x-www-form-urlencoded":
		if err := r.ParseForm(); err != nil {
			return t, err
		}
		t = formTap(r.PostForm.Get)
	default:
		return t, errorOf("no-tap")
	}
	return t, checkTap(t)
}

// formTap reads a tap from the fields of a form.
func formTap(f func(string) string) tapRequest {
	value := f("value")
	if a := f("a"); a != "" { // the three fields of a five-cut reading
		value = strings.Join([]string{a, f("b"), f("l")}, ",")
	}
	return tapRequest{ID: f("id"), Job: f("job"), Step: f("step"), Did: f("did"), Note: f("note"), Check: f("check"), Value: value,
		Air: f("air"), Entry: f("entry"), Text: f("text"), Done: f("done") == "true", Back: f("back")}
}

func checkTap(t tapRequest) error {
	switch {
	case !goodID(t.ID):
		return errorOf("no-id")
	case len(t.Note) > maxNote:
		return errorOf("long-note")
	}
	return nil
}

func goodID(s string) bool {
	if len(s) < 8 || len(s) > 64 {
		return false
	}
	for _, c := range s {
		if (c < '0' || c > '9') && (c < 'a' || c > 'z') && (c < 'A' || c > 'Z') && c != '-' {
			return false
		}
	}
	return true
}

// deviceOf is the device's part of a tap's id; "" for a form's.
func deviceOf(id string) string {
	d, _, ok := strings.Cut(id, "-")
	if !ok {
		return ""
	}
	return d
}

// inOrder is how far a tap's time is moved so that the taps of one device stand
// in the log in the order they were made: the log counts whole seconds, and a
// slow network sets times off by a few.
const inOrder = time.Minute

// tapTime is when a tap was made by the server's clock: the device says how
// long before sending it was, so its own clock does not matter. A tap cannot
// be from the future, nor older than a queue may get.
func (s *Server) tapTime(t tapRequest) time.Time {
	at := s.cfg.Now()
	if ago := t.Sent.Sub(t.At); !t.At.IsZero() && !t.Sent.IsZero() && ago > 0 && ago <= maxAge {
		at = at.Add(-ago)
	}
	at = at.Truncate(time.Second)
	s.mu.Lock()
	defer s.mu.Unlock()
	if d := deviceOf(t.ID); d != "" {
		if last := s.newest[d]; !at.After(last) && last.Sub(at) < inOrder {
			at = last.Add(time.Second)
		}
	}
	return at
}

func (s *Server) tap(w http.ResponseWriter, r *http.Request) {
	t, err := readTap(w, r)
	if err != nil {
		refuse(w, err)
		return
	}
	s.apply(w, r, t, func() (string, error) { return "", nil })
}

// apply writes a tap's entry, once. before is done first, when the tap is new
// and makes sense; what it gives is added to the entry's text.
func (s *Server) apply(w http.ResponseWriter, r *http.Request, t tapRequest, before func() (string, error)) {
	s.writing.Lock()
	defer s.writing.Unlock()
	if file, ok := s.applied(t.ID); ok {
		s.kept(w, r, t, file)
		return
	}
	stood, _, _ := s.look()
	e, j, err := s.entry(t)
	if err != nil {
		refuse(w, err)
		return
	}
	more, err := before()
	if err == nil {
		e.Text = strings.TrimSpace(e.Text + more)
		stood.Write(&e, s.cfg.Machine, s.cfg.Now())
		e.File, err = job.AddEntry(s.cfg.Dir, j.ID, e, s.cfg.Machine)
	}
	if err != nil {
		s.cfg.Log.Error("could not write an entry", "why", err)
		http.Error(w, words["not-written"]+": "+err.Error(), http.StatusInternalServerError)
		return
	}
	s.added(j.ID, written(e, s.cfg.Machine))
	if s.cfg.Changed != nil {
		s.cfg.Changed()
	}
	s.looksOdd(t.ID, stood, j, e)
	s.kept(w, r, t, e.File)
}

// kept answers a tap: where its entry lies, and what looks odd about it. A
// plain form is led back to its page, past that where there is any.
func (s *Server) kept(w http.ResponseWriter, r *http.Request, t tapRequest, file string) {
	s.mu.Lock()
	looks := s.odd[t.ID]
	s.mu.Unlock()
	entry := strings.TrimSuffix(path.Base(file), ".md")
	if t.Back != "" && len(looks) > 0 {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_ = s.t.ExecuteTemplate(w, "odd", oddView{looks, t.Job, entry, localPath(t.Back)})
		return
	}
	if looks == nil {
		looks = []string{}
	}
	answer(w, r, t.Back, map[string]any{"file": file, "entry": entry, "looks": looks})
}

// oddView is what looks odd about the entry a form has just written.
type oddView struct {
	Looks            []string
	Job, Entry, Back string
}

// looksOdd works out what looks odd about an entry, once it is safe on the disk,
// and keeps it for when the answer has to be given again.
func (s *Server) looksOdd(tap string, stood *job.Shop, j *job.Job, e job.Entry) {
	looks := plan.Looks(stood, j, e)
	if e.Step != "" && e.Did != job.DidNote && e.Did != job.DidUndo {
		stands, _, _ := s.look()
		before, err := plan.At(stood, s.cfg.Now(), 0, nil)
		if err == nil {
			if after, err := plan.At(stands, s.cfg.Now(), 0, nil); err == nil {
				looks = append(looks, plan.NewDoubts(before, after)...)
			}
		}
	}
	if len(looks) > 0 {
		s.mu.Lock()
		s.odd[tap] = looks
		s.mu.Unlock()
	}
}

// written is an entry as it will be read from the file it was written to.
func written(e job.Entry, machine string) job.Entry {
	shop, zone := job.Units{Temp: "C"}, e.Time.Location()
	if back, err := job.ReadEntry(e.File, job.FormatEntry(e), shop, zone); err == nil {
		return back
	}
	e.Machine = machine
	return e
}

func (s *Server) applied(id string) (string, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	f, ok := s.taps[id]
	return f, ok
}

// entry makes the log entry of a tap and checks what it names.
func (s *Server) entry(t tapRequest) (job.Entry, *job.Job, error) {
	shop, _, _ := s.look()
	j := shop.Job(t.Job)
	if j == nil {
		return job.Entry{}, nil, errorOf("no-job")
	}
	if !tapVerbs[t.Did] {
		return job.Entry{}, nil, errorOf("no-verb", t.Did)
	}
	e := job.Entry{Time: s.tapTime(t).In(zone(shop)), Did: t.Did, Text: strings.TrimSpace(t.Note), Tap: t.ID}
	if t.Step != "" {
		if j.Step(t.Step) == nil {
			return e, nil, errorOf("no-step")
		}
		e.Step = t.Step
	}
	switch t.Did {
	case job.DidUndo:
		if err := s.takeBack(j, t, &e); err != nil {
			return e, nil, err
		}
	case job.DidNote:
		if e.Text == "" && !t.shows {
			return e, nil, errorOf("no-note")
		}
	case job.DidRead:
		if err := reading(shop, j, t, &e); err != nil {
			return e, nil, err
		}
	case job.DidUse:
		e.Step, e.Item, e.Qty = "", j.ID, 1 // the jig itself
	case job.DidBegin, job.DidClamp, job.DidUnclamp, job.DidFinish, job.DidAside, job.DidResume:
		if e.Step == "" {
			return e, nil, errorOf("which-step")
		}
	}
	if t.Air != "" {
		a, err := measure.ParseTemperature(t.Air)
		if err != nil {
			return e, nil, err
		}
		e.Air = &a
	} else if t.Did == job.DidAir {
		return e, nil, errorOf("how-warm")
	}
	return e, j, nil
}

// takeBack finds the entry an undo means: the one the device made by a tap of
// its own, the one the page showed, or the last that this machine wrote.
func (s *Server) takeBack(j *job.Job, t tapRequest, e *job.Entry) error {
	void := j.TakenBack()
	want := t.Entry
	if t.Of != "" {
		want = ""
		for _, x := range j.Log {
			if x.Tap == t.Of {
				want = x.ID
			}
		}
		if want == "" {
			return errorOf("never-kept")
		}
	}
	if want == "" {
		x := s.lastEntry(j)
		if x == nil {
			return errorOf("no-undo")
		}
		e.Entry, e.Step = x.ID, x.Step
		return nil
	}
	for _, x := range j.Log {
		switch {
		case x.Did == job.DidUndo || x.ID != want:
		case void[x.ID]:
			return errorOf("is-undone")
		default:
			e.Entry, e.Step = x.ID, x.Step
			return nil
		}
	}
	return errorOf("no-undo")
}

// reading fills in the value of a check: one length, or the two widths and the
// length of a five-cut strip.
func reading(shop *job.Shop, j *job.Job, t tapRequest, e *job.Entry) error {
	c := j.Check(t.Check)
	if c == nil {
		return errorOf("no-check")
	}
	e.Check = t.Check
	system := shop.Units.Length.System
	if j.Units != nil {
		system = *j.Units
	}
	var dims []job.Dim
	for _, v := range strings.Split(t.Value, ",") {
		v = strings.TrimSpace(v)
		l, err := measure.ParseLength(v, system)
		if err != nil {
			return err
		}
		dims = append(dims, job.Dim{Length: l, Set: true, Exact: true, Src: v})
	}
	switch {
	case c.FiveCut && len(dims) != 3:
		return errorOf("five-three")
	case c.FiveCut:
		e.Five = dims
	case len(dims) != 1:
		return errorOf("one-reading")
	default:
		e.Value = dims[0]
	}
	return nil
}

// tick ticks or clears a task by changing one byte of build.md. The same twice
// is the same once.
func (s *Server) tick(w http.ResponseWriter, r *http.Request) {
	t, err := readTap(w, r)
	if err != nil {
		refuse(w, err)
		return
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	if s.ticks.has(t.ID) { // somebody may have cleared it since
		answer(w, r, t.Back, map[string]any{"done": t.Done})
		return
	}
	shop, _, _ := s.look()
	j := shop.Job(t.Job)
	if j == nil {
		refuse(w, errorOf("no-job"))
		return
	}
	task, ok := findTask(j, t.Step, t.Text)
	if !ok {
		refuse(w, errorOf("no-task"))
		return
	}
	if err := job.Tick(s.cfg.Dir, j.Build.File, task, t.Done); err != nil {
		refuse(w, err)
		return
	}
	s.ticks.add(t.ID)
	_ = s.reload() // what does not read is told on the page
	if s.cfg.Changed != nil {
		s.cfg.Changed()
	}
	answer(w, r, t.Back, map[string]any{"done": t.Done})
}

// ids are the newest ids of ticks, which leave nothing in the log to know them by.
type ids struct {
	seen map[string]bool
	list []string
}

const idsKept = 1000

func (k *ids) has(id string) bool { return k.seen[id] }

func (k *ids) add(id string) {
	if k.seen == nil {
		k.seen = map[string]bool{}
	}
	k.seen[id] = true
	if k.list = append(k.list, id); len(k.list) > idsKept {
		delete(k.seen, k.list[0])
		k.list = k.list[1:]
	}
}

// refuse says why a request cannot be done, now or ever: it is not sent again.
func refuse(w http.ResponseWriter, err error) {
	code := http.StatusUnprocessableEntity
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		code = http.StatusRequestEntityTooLarge
	}
	http.Error(w, err.Error(), code)
}

// answer gives the script its answer, and leads a plain form back to its page.
func answer(w http.ResponseWriter, r *http.Request, back string, v any) {
	if back != "" {
		http.Redirect(w, r, localPath(back), http.StatusSeeOther)
		return
	}
	writeJSON(w, v)
}

// localPath is a path of this server's own, or that of the first screen.
func localPath(back string) string {
	if strings.HasPrefix(back, "/") && !strings.HasPrefix(back, "//") && !strings.Contains(back, "\\") {
		return back
	}
	return "/"
}

func writeJSON(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	_ = json.NewEncoder(w).Encode(v)
}

// findTask is a task item under a step's heading, by its text.
func findTask(j *job.Job, step, text string) (job.Task, bool) {
	for _, sec := range j.Build.Sections {
		for _, t := range sec.Tasks {
			if sec.Step == step && t.Text == text {
				return t, true
			}
		}
	}
	return job.Task{}, false
}

func zone(s *job.Shop) *time.Location {
	if s.Zone != nil {
		return s.Zone
	}
	return time.Local
}
