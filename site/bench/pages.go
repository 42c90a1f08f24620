package bench

import (
	"bytes"
	"fmt"
	"html/template"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"caul/job"
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
		"words": func() map[string]string { return words },
		"id":    newID,
		"act": func(a *actsView, did, word, when string) map[string]any {
			hide := true
			for _, w := range strings.Fields(when) {
				hide = hide && w != a.State
			}
			return map[string]any{"A": a, "Did": did, "Label": words[word], "When": when, "Hide": hide}
		},
		"with2": func(a, b any) []any { return []any{a, b} },
	}
}

// newID is the id of a tap made by a plain form; the script makes its own.
func newID() string {
	return strconv.FormatUint(rand.Uint64(), 36) + strconv.FormatUint(rand.Uint64()|1<<63, 36)
}

type pageView struct {
	Title    string
	ShopName string
	Path     string
	Version  int
	Now      int64  // milliseconds, by the clock here
	At       string // the same in words
	ReadOnly bool
	Part     bool // only the page's main part, for the script
	Trouble  string
	V        any
}

// show draws a page, or for the script only its main part.
func (s *Server) show(w http.ResponseWriter, r *http.Request, name, title string, v any) {
	shop, trouble, version := s.look()
	p := pageView{Title: title, ShopName: shop.Name, Path: r.URL.RequestURI(), Version: version, Now: s.cfg.Now().UnixMilli(), At: dayTime(s.cfg.Now(), zone(shop)), Trouble: trouble, V: v,
		ReadOnly: s.cfg.ReadOnly || !s.door.open(r, s.cfg.Now()), Part: r.Header.Get("X-Caul-Part") != ""}
	if p.Part {
		name += "-part"
	}
	var b bytes.Buffer
	if err := s.t.ExecuteTemplate(&b, name, p); err != nil {
		s.cfg.Log.Error("could not draw the page", "why", err)
		http.Error(w, words["failed"], http.StatusInternalServerError)
		return
	}
	h := w.Header()
	h.Set("Content-Type", "text/html; charset=utf-8")
	h.Set("X-Caul-Now", strconv.FormatInt(p.Now, 10))
	h.Set("X-Caul-At", p.At)
	h.Set("X-Caul-Title", url.PathEscape(title))
	_, _ = w.Write(b.Bytes())
}

// gone says in a page of its own that there is no such page: a step that was
// renamed, a job that was taken away.
func (s *Server) gone(w http.ResponseWriter, r *http.Request) {
	if r.Header.Get("X-Caul-Part") != "" || !strings.Contains(r.Header.Get("Accept"), "text/html") {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(http.StatusNotFound)
	_ = s.t.ExecuteTemplate(w, "gone", nil)
}

type jobView struct {
	Job    *job.Job
	Steps  []jobStep
	Log    []logView
	ByUses []string // the checks that uses count for, with the count
	Photos bool
}

type jobStep struct {
	ID, Name string
	State    job.State
}

type logView struct {
	When, What string
	Text       template.HTML
}

// logShown is how many of the newest entries the page shows.
const logShown = 30

func (s *Server) jobPage(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	j := shop.Job(r.PathValue("job"))
	if j == nil {
		s.gone(w, r)
		return
	}
	states, _ := j.States()
	v := jobView{Job: j}
	for i := range j.Steps {
		st := &j.Steps[i]
		v.Steps = append(v.Steps, jobStep{st.ID, stepName(st), states[st.ID].State})
	}
	for _, se := range proof.Readings(shop, j, s.cfg.Now()) {
		if se.UsesDue > 0 {
			v.ByUses = append(v.ByUses, fmt.Sprintf(words["uses-of"], se.Measure, se.Uses, se.UsesDue))
		}
	}
	visitor := !s.door.open(r, s.cfg.Now())
	void := j.TakenBack()
	read, _ := verdicts(shop, j)
	for i := len(j.Log) - 1; i >= 0 && len(v.Log) < logShown; i-- {
		e := &j.Log[i]
		if visitor && e.Private {
			continue
		}
		what := entryWords(j, e)
		if r := read[e.ID]; r != nil {
			what += ": " + r.Text
			if r.Shim != "" {
				what += "; " + r.Shim
			}
		}
		if void[e.ID] {
			what += " (" + words["undone"] + ")"
		}
		text, err := site.Prose(e.Text, j.Dir+"/log", func(file string) string { return photoAt(j, file) })
		if err != nil {
			text = ""
		}
		v.Log = append(v.Log, logView{When: dayTime(e.Time, zone(shop)), What: what, Text: text})
	}
	s.show(w, r, "job", j.Name, v)
}

func (s *Server) pairPage(w http.ResponseWriter, r *http.Request) {
	if s.door.open(r, s.cfg.Now()) {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	s.pairForm(w, r, "", http.StatusOK)
}

func (s *Server) pairForm(w http.ResponseWriter, r *http.Request, why string, code int) {
	given := r.URL.Query().Get("code")
	if len(given) > 20 {
		given = ""
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(code)
	_ = s.t.ExecuteTemplate(w, "pair", struct{ Why, Code string }{why, given})
}

func (s *Server) pair(w http.ResponseWriter, r *http.Request) {
	if !s.door.ours(r) {
		http.Error(w, words["not-ours"], http.StatusForbidden)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, 4<<10)
	if err := r.ParseForm(); err != nil {
		refuse(w, err)
		return
	}
	cookie, res := s.door.pair(r.PostForm.Get("code"), from(r), s.cfg.Now())
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
