package proof

import "caul/job"

// Severity of a finding.
type Severity string

// The severities: stop means the part would be ruined or someone hurt; look
// means it may be meant.
const (
	Stop Severity = "stop"
	Look Severity = "look"
)

// Finding is one thing the proof has to say about a job.
type Finding struct {
	Check    string   `json:"check"` // id of the check
	Severity Severity `json:"severity"`
	Job      string   `json:"job"`
	Part     string   `json:"part,omitempty"`
	At       job.Pos  `json:"at"`
	Text     string   `json:"text"` // the numbers in exact fractions
	Mend     string   `json:"mend"` // how to mend it
}

// Proof is the whole answer for the shop's jobs.
type Proof struct {
	Jobs     []string  `json:"jobs"`
	Findings []Finding `json:"findings"` // by file, line, column, check
	Stops    int       `json:"stops"`
	Looks    int       `json:"looks"`
	Checked  int       `json:"checked"` // features and rules looked at
}
