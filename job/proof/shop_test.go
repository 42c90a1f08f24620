package proof

import (
	"fmt"
	"testing"

	"github.com/rogpeppe/go-internal/txtar"
	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/measure"
)

// Worked shop examples, common practice, no source: each sum is done here by
// hand in its comment.

// A 1/2 in 14-degree dovetail 3/8 in deep is 1/2 - 2 x 3/8 x tan 14 = 0.3130 in
// at the surface: a 1/4 in relief cut fits, a 3/8 in one does not.
func TestReliefFitsDovetailsWaist(t *testing.T) {
	yaml := piece("24 x 12 x 3/4") + `
      - groove: {width: %s, depth: 3/8, at: 6 from near-edge}
      - dovetail: {cutter: dovetail-1/2, depth: 3/8, at: 6 from near-edge}
`
	require.Empty(t, only(Check(shopWith(t, fmt.Sprintf(yaml, "1/4")), Options{Now: now}), "dovetail-relief"))
	require.Empty(t, only(Check(shopWith(t, fmt.Sprintf(yaml, "5/16")), Options{Now: now}), "dovetail-relief"), "0.3125 is narrower than 0.3130")
	require.Len(t, only(Check(shopWith(t, fmt.Sprintf(yaml, "3/8")), Options{Now: now}), "dovetail-relief"), 1)
}

// The middle of a 3/4 in mitre slot lies 3/8 in beyond its near wall: with the
// wall 5-13/16 in from the blade, 6-3/16 in.
func TestMiddleOfMitreSlot(t *testing.T) {
	s := shopWith(t, `
name: x
measures:
  wall: 5-13/16
  slot: 3/4
parts:
  - id: a
    qty: 1
    size: 24 x 12 x 3/4
    from: ply
    machining:
      - groove: {width: slot, depth: 1/4, at: wall + slot / 2 from near-edge, on: back}
`)
	f := s.Jobs[0].Parts[0].Machining[0]
	require.Equal(t, measure.Frac(6, 3, 16), f.Offset.Length)
	v := Volumes(s, &s.Jobs[0].Parts[0])[0]
	require.Equal(t, measure.Frac(5, 13, 16), v.V.a, "the groove's wall stands over the slot's")
}

// A 9/16 in counterbore in two glued 3/8 in layers leaves 3/4 - 9/16 = 3/16 in.
func TestCounterboreInTwoLayers(t *testing.T) {
	s := shopWith(t, piece("24 x 12 x 3/8 + 3/8")+`
      - holes: {through: 1/4, counterbore: {diameter: 3/4, depth: 9/16}, at: [6, 6]}
`)
	p := &s.Jobs[0].Parts[0]
	for _, v := range Volumes(s, p) {
		if v.What == "counterbore" {
			require.Equal(t, measure.Frac(0, 3, 16), sideOf(p, v.On).deep-v.Depth)
		}
	}
	require.Empty(t, only(Check(s, Options{Now: now}), "breaks-through"))
	require.Empty(t, only(Check(s, Options{Now: now}), "thin-web"), "3/16 in behind a bore is more than the usual 1/8")
}

// Grooves 11 in from each end of a 27 in base are 27 - 11 - 11 = 5 in apart.
func TestGroovesFromBothEnds(t *testing.T) {
	s := shopWith(t, piece("27 x 12 x 3/4")+`
      - dado: {width: 1/2, depth: 1/4, at: 11 from left-end}
      - dado: {width: 1/2, depth: 1/4, at: 11 from right-end}
`)
	v := Volumes(s, &s.Jobs[0].Parts[0])
	mid := func(i int) measure.Length { return (v[i].U.a + v[i].U.b) / 2 }
	require.Equal(t, measure.Frac(5, 0, 1), mid(1)-mid(0))
}

// The five-cut reading of the published worked example ("Table saw sledge
// accuracy test, five cut method"): 27.89, 29.25 over 400, pivot 550 mm, move
// 0.4675 mm.
func TestFiveCutShim(t *testing.T) {
	s := shopWith(t, "name: x\nparts:\n  - {id: a, qty: 1, size: 24 x 12 x 3/4, from: ply}\n")
	mm := func(f float64) job.Dim { return job.Dim{Length: measure.FromMillimetres(f), Set: true} }
	ch := &job.Check{ID: "sq", AtMost: mm(0.1), Pivot: mm(550)}
	r := judge(s, ch, &job.Entry{Five: []job.Dim{mm(27.89), mm(29.25), mm(400)}})
	require.False(t, r.True)
	require.InDelta(t, 0.4675, r.Value.Millimetres(), 1e-6)
	require.Contains(t, r.Shim, "left end")
	require.Contains(t, r.Shim, "away")
	good := judge(s, ch, &job.Entry{Five: []job.Dim{mm(25.4), mm(25.41), mm(400)}})
	require.True(t, good.True)
	require.Empty(t, good.Shim)
}

// A sheet on hand of 48 in with 1/4 in trimmed off each edge gives 47-1/2 in;
// with its edges sawn already it gives the whole 48 in, as the layout says too.
func TestTrimOfWhatIsOnHand(t *testing.T) {
	job := "name: x\nparts:\n  - {id: a, qty: 1, size: 48 x 24 x 1/2, from: half}\n"
	stock := "stock:\n  - {id: half, form: sheet, thick: 1/2, trim: 1/4, on-hand: [{id: rest, size: 48 x 48%s}]}\n"
	with := func(more string) []Finding {
		return only(Check(shopWith(t, job, txtar.File{Name: "stock.yaml", Data: []byte(fmt.Sprintf(stock, more))}), Options{Now: now}), "no-stock")
	}
	bad := with("")
	require.Len(t, bad, 1)
	require.Contains(t, bad[0].Text, "the largest piece of it is 47-1/2 in x 47-1/2 in")
	require.Contains(t, bad[0].Mend, "where the edges of rest on hand are sawn already, write `offcut: true`")
	require.Empty(t, with(", offcut: true"))
}
