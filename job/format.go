package job

import _ "embed"

// Files names every key of a shop's files and how its value is written, for a
// person at a terminal: `caul help files` prints it. Reading is by these keys
// and no others.
//
//go:embed files.txt
var Files string
