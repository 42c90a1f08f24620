package plan

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"caul/job"
	"caul/job/glue"
	"caul/job/measure"
)

// GlueUpSheet is one glue-up of a job worked out for an hour.
type GlueUpSheet struct {
	Job    string         `json:"job"`
	Step   string         `json:"step"`
	Name   string         `json:"name"`
	Glue   string         `json:"glue"`
	Class  string         `json:"class,omitempty"` // water resistance, EN 204
	At     time.Time      `json:"at"`
	Bond   string         `json:"bond"`  // how the area was found, in words
	Lines  int            `json:"lines"` // glue lines, reckoned as one behind the other between the same jaws
	Parts  []string       `json:"parts"` // for the dry fit
	Place  string         `json:"place,omitempty"`
	Auto   bool           `json:"auto"`             // the clamps are chosen here: the job says `clamps: auto`
	Take   []string       `json:"clamps"`           // which of the shop's clamps
	Jaws   measure.Length `json:"jaws,omitempty"`   // how far the jaws stand apart, where the job says what lies behind what
	Cauled bool           `json:"cauled,omitempty"` // with a caul on both sides between them
	Hands  string         `json:"hands"`            // where the time to spread and to close is from
	Sheet  *glue.Sheet    `json:"sheet"`
	Why    string         `json:"why"` // how the air made the waits what they are
}

// Hands-on minutes for spreading and closing where the job does not say:
// three in five of the step's time go to spreading and closing, the rest to
// laying out and tightening up (common practice, no source).
const (
	spreadShare = 2
	closeShare  = 1
	allShares   = 5
)

// GlueSheet works out a glue-up begun at an instant, in the shop's air of that
// hour. It errs when the joint has no area: neither `bond:` nor `faces:`.
func GlueSheet(shop *job.Shop, j *job.Job, step *job.Step, at time.Time) (*GlueUpSheet, error) {
	up := step.GlueUp
	if up == nil {
		return nil, fmt.Errorf("%s: %s is not a glue-up", posWords(step.At), step.ID)
	}
	a, err := newAir(shop, at)
	if err != nil {
		return nil, err
	}
	g, err := a.gluing(up)
	if err != nil {
		return nil, err
	}
	b, err := BondOf(j, up)
	if err != nil {
		return nil, err
	}
	ask := glue.Ask{Glue: g.k, Start: at, Air: a.air, Bond: b.Area, Lines: b.Lines, Length: b.Long, Width: b.Wide,
		ToLine: b.ToLine, Caul: up.Caul.Length, Units: shop.Units.Length}
	ask.Spread, ask.Close = handsFor(step)
	take := up.Clamps
	if up.Auto && !g.k.Clamp.None() {
		take = autoClamps(shop, j, up, g.k)
	}
	apart, sure := jawsApart(j, up)
	var short []string
	for _, c := range shop.Clamps {
		n, named := take[c.ID]
		if !named && len(take) > 0 {
			continue
		}
		if !named {
			n = c.Qty
		}
		if reaches(&c, apart) {
			own(&ask, c, min(n, c.Qty))
		} else if named && n > 0 {
			own(&ask, c, min(n, c.Qty)) // who wrote them down knows the joint
			if sure || up.Auto {
				short = append(short, tooShort(shop, &c, apart, sure))
			}
		}
	}
	s, err := glue.Work(ask)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", posWords(up.At), err)
	}
	out := &GlueUpSheet{Job: j.ID, Step: step.ID, Name: cmp.Or(step.Name, step.ID), Glue: g.k.Name, Class: g.k.Class, At: at,
		Bond: b.Words, Lines: b.Lines, Auto: up.Auto, Place: up.Place, Hands: handsWords(step), Sheet: s, Why: s.ClampsOff.Why(a.scale)}
	if sure {
		out.Jaws, out.Cauled = apart, up.Caul.Length > 0
	}
	for _, id := range up.Joins {
		if p := j.Part(id); p != nil {
			out.Parts = append(out.Parts, fmt.Sprintf("%d %s", p.Qty, cmp.Or(p.Name, p.ID)))
		}
	}
	for _, c := range shop.Clamps {
		if n := take[c.ID]; n > 0 {
			out.Take = append(out.Take, fmt.Sprintf("%d %s", n, cmp.Or(c.Name, c.ID)))
		}
	}
	s.Warnings = append(s.Warnings, short...)
	s.Warnings = append(s.Warnings, s.ClampsOff.Warnings(a.scale)...)
	return out, nil
}

// handsFor splits a glue-up's hands-on time into spreading and closing; the
// job's own `spread:` is the time for both.
func handsFor(step *job.Step) (spread, closing measure.Span) {
	if t := step.GlueUp.Spread; t > 0 {
		return t * spreadShare / (spreadShare + closeShare), t * closeShare / (spreadShare + closeShare)
	}
	return step.Takes * spreadShare / allShares, step.Takes * closeShare / allShares
}

// handsWords says where handsFor has its time from.
func handsWords(step *job.Step) string {
	if t := step.GlueUp.Spread; t > 0 {
		return fmt.Sprintf("`spread: %v`: two thirds to spread, a third to close", t)
	}
	if step.Takes <= 0 {
		return "not counted: the step says nowhere what it `takes:`, and its glue-up has no `spread:`"
	}
	return fmt.Sprintf("reckoned: two fifths of `takes: %v` to spread, one fifth to close; once you have timed it, write `spread:`, the time for both", step.Takes)
}

// OpenTime is how long the glue of a joint stays open in the shop's air of an
// instant; zero when the glue has none or is not known.
func OpenTime(shop *job.Shop, up *job.GlueUp, at time.Time) measure.Span {
	a, err := newAir(shop, at)
	if err != nil {
		return 0
	}
	g, err := a.gluing(up)
	if err != nil || g.k.Open.None() {
		return 0
	}
	return g.k.Open.At(a.air.At(at))
}

// Bond is where a glue-up's parts meet.
type Bond struct {
	Area       measure.Area
	Lines      int
	Long, Wide measure.Length // of one glue line
	ToLine     measure.Length // from the clamp's pad to the line, through the wood
	Words      string
	parts      []string
}

// noArea is a glue-up of which nobody said where its parts meet.
type noArea struct {
	at job.Pos
	id string
}

func (e *noArea) Error() string {
	return fmt.Sprintf("%s: the glue-up %s has no area", posWords(e.at), e.id)
}

// Hint is what to write.
func (e *noArea) Hint() string {
	return "write `bond: length x width` of one glue line, with how many of them before it, as 2 x 46 x 3/4; or `faces: [PART face, PART near-edge]`"
}

// BondOf finds where the parts of a glue-up meet: as `bond:` says, or as the
// overlap of the faces that `faces:` names, two by two ("skin face" with "rib
// near-edge"). Of two faces, as much meets as both have, and as often as the
// more numerous part is there.
func BondOf(j *job.Job, up *job.GlueUp) (Bond, error) {
	b := Bond{ToLine: 3 * measure.Inch / 4, parts: up.Joins} // 3/4 in: common practice, no source, where no part says more
	var thick measure.Length
	for _, id := range up.Joins {
		if p := j.Part(id); p != nil {
			thick = max(thick, p.Size[2].Length)
		}
	}
	if thick > 0 {
		b.ToLine = thick
	}
	if up.Area.Sign() > 0 {
		b.Area, b.Lines = up.Area, max(up.Count, 1)
		b.Long, b.Wide = up.BondDim[0].Length, up.BondDim[1].Length
		if b.Long < b.Wide {
			b.Long, b.Wide = b.Wide, b.Long
		}
		b.Words = "as written: " + up.Bond
		b.underFace(j)
		return b, nil
	}
	if len(up.Faces) < 2 {
		return b, &noArea{up.At, up.ID}
	}
	var words []string
	for i := 0; i+1 < len(up.Faces); i += 2 {
		pa, ua, va, err := faceOf(j, up, up.Faces[i])
		if err != nil {
			return b, err
		}
		pb, ub, vb, err := faceOf(j, up, up.Faces[i+1])
		if err != nil {
			return b, err
		}
		u, v, n := min(ua, ub), min(va, vb), max(pa.Qty, pb.Qty)
		b.Area = b.Area.Plus(measure.Rect(u, v).Times(int64(n)))
		b.Lines += n
		if max(u, v) > b.Long {
			b.Long, b.Wide = max(u, v), min(u, v)
		}
		words = append(words, fmt.Sprintf("%s on %s, %d times", up.Faces[i], up.Faces[i+1], n))
	}
	b.Words = strings.Join(words, "; ")
	b.underFace(j)
	return b, nil
}

// underFace takes the face of the largest part as what the clamps must reach,
// where the glue runs along edges behind it: more line than the part is long,
// such as the ribs under a skin.
func (b *Bond) underFace(j *job.Job) {
	var long, wide, thick measure.Length
	for _, id := range b.parts {
		p := j.Part(id)
		if p == nil {
			continue
		}
		x, y := max(p.Size[0].Length, p.Size[1].Length), min(p.Size[0].Length, p.Size[1].Length)
		if x > long || x == long && y > wide {
			long, wide, thick = x, y, p.Size[2].Length
		}
	}
	if long > 0 && b.Long > long {
		b.Long, b.Wide, b.ToLine, b.Lines = long, wide, thick, 1
	}
}

// faceOf reads "skin face" and gives the part and the face's longer and
// shorter side.
func faceOf(j *job.Job, up *job.GlueUp, text string) (*job.Part, measure.Length, measure.Length, error) {
	id, face, _ := strings.Cut(strings.TrimSpace(text), " ")
	p := j.Part(id)
	if p == nil {
		return nil, 0, 0, fmt.Errorf("%s: %q names no part: write `PART face`, with a part's id first", posWords(up.At), text)
	}
	x, y, z := p.Size[0].Length, p.Size[1].Length, p.Size[2].Length
	var u, v measure.Length
	switch job.Face(strings.TrimSpace(face)) {
	case job.FaceTop, job.FaceBack, "":
		u, v = x, y
	case job.EdgeNear, job.EdgeFar:
		u, v = x, z
	case job.EndLeft, job.EndRight:
		u, v = y, z
	default:
		return nil, 0, 0, fmt.Errorf("%s: %q names no face: face, back, near-edge, far-edge, left-end or right-end", posWords(up.At), text)
	}
	return p, max(u, v), min(u, v), nil
}
