package demo

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"caul/job"
)

//go:embed all:files
var files embed.FS

// Write makes the demo shop in a folder that is absent or empty, as it stands
// at the given moment in the given zone. The same moment and zone give the
// same bytes.
func Write(dir string, now time.Time, zone *time.Location) error {
	if es, err := os.ReadDir(dir); err == nil {
		for _, e := range es {
			if !strings.HasPrefix(e.Name(), ".") {
				return fmt.Errorf("%s is not empty: it holds %s", dir, e.Name())
			}
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	name := job.ZoneName(zone, now)
	loc, err := time.LoadLocation(name)
	if err != nil {
		return err
	}
	now = now.In(loc).Truncate(time.Minute)
	if y := now.Year(); y < 1902 || y > 2190 {
		return fmt.Errorf("the year is %d; check the clock", y)
	}
	err = fs.WalkDir(files, "files", func(p string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		data, err := files.ReadFile(p)
		if err != nil {
			return err
		}
		return put(dir, strings.TrimPrefix(p, "files/"), []byte(fill(string(data), now, name)))
	})
	if err != nil {
		return err
	}
	if err := put(dir, ".gitignore", []byte(job.Ignore)); err != nil {
		return err
	}
	for _, p := range drawings() {
		if err := put(dir, p.file, p.data); err != nil {
			return err
		}
	}
	shop, err := job.Load(dir)
	if err != nil {
		return fmt.Errorf("the demo shop does not read: %w", err)
	}
	return writeLogs(dir, sessions(shop, now), now)
}

func put(dir, file string, data []byte) error {
	full := filepath.Join(dir, filepath.FromSlash(file))
	if err := os.MkdirAll(filepath.Dir(full), 0o777); err != nil {
		return err
	}
	return job.WriteFile(full, data)
}

var dayMark = regexp.MustCompile(`\{DAY([+-]\d+)\}`)

// fill puts dates, counted from today, and the zone into a file.
func fill(text string, now time.Time, zone string) string {
	text = strings.ReplaceAll(text, "{ZONE}", zone)
	return dayMark.ReplaceAllStringFunc(text, func(m string) string {
		n, _ := strconv.Atoi(dayMark.FindStringSubmatch(m)[1])
		return time.Date(now.Year(), now.Month(), now.Day()+n, 12, 0, 0, 0, now.Location()).Format("2006-01-02")
	})
}

// session is one stretch of shop hours.
type session struct{ from, to time.Time }

func (s session) at(min int) time.Time { return s.from.Add(time.Duration(min) * time.Minute) }

// sessions lists the shop hours that began at or before now, latest first, a
// little over half a year back.
func sessions(shop *job.Shop, now time.Time) []session {
	var out []session
	for d := 0; d < 200; d++ {
		day := time.Date(now.Year(), now.Month(), now.Day()-d, 12, 0, 0, 0, now.Location())
		ws := shop.Hours.Week[day.Weekday()]
		for i := len(ws) - 1; i >= 0; i-- {
			clock := func(m int) time.Time {
				return time.Date(day.Year(), day.Month(), day.Day(), 0, m, 0, 0, now.Location())
			}
			s := session{clock(ws[i].From), clock(ws[i].To)}
			if !s.from.After(now) {
				out = append(out, s)
			}
		}
	}
	return out
}

// before gives the sessions that ended at least so many days before now.
func before(ss []session, now time.Time, days int) []session {
	for i, s := range ss {
		if !s.to.After(now.AddDate(0, 0, -days)) {
			return ss[i:]
		}
	}
	return nil
}

type drawing struct {
	file string
	data []byte
}

func photo(file, alt string) []job.Picture {
	return []job.Picture{{File: path.Join("photos", file), Alt: alt}}
}
