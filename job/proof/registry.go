package proof

// Rule is one thing that the proof looks for.
type Rule struct {
	ID       string   `json:"id"`
	Severity Severity `json:"severity"` // the gravest it gives
	Doc      string   `json:"doc"`
}

// Rules lists every check, in order of id. A test holds a passing and a
// failing job for each.
func Rules() []Rule {
	return []Rule{
		{"blade-kerf", Look, "a fitting was cut by another kerf than its blade cuts"},
		{"breaks-through", Stop, "a cut that is not meant to go through comes out of the other side"},
		{"clamps-short", Stop, "a glue-up takes more clamps than the shop has"},
		{"counterbore-head", Stop, "a screw's head does not fit its counterbore or countersink"},
		{"cutter-kind", Look, "the cutter is not of a kind that makes this cut"},
		{"cutter-too-large", Stop, "the cutter is wider than the cut"},
		{"cutter-too-short", Stop, "the cutter does not reach the depth"},
		{"dovetail-cannot-enter", Stop, "a dovetail groove is closed at both ends"},
		{"dovetail-relief", Stop, "a relief cut is wider than the dovetail's waist, or deeper than its groove"},
		{"dovetail-width", Stop, "a dovetail groove is wider or narrower than its cutter leaves in one pass"},
		{"features-meet", Look, "two cuts meet inside the wood"},
		{"fits-across", Stop, "the parts side by side do not fill what they must fill"},
		{"glue-on-finish", Stop, "a joint is glued after its parts were finished"},
		{"glue-up-area", Look, "a glue-up does not say how much is glued"},
		{"grain-across", Look, "solid wood is held across its grain and moves more than its fixing allows"},
		{"hardware-without-step", Look, "no step fits a piece of hardware"},
		{"hole-for-screw", Look, "a clearance or pilot hole is not what its screw wants"},
		{"leaves-part", Stop, "a cut lies outside the part"},
		{"log-names", Look, "a log entry names a step, check, part or clamp that is not there"},
		{"mates-line-up", Stop, "the holes of two mating parts do not line up"},
		{"metal-in-cut", Stop, "a cut runs through metal"},
		{"no-stock", Stop, "no piece of a part's stock is large enough for it"},
		{"opposite-cuts", Stop, "cuts from both faces break into one another"},
		{"part-before-cut", Stop, "a step uses a part that is cut later"},
		{"part-without-step", Look, "no step uses a part"},
		{"passes", Look, "a cut is too deep for one pass"},
		{"point-through-face", Stop, "a screw's point comes out of the wood"},
		{"recheck-due", Look, "a reading is due again"},
		{"screw-grip", Look, "too little of a screw's thread is in the wood"},
		{"small-part", Stop, "a part is too small to be machined safely"},
		{"stock-too-thin", Stop, "a part is thicker than its stock gives"},
		{"thin-wall", Look, "little wood is left beside a cut"},
		{"thin-web", Look, "little wood is left behind a cut"},
		{"unknown-kind", Look, "a machine, cutter, clamp or wood is of a kind that nothing knows"},
		{"wrong-edge", Stop, "an edge is named that does not bound the face"},
	}
}
