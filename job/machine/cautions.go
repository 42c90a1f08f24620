package machine

import "caul/job/measure"

// Kinds of cutter that bring their own cautions, beside those of the machine.
var cutterCautions = map[string][]measure.Caution{
	"dovetail":    {c("a dovetail goes at its full depth in one pass: clear the way with a straight cutter first, and never lift the work or draw it back out of the middle of the groove", practice)},
	"flush-trim":  {c("a bearing cutter has no fence: start against the pin, feed against the turn, and trim off the waste close to the line first", practice)},
	"rabbet":      {c("a bearing cutter has no fence: start against the pin, feed against the turn", practice)},
	"v-groove":    {c("shallow passes; the point tears where the work is fed too fast", practice)},
	"chamfer":     {c("narrow and short pieces in a holder; end grain first with a backing piece, then along the grain", practice)},
	"round-over":  {c("narrow and short pieces in a holder; end grain first with a backing piece, then along the grain", practice)},
	"dado-set":    {c("guard and knife are off for this cut: featherboards or a jig that holds the work down and covers the cutter, and both back on after it", read(refOSHA+"; California Title 8 §4296(a)"))},
	"forstner":    {c("work clamped and backed, the slower the wider the bit; lift it often to clear the chips, which burn", practice)},
	"brad":        {c("a backing piece under the exit; clamped, for a bit that breaks through snatches", practice)},
	"twist":       {c("a backing piece under the exit; clamped, for a bit that breaks through snatches", practice)},
	"countersink": {c("slow, with the work held down: a countersink that chatters climbs", practice)},
}

// CutterCautions gives the cautions of a kind of cutter.
func CutterCautions(kind string) []measure.Caution { return cutterCautions[kind] }

// OperationCautions gives the cautions of a kind of cut on a kind of machine:
// groove, dado, rabbet, dovetail, slot, hole, taper, angle-cut; stopped says
// that it begins or ends within the work.
func OperationCautions(op, machine string, stopped bool) []measure.Caution {
	var out []measure.Caution
	switch {
	case machine == "table-saw" && (op == "groove" || op == "dado" || op == "rabbet" || op == "slot"):
		out = append(out, c("a cut that does not go through: where guard and knife cannot stay on, featherboards or a jig that holds the work and covers the cutter", read(refOSHA+"; California Title 8 §4296(a)")))
	case op == "taper":
		out = append(out, c("tapers in a carriage with the piece clamped to it, never by hand along the fence", practice))
	case op == "angle-cut":
		out = append(out, c("clamp the piece: at an angle the blade pulls it along the fence; let the off-cut fall free, on the open side of a tilted blade", practice))
	}
	if stopped && (machine == "router-table" || machine == "table-saw") {
		out = append(out, c("a stopped cut between clamped stop blocks, the work held against the first before it is lowered; stop the machine before it is lifted off", practice))
	}
	return out
}
