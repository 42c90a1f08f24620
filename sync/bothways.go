package sync

import (
	"errors"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"caul/sync/settle"
	"caul/sync/store"
)

// BothWay is one value that two machines changed differently and that waits for a look: the record, and the file it is in. Its Path
// is where the file is now: a job that was renamed since is followed.
type BothWay struct {
	Name string // path of the record below the shop
	settle.Record
	// Err tells why the record cannot be read; it is listed all the same.
	Err error
}

// Side names which of a record's two values to take.
type Side = settle.Which

// The two values of a record.
const (
	Stands = settle.TakeStands // keep what is in the file
	Other  = settle.TakeOther  // put the other value in its place
)

// ErrNoRecord: there is no such record.
var ErrNoRecord = errors.New("no such record under both-ways")

// BothWays lists the records of the working files, sorted by name.
func (s *Shop) BothWays() ([]BothWay, error) {
	dir := filepath.Join(s.repo.Dir, settle.RecordFolder)
	es, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, store.Name(err, dir)
	}
	var out []BothWay
	follow := s.follower()
	for _, e := range es {
		if !e.Type().IsRegular() || !strings.HasSuffix(e.Name(), ".md") {
			continue
		}
		name := settle.RecordFolder + "/" + e.Name()
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return nil, store.Name(err, dir)
		}
		b := BothWay{Name: name}
		b.Record, b.Err = settle.ParseRecord(name, data)
		if job, _ := splitJob(b.Path); job != "" && b.Err == nil {
			if _, err := os.Lstat(filepath.Join(s.repo.Dir, "jobs", job)); errors.Is(err, os.ErrNotExist) {
				if r, err := follow.record(name, b.Record); err == nil { // a list is of use without, too
					b.Record = r
				}
			}
		}
		out = append(out, b)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Name < out[j].Name })
	return out, nil
}

// Take puts one of a record's two values into the working file and removes the record. Only the bytes of that value change.
// The name may leave out the folder and the ending.
func (s *Shop) Take(name string, which Side) error {
	l, err := s.repo.Lock(s.lockWait())
	if err != nil {
		return err
	}
	defer l.Release()
	bs, err := s.BothWays()
	if err != nil {
		return err
	}
	for _, b := range bs {
		short := strings.TrimSuffix(strings.TrimPrefix(b.Name, settle.RecordFolder+"/"), ".md")
		if name != b.Name && name != short && name != short+".md" {
			continue
		}
		if b.Err != nil {
			return b.Err
		}
		if err := s.take(b, which); err != nil {
			return err
		}
		rec := filepath.Join(s.repo.Dir, filepath.FromSlash(b.Name))
		if err := s.repo.Disk.Remove(rec); err != nil {
			return store.Name(err, rec)
		}
		_ = s.repo.Disk.Remove(filepath.Dir(rec)) // when it was the last
		return nil
	}
	return &store.Error{Kind: ErrNoRecord, Path: name, Hint: "caul both-ways lists them"}
}

func (s *Shop) take(b BothWay, which Side) error {
	// The list goes by folders that are missing; here another job may have the old name by now.
	data, err := os.ReadFile(filepath.Join(s.repo.Dir, filepath.FromSlash(b.Name)))
	if err != nil {
		return store.Name(err, b.Name)
	}
	if b.Record, err = settle.ParseRecord(b.Name, data); err != nil {
		return err
	}
	if b.Record, err = s.follower().record(b.Name, b.Record); err != nil {
		return err
	}
	if why := store.Unsafe(b.Path); why != "" {
		return &store.Error{Kind: store.ErrUnsafe, Path: b.Path, Hint: "look at " + b.Name + " and put the value in by hand (" + why + ")"}
	}
	path := filepath.Join(s.repo.Dir, filepath.FromSlash(b.Path))
	var now settle.File
	fi, err := os.Lstat(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
	case err != nil:
		return store.Name(err, path)
	case !fi.Mode().IsRegular():
		return &store.Error{Kind: store.ErrUnsafe, Path: b.Path, Hint: "it is not a plain file; put the value in by hand"}
	default:
		now.Exists = true
		if now.Data, err = os.ReadFile(path); err != nil {
			return store.Name(err, path)
		}
	}
	if b.What == wholeJob && which == Other && !b.Other.Exists {
		return s.removeJob(b.Path)
	}
	then, err := settle.Take(b.Record, which, now)
	if err != nil {
		return err
	}
	switch {
	case !then.Exists && now.Exists:
		return store.Name(s.repo.Disk.Remove(path), path)
	case then.Exists && (!now.Exists || string(then.Data) != string(now.Data)):
		return s.repo.WriteWork(b.Path, then.Data)
	}
	return nil
}

// removeJob removes a job's folder, as the other machine had done. The history keeps it.
func (s *Shop) removeJob(path string) error {
	job, _ := splitJob(path)
	if job == "" {
		return &store.Error{Kind: store.ErrUnsafe, Path: path, Hint: "remove the job's folder by hand"}
	}
	dir := filepath.Join(s.repo.Dir, "jobs", job)
	st, err := s.repo.Clean(dir)
	if err != nil {
		return err
	}
	if !st {
		return &store.Error{Kind: store.ErrEdited, Path: "jobs/" + job, Hint: "sync first, so that the history has what would be removed"}
	}
	return store.Name(os.RemoveAll(dir), dir)
}

// Age is how long a record has been waiting.
func (b BothWay) Age(now time.Time) time.Duration {
	return now.Sub(newest(b.Stands.When, b.Record.Other.When))
}
