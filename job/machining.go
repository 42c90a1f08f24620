package job

// Face is a face or edge of a part, as a maker would name it with the part
// lying face up, its length running left to right.
type Face string

// The six faces of a part. Length runs from left-end to right-end, width from
// near-edge to far-edge, thickness from back up to face.
const (
	FaceTop  Face = "face"
	FaceBack Face = "back"
	EdgeNear Face = "near-edge"
	EdgeFar  Face = "far-edge"
	EndLeft  Face = "left-end"
	EndRight Face = "right-end"
)

// Feature is one thing machined into a part.
type Feature struct {
	Kind    string // groove, dado, rabbet, dovetail, hole, slot, chamfer, round-over, taper, angle-cut
	ID      string
	On      Face
	Cutter  string
	Machine string
	Depth   Dim
	Through bool
	Width   Dim    // unset: the cutter's
	Along   string // length or width: the way a groove runs
	From    Face   // the edge or end offsets are measured from
	Offset  Dim    // to the centre of the groove
	Start   Dim    // stopped: where it begins, from the left end or near edge
	Stop    Dim    // stopped: where it ends
	Edges   []Face // chamfer, round-over, rabbet
	Radius  Dim
	Angle   float64 // degrees: dovetail side, chamfer, angle-cut from square as seen on the face
	Tilt    float64 // angle-cut: degrees the blade is tilted
	To      [2]Dim  // taper: widths left at the left and the right end
	Note    string

	// Holes and slots.
	Points      []Point
	Diameter    Dim
	Screw       string // hardware item that goes through or into it
	Pilot       bool
	Counterbore *Bore
	Countersink *Bore
	Mates       string // part/feature id this pattern must line up with

	Before string // step before which it is cut
	At     Pos
}

// Bore is the wider mouth of a hole.
type Bore struct {
	Cutter   string
	Diameter Dim
	Depth    Dim
	On       Face
	At       Pos
}

// Point is a place on a face: along the length and across the width (or the
// two axes of an edge), from the left end and the near edge; on an edge Y is
// the thickness from the back, on an end X is the width and Y the thickness.
type Point struct {
	X, Y Dim
	At   Pos
}
