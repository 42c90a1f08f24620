package bench

import (
	"context"
	"io"
	"mime"
	"net/http"
	"net/url"
	"os"
	"path"
	"path/filepath"
	"strings"
	"time"

	"caul/job"
	"caul/job/picture"
)

// pictureTime is how long the sending of one picture may take on bad Wi-Fi.
const pictureTime = 5 * time.Minute

// picture takes one picture: as the body of a request of the page's script,
// with what it belongs to in the address, or as a plain form. It is turned,
// scaled and stripped of all its data before it touches the disk.
func (s *Server) picture(w http.ResponseWriter, r *http.Request) {
	if r.ContentLength > picture.MaxBytes+maxTap { // before anything is read
		w.Header().Set("Connection", "close")
		http.Error(w, words["large-picture"], http.StatusRequestEntityTooLarge)
		return
	}
	_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(pictureTime))
	r.Body = http.MaxBytesReader(w, r.Body, picture.MaxBytes+maxTap)
	t, data, err := readPicture(r)
	if err == nil {
		err = checkTap(t)
	}
	if err != nil {
		refuse(w, err)
		return
	}
	if _, ok := s.applied(t.ID); ok {
		s.apply(w, r, t, nil)
		return
	}
	clean, ext, err := s.develop(r.Context(), data)
	if err != nil {
		refuse(w, err)
		return
	}
	t.Did, t.shows = job.DidNote, true
	s.apply(w, r, t, func() (string, error) {
		name := s.tapTime(t).Format("2006-01-02T1504") + "-" + t.ID[max(0, len(t.ID)-6):]
		file, err := job.AddPicture(s.cfg.Dir, t.Job, name+ext, clean)
		return "\n\n![](../photos/" + path.Base(file) + ")", err
	})
}

// develop cleans a picture; only so many at a time, for each may take much
// memory.
func (s *Server) develop(ctx context.Context, data []byte) ([]byte, string, error) {
	select {
	case s.darkrm <- struct{}{}:
	case <-ctx.Done():
		return nil, "", ctx.Err()
	}
	defer func() { <-s.darkrm }()
	return picture.Clean(data, picture.Keep)
}

func readPicture(r *http.Request) (tapRequest, []byte, error) {
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if kind != "multipart/form-data" {
		t := queryTap(r.URL.Query())
		data, err := io.ReadAll(r.Body)
		return t, data, err
	}
	m, err := r.MultipartReader()
	if err != nil {
		return tapRequest{}, nil, err
	}
	fields := url.Values{}
	for range 20 {
		p, err := m.NextPart()
		if err != nil {
			return tapRequest{}, nil, err
		}
		if p.FormName() == "picture" { // the last field, and its file's name is of no use to anybody
			data, err := io.ReadAll(p)
			return formTap(fields.Get), data, err
		}
		v, err := io.ReadAll(io.LimitReader(p, maxTap))
		if err != nil {
			return tapRequest{}, nil, err
		}
		fields.Set(p.FormName(), string(v))
	}
	return tapRequest{}, nil, errorOf("no-picture")
}

func queryTap(q url.Values) tapRequest {
	t := formTap(q.Get)
	t.Back = ""
	t.At, _ = time.Parse(time.RFC3339Nano, q.Get("at"))
	t.Sent, _ = time.Parse(time.RFC3339Nano, q.Get("sent"))
	return t
}

// photo serves a picture of a job, and nothing else.
func (s *Server) photo(w http.ResponseWriter, r *http.Request) {
	shop, _, _ := s.look()
	j := shop.Job(r.PathValue("job"))
	name := r.PathValue("file")
	if j == nil || !plainName(name) || !s.door.open(r, s.cfg.Now()) && isPrivate(j, j.Dir+"/photos/"+name) {
		http.NotFound(w, r)
		return
	}
	switch strings.ToLower(path.Ext(name)) {
	case ".jpg", ".jpeg", ".png", ".gif", ".webp":
	default:
		http.NotFound(w, r)
		return
	}
	root, err := os.OpenRoot(filepath.Join(s.cfg.Dir, "jobs", j.ID))
	if err != nil {
		http.NotFound(w, r)
		return
	}
	defer root.Close()
	f, err := root.Open("photos/" + name)
	if err != nil {
		http.NotFound(w, r)
		return
	}
	defer f.Close()
	fi, err := f.Stat()
	if err != nil || !fi.Mode().IsRegular() {
		http.NotFound(w, r)
		return
	}
	http.ServeContent(w, r, name, fi.ModTime(), f)
}

// plainName tells a file's name from a way to somewhere else.
func plainName(name string) bool {
	return name != "" && !strings.HasPrefix(name, ".") && !strings.ContainsAny(name, `/\:`) && filepath.IsLocal(name)
}

// isPrivate tells a picture that only private entries show.
func isPrivate(j *job.Job, file string) bool {
	private := false
	for i := range j.Log {
		for _, p := range j.Log[i].Pictures {
			if p.File == file && !j.Log[i].Private {
				return false
			}
			private = private || p.File == file
		}
	}
	return private
}
