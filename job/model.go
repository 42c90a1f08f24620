package job

import (
	"time"

	"caul/job/measure"
)

// Job is one build: a folder under jobs/.
type Job struct {
	ID  string // folder name
	Dir string // slash-separated, relative to the shop
	At  Pos

	Name    string
	For     string
	Copies  int
	Due     time.Time // zero when none
	Weight  int       // how much lateness counts against other jobs, 1 unless given
	Species string    // default stock species where a part names none

	Units    *measure.System // of bare numbers in the job's files; nil: the shop's
	Measures []Measure
	Parts    []Part
	Hardware []Hardware
	GlueUps  []GlueUp
	Steps    []Step
	Checks   []Check
	Fittings []Fitting
	Consumes []Consumable
	Assembly []Fit // sums of parts against what they fill
	Build    Build
	Log      []Entry // in order of time, then file name
	Cautions []string
}

// Part is one kind of part; Qty of them in each copy of the jig.
type Part struct {
	ID, Name     string
	Qty          int
	Size         [3]Dim // along the grain, across, thick: finished
	From         string // stock id
	SameSheet    string // group that must come from one sheet or board
	Turn         bool   // grain does not matter for this part
	Oversize     Dim    // left on each of length and width until trimmed after the glue-up
	FitToMeasure bool   // measure, then cut
	Held         string // how a part too small for the hand is held at a machine: in a jig, in a longer piece
	Web          Dim    // least wood behind and beside its cuts; unset: by material
	Solid        *bool  // overrides what the stock's form says (solid wood moves across the grain)
	Machining    []Feature
	Note         string
	At           Pos
}

// Hardware is bought and fitted, not cut.
type Hardware struct {
	Item  string // price-book item; screws are named by kind-number x length, as screw-8x1-1/4
	Qty   int    // in each copy
	Step  string // step that uses it
	Joins []string
	Metal bool
	Note  string
	At    Pos
}

// GlueUp is a glue joint made in one go; it is a step of the same id.
type GlueUp struct {
	ID      string
	Joins   []string
	Glue    string // generic type or id in glues.yaml
	Bond    string // as written: "2 x 46 x 3/4"
	Area    measure.Area
	Count   int
	BondDim [2]Dim
	Faces   []string
	Clamps  map[string]int // kind of clamp -> how many
	Auto    bool           // clamps: auto
	Caul    Dim            // thickness of the caul under the clamps
	Place   string
	Spread  measure.Span // time to spread and close, when known
	Scrape  *Lag         // squeeze-out: between least and most after clamping
	At      Pos
}

// Step is something the maker does.
type Step struct {
	ID, Name string
	Takes    measure.Span
	SetUp    string // as written: "table saw, rip fence 3-1/2"
	Machine  string // machine id the set-up names
	State    string // the set-up without its machine, normalised
	After    []Lag
	Split    bool           // may be stopped and taken up again
	Uses     []string       // part ids
	Needs    map[string]int // clamps or other counted things held while under way
	Place    string
	GlueUp   *GlueUp // set when the step is a glue-up
	Finish   bool    // puts a finish on
	Optional bool
	At       Pos
}

// LagFrom says which moment of a step a lag counts from.
type LagFrom string

// The moments of a step.
const (
	FromDone     LagFrom = "done"
	FromBegun    LagFrom = "begun"
	FromClampsOn LagFrom = "clamps-on"
	FromOff      LagFrom = "clamps-off"
	FromCured    LagFrom = "cured"
)

// Lag orders one step after another: least and most time from a moment of the
// earlier to the beginning of the later.
type Lag struct {
	Step    string
	From    LagFrom
	Least   measure.Span
	Most    measure.Span // zero: no limit
	HasMost bool
	Src     string
	At      Pos
}

// Check is a reading that proves the jig true.
type Check struct {
	ID      string
	Measure string // what is measured, in words
	AtMost  Dim
	AtLeast Dim
	Nominal Dim
	Within  Dim
	FiveCut bool   // a five-cut reading: four widths
	Pivot   Dim    // distance from the fence's pivot to where it is shimmed
	Every   string // "3 months", "seasonal", "20 uses"
	At      Pos
}

// Fitting is an interchangeable piece of a jig.
type Fitting struct {
	ID     string    `json:"id"`
	Name   string    `json:"name,omitempty"`
	Kind   string    `json:"kind,omitempty"` // insert, stop, fence, template, ...
	Blade  string    `json:"blade,omitempty"`
	Cutter string    `json:"cutter,omitempty"`
	Angle  float64   `json:"angle"` // degrees of blade tilt or mitre
	Cut    time.Time `json:"cut,omitzero"`
	Kerf   Dim       `json:"kerf"` // kerf that cut it
	Hangs  string    `json:"hangs,omitempty"`
	At     Pos       `json:"at"`
}

// Consumable is used by measure: finish, abrasive, glue beyond the glue-ups.
type Consumable struct {
	Item   string
	Amount string
	Area   string
	Step   string
	At     Pos
}

// Fit says that parts side by side fill a length.
type Fit struct {
	ID    string
	Fills Dim
	Parts []FitPart
	Slack Dim
	At    Pos
}

// FitPart is one term of a Fit.
type FitPart struct {
	Part string
	Axis string // length, width, thick
	Qty  int
	Dim  Dim // a plain length instead of a part
	At   Pos
}

// Build is build.md: prose and task lists under step headings.
type Build struct {
	File     string
	Data     []byte
	Sections []Section
}

// Section is the text under one heading; Step is the id of the step the
// heading names, or empty for the story.
type Section struct {
	Heading string
	Level   int
	Step    string
	Body    string // Markdown below the heading, without it
	Tasks   []Task
	At      Pos
}

// Task is one task-list item.
type Task struct {
	Text string
	Done bool
	Byte int // offset in build.md of the character between the brackets
	At   Pos
}

// Entry is one log entry: something that happened, in its own file.
type Entry struct {
	File     string // slash path relative to the shop
	ID       string // file name without .md
	Time     time.Time
	Written  time.Time // when it was written down, where that is not Time; see WrittenAt
	Machine  string    // who wrote it, from the file name
	Did      string    // see the Did constants
	Step     string
	Entry    string // undid: the entry it takes back
	Check    string
	Value    Dim
	Five     []Dim // five-cut readings: A, B, and L
	Air      *measure.Temperature
	Clamps   map[string]int
	Item     string // bought, used: price-book item; cut, spoiled: part id
	Qty      int
	Paid     *measure.Money
	Minutes  measure.Span
	Private  bool
	Text     string // prose below the front matter
	Pictures []Picture
	Tap      string // id of the tap on the bench page that made it, for applying once
	At       Pos

	places map[string]Pos // where it names a step, a check, an item, a clamp
}

// Picture is an image a log entry or build.md shows.
type Picture struct {
	File string // slash path relative to the shop
	Alt  string
}

// What an entry says was done.
const (
	DidBegin   = "began"
	DidClamp   = "clamped"
	DidUnclamp = "unclamped"
	DidFinish  = "finished"
	DidUndo    = "undid"
	DidAside   = "set-aside"
	DidResume  = "took-up"
	DidNote    = "noted"
	DidRead    = "read"
	DidBuy     = "bought"
	DidUse     = "used"
	DidCut     = "cut"
	DidSpoil   = "spoiled"
	DidAir     = "air"
)

// State is what a step is in now.
type State string

// The states of a step.
const (
	Waiting  State = "waiting"
	Ready    State = "ready"
	OnBench  State = "on the bench"
	InClamps State = "in clamps"
	Curing   State = "curing"
	Done     State = "done"
	Aside    State = "set aside"
)

// StepState is a step's state read from the log, with the instants that made
// it. Whether a wait is over (waiting or ready, curing or done) depends on the
// clock and the air, so it is worked out by job/plan from these instants.
type StepState struct {
	Step      string
	State     State // without waits: Waiting stands for anything not begun
	Begun     time.Time
	Clamped   time.Time
	Unclamped time.Time
	Finished  time.Time
	Air       *measure.Temperature // as logged at clamping
	Held      map[string]int       // clamps on, as logged
	Entries   []string             // entry ids that count
}

// Doubt is a contradiction in the log, told and not hidden.
type Doubt struct {
	Entry Pos
	Text  string
	Hint  string
}
