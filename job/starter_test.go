package job

import (
	"regexp"
	"strings"
)

var exampleLine = regexp.MustCompile(`^( *)# (( *)(- \{|- id:|[a-z-]+:).*)$`)

// uncomment takes the mark off every note that is an example.
func uncomment(data []byte) []byte {
	lines := strings.Split(string(data), "\n")
	for i, l := range lines {
		if m := exampleLine.FindStringSubmatch(l); m != nil {
			lines[i] = m[1] + m[2]
		}
	}
	return []byte(strings.Join(lines, "\n"))
}
