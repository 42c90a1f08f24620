package plan

import (
	"time"

	"caul/job"
	"caul/job/measure"
)

// Plan is what to do when, over every open job of the shop.
type Plan struct {
	Now   time.Time `json:"now"`
	Until time.Time `json:"until"` // end of the planned horizon
	Jobs  []JobPlan `json:"jobs"`
	Items []Item    `json:"items"` // by beginning, then job, then step

	Proved   bool          `json:"proved"`             // no plan finishes earlier
	Earliest time.Time     `json:"earliest,omitzero"`  // no plan can finish before; zero with Never
	Within   time.Duration `json:"within"`             // finish is at most this much later than the earliest possible
	SetUps   int           `json:"set_ups"`            // changes of set-up
	Chain    []Link        `json:"chain,omitempty"`    // why it finishes then and not earlier
	Helps    []Help        `json:"helps,omitempty"`    // what would help, best first
	Never    []Never       `json:"never,omitempty"`    // joints too cold to set; what waits for them is not in Items
	Warnings []string      `json:"warnings,omitempty"` // cold nights, doubts in the log
	Days     []Day         `json:"days"`               // hours the shop is open, for the day sheet

	shop *job.Shop // what clamps and places are called
}

// JobPlan is one job's part of the plan.
type JobPlan struct {
	Job     string        `json:"job"`
	Name    string        `json:"name"`
	Finish  time.Time     `json:"finish,omitzero"` // zero with Never
	Never   bool          `json:"never,omitempty"` // it waits for a glue that does not set: see Plan.Never
	Due     time.Time     `json:"due,omitzero"`
	Late    time.Duration `json:"late,omitempty"`
	Done    bool          `json:"done"`
	HandsOn measure.Span  `json:"hands_on"` // still to do, the setting of machines left out
	// SettingUp is the time for the machine settings in this plan.
	SettingUp measure.Span `json:"setting_up,omitempty"`
}

// Kind says what an item takes: the maker, or only time.
type Kind string

// The kinds of item.
const (
	Bench     Kind = "bench"      // hands on
	ClampsOff Kind = "clamps off" // hands on: taking the clamps off
	Clamped   Kind = "in clamps"  // unattended: holds clamps and place
	Cure      Kind = "curing"     // unattended: holds nothing
	Wait      Kind = "wait"       // unattended: another lag, such as between coats
)

// Item is one stretch of the plan.
type Item struct {
	Job      string         `json:"job"`
	Step     string         `json:"step"`
	Name     string         `json:"name"`
	Kind     Kind           `json:"kind"`
	From     time.Time      `json:"from"`
	To       time.Time      `json:"to"`
	Sessions []Stretch      `json:"sessions,omitempty"` // hands-on stretches when it is split over sessions
	SetUp    string         `json:"set_up,omitempty"`
	Change   measure.Span   `json:"change,omitempty"`   // set-up time included at the beginning
	Settings []Setting      `json:"settings,omitempty"` // of machines, in the order they are made
	Clamps   map[string]int `json:"clamps,omitempty"`
	Place    string         `json:"place,omitempty"`
	Started  bool           `json:"started,omitempty"` // read from the log, not planned
	Earliest time.Time      `json:"earliest,omitzero"` // waits: the moment the glue allows
	Latest   time.Time      `json:"latest,omitzero"`   // last moment a most-lag allows
	Because  string         `json:"because,omitempty"` // what it waited for
	Never    bool           `json:"never,omitempty"`   // waits: the air stays too cold; there is no Earliest, and To is where the plan ends
	act      int            // activity it was read from, 0 for what runs by itself
}

// Stretch is a span of wall-clock time.
type Stretch struct {
	From time.Time `json:"from"`
	To   time.Time `json:"to"`
}

// Day is one date of the plan with its shop windows.
type Day struct {
	Date    time.Time `json:"date"` // local midnight
	Windows []Stretch `json:"windows"`
	Why     string    `json:"why,omitempty"`
}

// Link is one step of the chain that binds the finish.
type Link struct {
	Item int    `json:"item"` // index into Items
	Text string `json:"text"` // in shop words
	// Busy is set where nothing but the maker's own hands stood in the way: it
	// follows at once on what was done before.
	Busy bool `json:"busy,omitempty"`
}

// Help is one change to the shop and the finish it would give.
type Help struct {
	Change string        `json:"change"`
	Finish time.Time     `json:"finish"`
	Saves  time.Duration `json:"saves"`
	// LessLate is by how much less the jobs are late, added up by their weights.
	LessLate time.Duration `json:"less_late,omitempty"`
	Proved   bool          `json:"proved"`
}

// Timer is something that runs by itself: clamps, cure, a wait.
type Timer struct {
	Job    string         `json:"job"`
	Step   string         `json:"step"`
	Name   string         `json:"name"`
	Kind   Kind           `json:"kind"`
	Since  time.Time      `json:"since"`
	Ready  time.Time      `json:"ready"`           // when the glue allows it
	Never  bool           `json:"never,omitempty"` // the air stays too cold for it; Ready is beyond every plan and not in JSON
	Clamps map[string]int `json:"clamps,omitempty"`
	Place  string         `json:"place,omitempty"`
	Note   string         `json:"note,omitempty"` // "colder than the glue's lowest until 07:00"
}

// Choice is a step that can be begun now.
type Choice struct {
	Job      string       `json:"job"`
	Step     string       `json:"step"`
	Name     string       `json:"name"`
	State    job.State    `json:"state"`
	Takes    measure.Span `json:"takes"` // with any change of set-up
	SetUp    string       `json:"set_up,omitempty"`
	Fits     bool         `json:"fits"`  // in the time asked for
	Helps    bool         `json:"helps"` // it is on the chain that binds the finish
	Why      string       `json:"why,omitempty"`
	Cautions []string     `json:"cautions,omitempty"`
	Latest   time.Time    `json:"latest,omitzero"`
	Off      bool         `json:"off,omitempty"` // it is the taking off of clamps
}

// Blocked is a step that cannot be begun now, and by what.
type Blocked struct {
	Job   string    `json:"job"`
	Step  string    `json:"step"`
	Name  string    `json:"name"`
	By    string    `json:"by"`
	Until time.Time `json:"until,omitzero"`
}

// DueCheck is a reading whose time has come.
type DueCheck struct {
	Job   string    `json:"job"`
	Check string    `json:"check"`
	Last  time.Time `json:"last,omitzero"`
	Due   time.Time `json:"due"`
	Text  string    `json:"text"`
}

// Now answers "what can I do in the next so many minutes".
type Now struct {
	At      time.Time    `json:"at"`
	For     measure.Span `json:"for"`
	Open    bool         `json:"open"` // within shop hours
	Next    time.Time    `json:"next_open,omitzero"`
	Timers  []Timer      `json:"timers"`
	OnBench []Choice     `json:"on_bench"`
	CanDo   []Choice     `json:"can_do"`
	Blocked []Blocked    `json:"blocked"`
	Checks  []DueCheck   `json:"checks,omitempty"`
	Doubts  []string     `json:"doubts,omitempty"`
	Finish  time.Time    `json:"finish,omitzero"`

	shop *job.Shop // what clamps and places are called
}
