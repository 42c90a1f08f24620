package bench

import (
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"path"
	"strconv"
	"strings"
	"time"

	"caul/job"
	"caul/job/measure"
	"caul/job/picture"
)

// tapped is the answer to a tap that was applied.
type tapped struct {
	File string `json:"file"`
}

// tapRequest is one tap as the page sends it. ID is made on the device; At is
// the device's time of the tap, so that a tap sent late is logged when it was
// made.
type tapRequest struct {
	ID    string    `json:"id"`
	At    time.Time `json:"at"`
	Sent  time.Time `json:"sent"` // the device's clock at sending, to mend a clock that is wrong
	Job   string    `json:"job"`
	Step  string    `json:"step"`
	Did   string    `json:"did"`
	Note  string    `json:"note"`
	Check string    `json:"check"`
	Value string    `json:"value"`
	Air   string    `json:"air"`
	Back  string    `json:"-"`
}

// Limits on what one request may bring.
const (
	maxTap  = 64 << 10
	maxNote = 16 << 10
)

var tapVerbs = map[string]bool{
	job.DidBegin: true, job.DidClamp: true, job.DidUnclamp: true, job.DidFinish: true, job.DidUndo: true,
	job.DidAside: true, job.DidResume: true, job.DidNote: true, job.DidRead: true, job.DidAir: true,
}

// readTap reads a tap from the page's script (JSON) or from a plain form.
func (s *Server) readTap(w http.ResponseWriter, r *http.Request) (tapRequest, error) {
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
		f := r.PostForm.Get
		t = tapRequest{ID: f("id"), Job: f("job"), Step: f("step"), Did: f("did"), Note: f("note"), Check: f("check"), Value: f("value"), Air: f("air"), Back: f("back")}
	default:
		return t, errors.New("a tap is JSON or a form")
	}
	if !goodID(t.ID) {
		return t, errors.New("a tap needs an id of 8 to 64 letters and digits")
	}
	if len(t.Note) > maxNote {
		return t, errors.New("the note is too long")
	}
	if !tapVerbs[t.Did] {
		return t, errors.New("no such thing to do: " + strconv.Quote(t.Did))
	}
	return t, nil
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

// tapTime is when a tap was made by the server's clock: the device says how
// long before sending it was, so its own clock does not matter. A tap cannot
// be from the future, nor older than a queue may get.
func tapTime(t tapRequest, now time.Time) time.Time {
	if t.At.IsZero() || t.Sent.IsZero() {
		return now
	}
	ago := t.Sent.Sub(t.At)
	if ago < 0 || ago > 14*24*time.Hour {
		return now
	}
	return now.Add(-ago)
}

func (s *Server) tap(w http.ResponseWriter, r *http.Request) {
	t, err := s.readTap(w, r)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	if done, ok := s.applied(t.ID); ok {
		s.answer(w, r, t, done)
		return
	}
	e, j, err := s.entry(t)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	done, err := s.add(j.ID, e)
	if err != nil {
		s.cfg.Log.Error("could not write an entry", "why", err)
		http.Error(w, "could not be written: "+err.Error(), http.StatusInternalServerError)
		return
	}
	s.answer(w, r, t, done)
}

func (s *Server) applied(id string) (tapped, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	d, ok := s.taps[id]
	return d, ok
}

// add writes an entry durably, and only then says so.
func (s *Server) add(jobID string, e job.Entry) (tapped, error) {
	file, err := job.AddEntry(s.cfg.Dir, jobID, e, s.cfg.Machine)
	if err != nil {
		return tapped{}, err
	}
	done := tapped{File: file}
	s.mu.Lock()
	s.taps[e.Tap] = done
	s.mu.Unlock()
	if err := s.reload(); err != nil {
		s.cfg.Log.Warn("the shop's files do not read", "why", err)
	}
	if s.cfg.Changed != nil {
		s.cfg.Changed()
	}
	return done, nil
}

// entry makes the log entry of a tap and checks what it names.
func (s *Server) entry(t tapRequest) (job.Entry, *job.Job, error) {
	shop, _, _ := s.look()
	j := findJob(shop, t.Job)
	if j == nil {
		return job.Entry{}, nil, errors.New("no such job")
	}
	e := job.Entry{Time: tapTime(t, s.cfg.Now()).In(zone(shop)).Truncate(time.Second), Did: t.Did, Text: strings.TrimSpace(t.Note), Tap: t.ID}
	if t.Step != "" {
		if findStep(j, t.Step) == nil {
			return e, nil, errors.New("no such step")
		}
		e.Step = t.Step
	}
	switch t.Did {
	case job.DidUndo:
		e.Entry = lastEntry(j)
		if e.Entry == "" {
			return e, nil, errors.New("nothing to take back")
		}
	case job.DidNote:
		if e.Text == "" {
			return e, nil, errors.New("the note is empty")
		}
	case job.DidRead:
		if err := reading(shop, j, t, &e); err != nil {
			return e, nil, err
		}
	case job.DidBegin, job.DidClamp, job.DidUnclamp, job.DidFinish, job.DidAside, job.DidResume:
		if e.Step == "" {
			return e, nil, errors.New("which step?")
		}
	}
	if t.Air != "" {
		a, err := measure.ParseTemperature(t.Air)
		if err != nil {
			return e, nil, err
		}
		e.Air = &a
	} else if t.Did == job.DidAir {
		return e, nil, errors.New("how warm is it?")
	}
	return e, j, nil
}

// reading fills in the value of a check: one length, or the widths and the
// length of a five-cut strip.
func reading(shop *job.Shop, j *job.Job, t tapRequest, e *job.Entry) error {
	found := false
	for _, c := range j.Checks {
		found = found || c.ID == t.Check
	}
	if !found {
		return errors.New("no such check")
	}
	e.Check = t.Check
	var dims []job.Dim
	for _, v := range strings.Split(t.Value, ",") {
		l, err := measure.ParseLength(strings.TrimSpace(v), shop.Units.Length.System)
		if err != nil {
			return err
		}
		dims = append(dims, job.Dim{Length: l, Set: true, Exact: true, Src: strings.TrimSpace(v)})
	}
	if len(dims) == 1 {
		e.Value = dims[0]
	} else {
		e.Five = dims
	}
	return nil
}

// lastEntry is the newest entry of a job that is not taken back yet.
func lastEntry(j *job.Job) string {
	undone := map[string]bool{}
	for _, e := range j.Log {
		if e.Did == job.DidUndo {
			undone[e.Entry] = true
		}
	}
	for i := len(j.Log) - 1; i >= 0; i-- {
		if e := j.Log[i]; e.Did != job.DidUndo && !undone[e.ID] {
			return e.ID
		}
	}
	return ""
}

func (s *Server) tick(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, maxTap)
	var t struct {
		ID   string    `json:"id"`
		At   time.Time `json:"at"`
		Sent time.Time `json:"sent"`
		Job  string    `json:"job"`
		Text string    `json:"text"`
		Step string    `json:"step"`
		Done bool      `json:"done"`
	}
	if err := json.NewDecoder(r.Body).Decode(&t); err != nil {
		s.refuse(w, r, err)
		return
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	shop, _, _ := s.look()
	j := findJob(shop, t.Job)
	if j == nil {
		s.refuse(w, r, errors.New("no such job"))
		return
	}
	task, ok := findTask(j, t.Step, t.Text)
	if !ok {
		s.refuse(w, r, errors.New("no such task"))
		return
	}
	if err := job.Tick(s.cfg.Dir, j.Build.File, task, t.Done); err != nil {
		s.refuse(w, r, err)
		return
	}
	_ = s.reload()
	writeJSON(w, map[string]bool{"done": t.Done})
}

// picture takes one picture as the body of the request; the tap's id and what
// it belongs to stand in the address.
func (s *Server) picture(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	at, _ := time.Parse(time.RFC3339Nano, q.Get("at"))
	sent, _ := time.Parse(time.RFC3339Nano, q.Get("sent"))
	t := tapRequest{ID: q.Get("id"), Job: q.Get("job"), Step: q.Get("step"), Did: job.DidNote, Note: q.Get("note"), At: at, Sent: sent}
	if !goodID(t.ID) || len(t.Note) > maxNote {
		s.refuse(w, r, errors.New("a picture needs an id"))
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, picture.MaxBytes)
	data, err := io.ReadAll(r.Body)
	if err != nil {
		var big *http.MaxBytesError
		if errors.As(err, &big) {
			http.Error(w, "the picture is too large", http.StatusRequestEntityTooLarge)
			return
		}
		s.refuse(w, r, err)
		return
	}
	clean, ext, err := picture.Clean(data, picture.Keep)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	s.writing.Lock()
	defer s.writing.Unlock()
	if done, ok := s.applied(t.ID); ok {
		s.answer(w, r, t, done)
		return
	}
	if t.Note == "" {
		t.Note = "Picture."
	}
	e, j, err := s.entry(t)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	file, err := job.AddPicture(s.cfg.Dir, j.ID, e.Time.Format("2006-01-02T1504")+ext, clean)
	if err != nil {
		http.Error(w, "could not be written: "+err.Error(), http.StatusInternalServerError)
		return
	}
	e.Text += "\n\n![](../photos/" + path.Base(file) + ")"
	done, err := s.add(j.ID, e)
	if err != nil {
		http.Error(w, "could not be written: "+err.Error(), http.StatusInternalServerError)
		return
	}
	s.answer(w, r, t, done)
}

// refuse says why a request cannot be done; it is not sent again.
func (s *Server) refuse(w http.ResponseWriter, _ *http.Request, err error) {
	http.Error(w, err.Error(), http.StatusUnprocessableEntity)
}

func (s *Server) answer(w http.ResponseWriter, r *http.Request, t tapRequest, done tapped) {
	if t.Back != "" {
		to := "/"
		if strings.HasPrefix(t.Back, "/") && !strings.HasPrefix(t.Back, "//") && !strings.Contains(t.Back, "\\") {
			to = t.Back
		}
		http.Redirect(w, r, to, http.StatusSeeOther)
		return
	}
	writeJSON(w, done)
}

func writeJSON(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	_ = json.NewEncoder(w).Encode(v)
}

func findJob(s *job.Shop, id string) *job.Job {
	for _, j := range s.Jobs {
		if j.ID == id {
			return j
		}
	}
	return nil
}

func findStep(j *job.Job, id string) *job.Step {
	for i := range j.Steps {
		if j.Steps[i].ID == id {
			return &j.Steps[i]
		}
	}
	return nil
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
