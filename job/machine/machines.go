package machine

import "caul/job/measure"

// Kind is one kind of machine.
type Kind struct {
	ID       string
	Name     string
	Kerf     measure.Length // usual width of cut; 0 where a cutter decides
	KerfFrom measure.Source
	Cautions []measure.Caution
}

func read(ref string) measure.Source  { return measure.Source{Ref: ref} }
func cited(ref string) measure.Source { return measure.Source{Ref: ref, Standing: measure.Cited} }

var practice = measure.Source{Standing: measure.Practice}

const (
	refOSHA = "29 CFR 1910.213(a)"
	refHSE  = "HSE, Circular saw bench (rip saw), hse.gov.uk/woodworking/ripsaw.htm"
	refDust = "HSE, Wood dust, hse.gov.uk/woodworking/wooddust.htm"
	refSaw  = "safety text of transportable table saws, after IEC/EN 62841-3-1"
)

// Below all machines.
var (
	ears = measure.Caution{Text: "ear and eye protection on; noise: action from 80 dB(A) in Great Britain, 85 dBA over 8 h in the US",
		Source: cited("Control of Noise at Work Regulations 2005; 29 CFR 1910.95")}
	dust = measure.Caution{Text: "extraction on, mask for fine dust: wood dust is a known cause of cancer of the nose, and of asthma",
		Source: read("IARC Monographs vol. 100C (2012); " + refDust)}
	unplug = measure.Caution{Text: "unplug or lock off before changing a blade or cutter or reaching near it",
		Source: read(refOSHA + "(10): a lockable disconnect is recommended")}
	loose = measure.Caution{Text: "no loose sleeves, gloves or jewellery near anything that turns; hair tied back", Source: practice}
)

func with(own ...measure.Caution) []measure.Caution {
	return append(own, ears, dust, unplug, loose)
}

func c(text string, src measure.Source) measure.Caution {
	return measure.Caution{Text: text, Source: src}
}

// Kinds lists the kinds of machine, in a fixed order.
func Kinds() []Kind {
	return []Kind{
		{"table-saw", "table saw", measure.Inch / 8, practice, with(
			c("guard and riving knife on: knife within 8 mm of the blade, thicker than its plate and thinner than its kerf", read(refHSE)),
			c("push stick when fence to blade is under 150 mm, push block under 50 mm; in Great Britain a push stick of 450 mm or more for the last 300 mm of every cut", read(refSaw+"; "+refHSE)),
			c("never the mitre gauge and the rip fence together for a cut through the piece", read(refSaw)),
			c("blade just above the stock, and fully below it or stopped before a hand comes near; hands never in line with the blade or where it comes out of a sled", practice),
			c("where the guard cannot stay on (groove, dado, rebate): featherboards or a jig that holds the work and covers the cutter", read(refOSHA+"; California Title 8 §4296(a)")))},
		{"track-saw", "track saw", measure.MM * 22 / 10, practice, with(
			c("work held down, track clamped or gripping, off-cut free to fall away; depth set just past the board", practice),
			c("plunge only with the riving knife behind the blade, and stand to the side of the cut", practice))},
		{"mitre-saw", "mitre saw", measure.Inch / 8, practice, with(
			c("work held to the fence by clamp or a hand well away from the cut; never cross arms; short pieces clamped, never held", practice),
			c("let the blade stop before lifting the head or taking the off-cut", practice))},
		{"band-saw", "band saw", measure.MM, practice, with(
			c("guide just above the stock, guard down; never push toward the blade with fingers in its line", practice),
			c("round stock in a vee block, or it rolls and snatches", practice))},
		{"router", "router, hand-held", 0, measure.Source{}, with(
			c("feed against the turn of the cutter; small passes; work clamped, both hands on the machine until it stops", cited("HSE guidance on routing")),
			c("shank in the collet to the mark, collet tight, cutter within its rated speed", practice))},
		{"router-table", "router table", 0, measure.Source{}, with(
			c("feed against the turn of the cutter, never between cutter and fence; a fence, guide or starting pin for every cut", cited("HSE guidance on spindle moulding")),
			c("small pieces in a holder that keeps fingers away; featherboards; guard over the cutter", cited("HSE guidance on spindle moulding")))},
		{"drill-press", "drill press", 0, measure.Source{}, with(
			c("work clamped or against the column, so that it cannot spin; chuck key out before starting; speed for the bit", practice))},
		{"planer", "thickness planer", 0, measure.Source{}, with(
			c("nothing shorter than the gap between the feed rollers (see the manual); stand aside of the line of feed; no metal, no glue lumps in the board", practice))},
		{"jointer", "jointer", 0, measure.Source{}, with(
			c("guard over the cutter; push blocks for faces; no piece shorter than the manual allows; hands never pass over the cutter while pressing down", practice))},
		{"belt-sander", "belt or disc sander", 0, measure.Source{}, with(
			c("work on the table against the stop, on the side that runs down; no gap between table and belt", practice))},
		{"sander", "random-orbit sander", 0, measure.Source{}, with(
			c("fine dust hangs in the air for hours: extraction and mask also while sweeping up", practice))},
		{"drill", "drill, hand-held", 0, measure.Source{}, with(
			c("work clamped, not held in the hand; nothing behind the exit of the bit that minds a hole", practice))},
		{"jigsaw", "jigsaw", measure.MM * 15 / 10, practice, with(
			c("work clamped near the cut, base plate flat on it, nothing under the cut", practice))},
		{"hand-saw", "hand saw", measure.MM * 11 / 10, practice, []measure.Caution{
			c("work clamped; start with short light strokes and the thumb above the teeth, not beside them", practice)}},
		{"chisel", "chisels and knives", 0, measure.Source{}, []measure.Caution{
			c("both hands behind the edge, work clamped, edge sharp: a dull one slips", practice)}},
		{"plane", "hand plane", 0, measure.Source{}, []measure.Caution{
			c("work against a stop or clamped; clear shavings with the plane off the work, fingers out of the mouth", practice)}},
	}
}

// Find gives the kind of machine with this ID.
func Find(id string) (Kind, bool) {
	for _, k := range Kinds() {
		if k.ID == id {
			return k, true
		}
	}
	return Kind{}, false
}

// Materials and finishes that bring their own cautions.
var materials = map[string][]measure.Caution{
	"mdf": {c("very fine dust that may hold formaldehyde resin: extraction at the cut and a mask; treat it by the limit for hardwood", read(refDust))},
	"hardwood": {c("dust limit in Great Britain 3 mg/m³ over 8 h, in the EU 2 mg/m³; NIOSH recommends 1 mg/m³",
		read(refDust+"; Directive (EU) 2017/2398; NIOSH"))},
	"softwood": {c("dust limit in Great Britain 5 mg/m³ over 8 h; NIOSH recommends 1 mg/m³", read(refDust+"; NIOSH"))},
	"finish":   {c("finishes give off vapour and some burn: air the room, no flame or spark, gloves as the label says; the label and its safety data sheet come first", practice)},
	"oil": {c("oily rags heat up by themselves and burn: dry them flat outdoors, or keep them under water in a closed metal can",
		measure.Source{Ref: "fire-service advice", Standing: measure.Practice})},
}

// MaterialCautions gives the cautions of a material or finish: mdf, hardwood, softwood, finish, oil.
func MaterialCautions(id string) []measure.Caution { return materials[id] }
