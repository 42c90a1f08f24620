package sync

import (
	"os"
	"syscall"
)

// peakOf is the most memory a process held, in bytes.
func peakOf(p *os.ProcessState) int64 {
	ru, ok := p.SysUsage().(*syscall.Rusage)
	if !ok {
		return 0
	}
	return ru.Maxrss << 10
}
