package job

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// ZoneName is the name that shop.yaml can hold for a time zone. A machine's
// own zone, which Go only calls Local, is looked up in TZ and in the link that
// Unix keeps of it; failing that it is the zone of the offset that held at the
// given moment, or UTC when no zone has that offset.
func ZoneName(loc *time.Location, at time.Time) string {
	if loc == nil {
		return "UTC"
	}
	if n := loc.String(); goodZone(n) {
		return n
	}
	if loc == time.Local || loc.String() == "Local" {
		if tz := strings.TrimPrefix(os.Getenv("TZ"), ":"); goodZone(tz) && sameOffset(tz, loc, at) {
			return tz
		}
		if p, err := filepath.EvalSymlinks("/etc/localtime"); err == nil {
			if _, n, ok := strings.Cut(filepath.ToSlash(p), "zoneinfo/"); ok && goodZone(n) && sameOffset(n, loc, at) {
				return n
			}
		}
	}
	_, off := at.In(loc).Zone()
	if off == 0 || off%3600 != 0 || off > 14*3600 || off < -12*3600 {
		return "UTC"
	}
	// the database counts these the other way round: Etc/GMT+6 is six hours behind
	return fmt.Sprintf("Etc/GMT%+d", -off/3600)
}

func goodZone(n string) bool {
	if n == "" || n == "Local" {
		return false
	}
	_, err := time.LoadLocation(n)
	return err == nil
}

func sameOffset(name string, loc *time.Location, at time.Time) bool {
	z, err := time.LoadLocation(name)
	if err != nil {
		return false
	}
	_, a := at.In(z).Zone()
	_, b := at.In(loc).Zone()
	return a == b
}
