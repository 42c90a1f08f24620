package job

import (
	"time"

	"caul/job/measure"
)

// Pos is a place in a file of the shop: slash-separated path relative to the
// shop's folder, line and column counted from 1, columns in characters.
type Pos struct {
	File string `json:"file,omitempty"`
	Line int    `json:"line,omitempty"`
	Col  int    `json:"col,omitempty"`
}

// Dim is a length as written: its value, the text it came from (a plain length
// or a sum over named measures) and where it stands. Set is false where the
// file gives none.
type Dim struct {
	measure.Length
	Set   bool
	Exact bool   // the value is not rounded
	Src   string // as written
	At    Pos
}

// Shop is one shop folder, read whole.
type Shop struct {
	Dir  string // absolute folder
	Name string
	At   Pos

	Units Units
	Zone  *time.Location
	Hours Hours
	Air   Air

	Clamps   []Clamp
	Places   []Place
	Machines []Machine
	Cutters  []Cutter
	Blades   []Blade
	Measures []Measure // named lengths of this maker's own shop: slot widths, true ply thickness

	Stock  []Stock
	Shelf  []Shelf // hardware, glue, finish on hand
	Prices Prices
	Glues  []GlueLabel // the user's own label figures, from glues.yaml

	Sharing Sharing
	Jobs    []*Job // by id
}

// Units are the shop's habits of writing numbers.
type Units struct {
	Length measure.Units
	Temp   string // "C" or "F"
	Money  string // ISO 4217
}

// Hours are the windows in which the maker is in the shop.
type Hours struct {
	At     Pos
	Week   map[time.Weekday][]Window // local time of day
	Except []DayHours                // dates that differ: holidays (no windows) or extra sessions
	Least  measure.Span              // shortest session worth giving a step that may be stopped; zero: the usual figure
}

// Window is a stretch of one day, in minutes after local midnight; To may be
// 1440 but never past it.
type Window struct {
	From, To int
	At       Pos
}

// DayHours replaces the week's windows on one date.
type DayHours struct {
	Date    time.Time // local midnight
	Windows []Window  // empty: the shop is shut
	Why     string
	At      Pos
}

// Air is the shop's air through a usual day: a step per change, and readings
// logged on a job override it from then until the profile's next step.
type Air struct {
	At       Pos
	Steps    []AirStep // by time of day; empty means a steady 20 C
	Humidity int       // percent, 0 when not given
	Season   []SeasonAir
}

// AirStep is the temperature from a time of day on.
type AirStep struct {
	From int // minutes after local midnight
	Temp measure.Temperature
	At   Pos
}

// SeasonAir is the humidity range the jig will live through.
type SeasonAir struct {
	Name     string
	Temp     measure.Temperature
	Humidity int
	At       Pos
}

// Clamp is one kind of clamp and how many the shop owns.
type Clamp struct {
	ID, Name string
	Kind     string // trade kind, see glue clamp figures: bar, pipe, parallel-jaw, f-style, spring, c-clamp, ...
	Qty      int
	Opening  Dim // longest reach between the jaws
	Pad      Dim // width of the pad
	Force    int // newtons, 0: usual figure for the kind
	At       Pos
}

// Place is somewhere a glue-up can sit: one at a time each.
type Place struct {
	ID, Name string
	Qty      int // how many glue-ups fit at once
	At       Pos
}

// Machine is a machine of the shop.
type Machine struct {
	ID, Name string
	Kind     string       // table-saw, router-table, router, drill-press, band-saw, planer, jointer, mitre-saw, hand, ...
	SetUp    measure.Span // minutes to change its set-up; zero: the usual figure
	Move     measure.Span // minutes to move fence, height or stops with the cutter left in; zero: SetUp, or the usual figure
	Table    Dim          // largest piece it takes across (saw: rip capacity)
	SlotFrom Dim          // table saw: near wall of the mitre slot to the blade
	Slot     Dim          // width of the mitre slot
	SlotDeep Dim
	At       Pos
}

// Cutter is a router bit, a boring bit or a countersink.
type Cutter struct {
	ID, Name string
	Kind     string // straight, spiral, dovetail, round-nose, flush-trim, chamfer, round-over, v-groove, brad, forstner, twist, countersink, dado-set
	Diameter Dim
	Length   Dim // cutting length
	Shank    Dim
	Radius   Dim
	Angle    float64 // degrees; dovetail: of one side, countersink and v-groove: included
	At       Pos
}

// Blade is a saw blade.
type Blade struct {
	ID, Name string
	Machine  string
	Kerf     Dim
	Teeth    int
	At       Pos
}

// Measure is one named length, possibly a sum of others.
type Measure struct {
	Name string
	Dim
	Ask  string // what a reader who takes the build in is asked
	Note string
}

// Stock is a kind of material: a sheet good, rough or surfaced lumber, a rod,
// with what is on hand of it.
type Stock struct {
	ID, Name string
	Form     string   // sheet, board, rod
	Species  string   // wood species or sheet kind, for weight and movement
	Nominal  string   // "4/4", "3/4", as sold
	Size     [3]Dim   // along the grain, across, thick; of a bought piece
	Thick    Dim      // measured thickness, where it differs from the nominal
	Grain    bool     // parts must follow the grain unless they say otherwise
	Trim     Dim      // edge trim left on every side of a bought piece
	Surfaced bool     // boards: already dressed
	Price    string   // item in the price book that buys one piece
	Also     []string // other kinds of stock that do as well: the same thing in another size
	OnHand   []Piece
	At       Pos
}

// Piece is something on the shelf: a whole sheet, a board of random width, an
// offcut.
type Piece struct {
	ID      string
	Size    [3]Dim // thick may be unset: as the stock
	Qty     int
	Offcut  bool
	Where   string
	Defects [][4]Dim // x, y, length, width to keep clear of
	At      Pos
}

// Shelf is hardware, or something bought by measure, that is on hand.
type Shelf struct {
	Item   string // price-book item
	Qty    int
	Amount string // "300 ml" where it is measured and not counted
	Where  string
	At     Pos
}

// Prices is the price book.
type Prices struct {
	At    Pos
	Items []Price
	Tax   string        // percent as a decimal, "8.25"
	Rate  measure.Money // an hour of the maker's time, zero when not wanted
}

// Price is what one supplier asks for one pack of one item.
type Price struct {
	Item     string
	Supplier string
	Pack     int    // pieces in a pack (or Amount for things bought by measure)
	Amount   string // "1 l", "500 ml", "10 m": for glue, finish, abrasive
	Price    measure.Money
	Breaks   []Break
	Date     time.Time
	At       Pos
}

// Break is a lower price from a number of packs on.
type Break struct {
	From  int
	Price measure.Money
	At    Pos
}

// GlueLabel is what the bottle on the user's shelf says.
type GlueLabel struct {
	ID, Name string
	Type     string // generic type it starts from
	Open     measure.Span
	Closed   measure.Span
	Clamp    []LabelPoint
	Cure     []LabelPoint // before machining
	Lowest   *measure.Temperature
	Spread   int    // grams per square metre, one face
	Item     string // price-book item
	At       Pos
}

// LabelPoint is a time the label gives at a temperature.
type LabelPoint struct {
	Temp measure.Temperature
	Time measure.Span
	At   Pos
}

// Sharing is what the shop allows to go out.
type Sharing struct {
	Author string   // as it stands on a shared build
	Never  []string // words that never go out: a street, a name, a supplier
	At     Pos
}
