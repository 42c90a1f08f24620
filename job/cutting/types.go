package cutting

import (
	"caul/job"
	"caul/job/layout"
	"caul/job/measure"
)

// Cut is the layout of every part still to be cut, and the order of cuts.
type Cut struct {
	Jobs     []string       `json:"jobs"`
	Mark     string         `json:"mark"` // short, differs where the layout differs
	Sheets   []Sheet        `json:"sheets"`
	Buy      []Buy          `json:"buy"`
	Order    []Step         `json:"order"`
	Panels   []Panel        `json:"panels,omitempty"` // glued up from strips because no board is wide enough
	Cost     measure.Money  `json:"cost"`
	Proved   bool           `json:"proved"`   // no layout costs less
	Fewest   int            `json:"fewest"`   // no layout uses fewer pieces of stock than this
	Answer   string         `json:"answer"`   // "proved: no layout uses fewer", "at most 1 more than the fewest possible"
	Settings int            `json:"settings"` // how often the fence or the stop is set
	Yield    float64        `json:"yield"`    // share of all stock used that ends in parts, 0..1
	Already  []Already      `json:"already,omitempty"`
	Unfit    []Unfit        `json:"unfit,omitempty"`
	Warn     []string       `json:"warnings,omitempty"`
	Cautions []string       `json:"cautions,omitempty"` // what holds for every cut of the order
	Kerf     measure.Length `json:"kerf"`
	KerfFrom string         `json:"kerf_from,omitempty"` // whose kerf it is: a blade of the shop or a usual figure
	Result   *layout.Result `json:"-"`                   // of the first kind of stock
	Results  []Solved       `json:"-"`                   // one a kind of stock
}

// Solved is the layout problem of one kind of stock and the engine's answer, in
// units of Unit.
type Solved struct {
	Stock   string
	Unit    measure.Length
	Problem *layout.Problem
	Result  *layout.Result
}

// Sheet is one piece of stock and what comes from it.
type Sheet struct {
	Name    string         `json:"name"`  // "birch-ply-1/2 sheet 1"
	Label   string         `json:"label"` // short, unique in this layout: "1"
	Stock   string         `json:"stock"`
	Form    string         `json:"form"`            // sheet, board, rod
	Piece   string         `json:"piece,omitempty"` // id on the shelf, empty: to buy
	Where   string         `json:"where,omitempty"` // where it lies
	Length  measure.Length `json:"length"`          // along the grain
	Width   measure.Length `json:"width"`
	Thick   measure.Length `json:"thick"`
	Trim    measure.Length `json:"trim,omitempty"` // taken off every edge
	Grain   bool           `json:"grain"`
	Placed  []Placed       `json:"placed"`
	Offcuts []Rect         `json:"offcuts"`
	Defects []Rect         `json:"defects,omitempty"`
	Cuts    []Line         `json:"cuts"`
	Yield   float64        `json:"yield"` // 0..1
}

// Rect is a rectangle on a sheet: from its left end and near edge.
type Rect struct {
	X    measure.Length `json:"x"`
	Y    measure.Length `json:"y"`
	L    measure.Length `json:"l"` // along the sheet's grain
	W    measure.Length `json:"w"`
	Keep bool           `json:"keep,omitempty"` // large enough to keep
	Name string         `json:"name,omitempty"`
}

// Placed is one part on a sheet.
type Placed struct {
	Job  string `json:"job"`
	Part string `json:"part"`
	N    int    `json:"n"` // which of the part's copies, from 1
	Rect
	Turned bool   `json:"turned,omitempty"`
	Note   string `json:"note,omitempty"`   // "measure, then cut", "1/8 left on length and width"
	Strip  int    `json:"strip,omitempty"`  // which strip of a panel, from 1
	Strips int    `json:"strips,omitempty"` // how many strips the panel has
}

// Panel is a part glued up from strips.
type Panel struct {
	Job    string         `json:"job"`
	Part   string         `json:"part"`
	Qty    int            `json:"qty"` // panels still to glue up
	Strips int            `json:"strips"`
	Strip  measure.Length `json:"strip"` // width of each strip, jointed
	Rough  measure.Length `json:"rough"` // width each strip is sawn to
	Text   string         `json:"text"`
}

// Already is a part that is cut and so left out of the layout.
type Already struct {
	Job  string `json:"job"`
	Part string `json:"part"`
	Qty  int    `json:"qty"`
	Why  string `json:"why"` // "logged as cut", "core has been clamped"
}

// Line is one saw cut as drawn, along the middle of the kerf.
type Line struct {
	N  int            `json:"n"` // number in the cutting order
	X1 measure.Length `json:"x1"`
	Y1 measure.Length `json:"y1"`
	X2 measure.Length `json:"x2"`
	Y2 measure.Length `json:"y2"`
}

// The kinds of cut.
const (
	Rip      = "rip"
	Crosscut = "crosscut"
)

// Step is one cut of the order.
type Step struct {
	N       int            `json:"n"`
	Sheet   int            `json:"sheet"` // index into Sheets
	Piece   string         `json:"piece"` // what lies on the saw: "sheet 1", "1A"
	Kind    string         `json:"kind"`  // rip or crosscut
	Fence   measure.Length `json:"fence"` // rip: fence to blade; crosscut: stop to blade
	SameAs  bool           `json:"same_fence"`
	Gives   []string       `json:"gives"` // what falls off, and where it goes next
	Out     []Out          `json:"out"`   // the same, to be written in any units
	Trim    bool           `json:"trim,omitempty"`
	Caution string         `json:"caution,omitempty"`
	Note    string         `json:"note,omitempty"` // "measure, then cut", "wider than the saw takes"
}

// Out is one piece a cut leaves.
type Out struct {
	What string         `json:"what"` // part, strip, rest, offcut, waste
	Name string         `json:"name"`
	L    measure.Length `json:"l"`
	W    measure.Length `json:"w"`
	Next int            `json:"next,omitempty"` // number of the cut it goes to, 0: none
	Rod  bool           `json:"rod,omitempty"`  // only its length counts
}

// Buy is stock to be bought for the layout.
type Buy struct {
	Stock string        `json:"stock"`
	Item  string        `json:"item,omitempty"` // in the price book
	Qty   int           `json:"qty"`
	Each  measure.Money `json:"each"`
	Cost  measure.Money `json:"cost"`
	Price bool          `json:"priced"`
}

// Unfit is a part no stock can give.
type Unfit struct {
	Job  string  `json:"job"`
	Part string  `json:"part"`
	Qty  int     `json:"qty"`
	Why  string  `json:"why"`
	At   job.Pos `json:"at"`
	Hint string  `json:"hint"`
}
