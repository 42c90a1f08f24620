package schedule

import "flag"

var debugFlag = flag.Bool("checks", false, "let the engine check every explanation it gives")

func init() { debugChecks = true }
