package job

import (
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
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

// A name a person gives makes an id that NewJob takes, or none.
func TestIDFrom(t *testing.T) {
	for name, want := range map[string]string{
		"Shooting board":       "shooting-board",
		"  Torsion / box  #2 ": "torsion-box-2",
		"sled":                 "sled",
		"Größe":                "gr-e",
		"...":                  "",
		"nul":                  "",
		"工具":                   "",
	} {
		require.Equal(t, want, IDFrom(name), name)
	}
}
