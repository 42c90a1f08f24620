package cutting

import (
	"caul/job"
	"caul/job/layout"
	"caul/job/measure"
)

// Cut is the layout of every part still to be cut, and the order of cuts.
type Cut struct {
	Jobs   []string       `json:"jobs"`
	Sheets []Sheet        `json:"sheets"`
	Buy    []Buy          `json:"buy"`
	Order  []Step         `json:"order"`
	Cost   measure.Money  `json:"cost"`
	Proved bool           `json:"proved"` // no layout costs less
	Fewest int            `json:"fewest"` // no layout uses fewer pieces of stock than this
	Answer string         `json:"answer"` // "proved: no layout uses fewer", "at most 1 more than the fewest possible"
	Unfit  []Unfit        `json:"unfit,omitempty"`
	Warn   []string       `json:"warnings,omitempty"`
	Kerf   measure.Length `json:"kerf"`
	Result *layout.Result `json:"-"`
}

// Sheet is one piece of stock and what comes from it.
type Sheet struct {
	Name    string         `json:"name"` // "birch-ply-1/2 sheet 1"
	Stock   string         `json:"stock"`
	Piece   string         `json:"piece,omitempty"` // id on the shelf, empty: to buy
	Length  measure.Length `json:"length"`          // along the grain
	Width   measure.Length `json:"width"`
	Thick   measure.Length `json:"thick"`
	Grain   bool           `json:"grain"`
	Placed  []Placed       `json:"placed"`
	Offcuts []Rect         `json:"offcuts"`
	Defects []Rect         `json:"defects,omitempty"`
	Cuts    []Line         `json:"cuts"`
	Yield   float64        `json:"yield"` // 0..1
}

// Rect is a rectangle on a sheet: from its left end and near edge.
type Rect struct {
	X, Y, L, W measure.Length
	Keep       bool // large enough to keep
	Name       string
}

// Placed is one part on a sheet.
type Placed struct {
	Job, Part string
	N         int // which of the part's copies, from 1
	Rect
	Turned bool
	Note   string // "measure, then cut", "1/8 left on all round"
}

// Line is one saw cut as drawn.
type Line struct {
	N              int // number in the cutting order
	X1, Y1, X2, Y2 measure.Length
}

// Step is one cut of the order.
type Step struct {
	N       int            `json:"n"`
	Sheet   int            `json:"sheet"` // index into Sheets
	Piece   string         `json:"piece"` // what lies on the saw: "sheet 1", "strip A"
	Kind    string         `json:"kind"`  // rip or crosscut
	Fence   measure.Length `json:"fence"`
	SameAs  bool           `json:"same_fence"` // fence not moved since the cut before
	Gives   []string       `json:"gives"`      // what falls off, and where it goes next
	Caution string         `json:"caution,omitempty"`
}

// Buy is stock to be bought for the layout.
type Buy struct {
	Stock string        `json:"stock"`
	Qty   int           `json:"qty"`
	Each  measure.Money `json:"each"`
	Cost  measure.Money `json:"cost"`
	Price bool          `json:"priced"`
}

// Unfit is a part no stock can give.
type Unfit struct {
	Job, Part string
	Why       string
	At        job.Pos
	Hint      string
}
