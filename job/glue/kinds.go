package glue

import "caul/job/measure"

// The sources the figures name.
const (
	refTable = "glue characteristics table in a US woodworking magazine, archived page"
	refGlues = "survey of glues, first of three parts, in a Canadian woodworking magazine"
	refCold  = "article on glue temperature, home-repair site, January 2017"
	refEN204 = "EN 204:2016"
)

func read(ref string) measure.Source  { return measure.Source{Ref: ref, Standing: measure.Read} }
func cited(ref string) measure.Source { return measure.Source{Ref: ref, Standing: measure.Cited} }

var (
	usual    = measure.Source{Standing: measure.Usual}
	practice = measure.Source{Standing: measure.Practice}
)

// at20 is a rate known at room temperature only.
func at20(s measure.Span, src measure.Source) Rate {
	return Rate{Points: []Point{{measure.InCelsius(20), s}}, Source: src}
}

// Handbook range of pressures, and the range that is only enough to close the joint.
var (
	firm = Pressure{measure.PSI(100), measure.PSI(250),
		cited("Wood Handbook, FPL-GTR-190, ch. 10, Assembly and Pressing: about 100 psi for low-density woods to about 250 psi for the densest")}
	closing = Pressure{measure.PSI(10), measure.PSI(20), practice}
)

const minutes, hours = measure.Minute, measure.Hour

// Kinds lists the generic adhesives, in a fixed order. Each call makes fresh copies, so that a
// shop's own figures can be written over them.
func Kinds() []*Kind {
	pva := func(one float64) Spread { return Spread{one, 2 * one, 1.10, usual} }
	en204 := func(c string) (string, measure.Source) { return c, read(refEN204 + ", classes by where they are used") }
	white, whiteSrc := "D2", usual
	d3, d3Src := en204("D3")
	d4, d4Src := en204("D4")
	return []*Kind{
		{ID: "pva", Name: "PVA, interior, white", Class: white, ClassSource: whiteSrc,
			Open: at20(5*minutes, read(refTable)), Total: at20(10*minutes, usual), Clamp: at20(1*hours, read(refTable)),
			Machine: at20(24*hours, usual), Full: at20(24*hours, usual),
			Lowest: measure.InFahrenheit(55), LowestSource: read(refCold), Spread: pva(180), Pressure: firm, Cautions: waterBased},
		{ID: "pva-yellow", Name: "PVA, interior, yellow (aliphatic)", Class: white, ClassSource: whiteSrc,
			Open: at20(5*minutes, read(refTable)), Total: at20(10*minutes, usual), Clamp: at20(30*minutes, read(refTable)),
			Machine: at20(24*hours, usual), Full: at20(24*hours, usual),
			// one article allows 40 °F; most makers say 7 to 10 °C, and the warmer end is the safer one
			Lowest: measure.InCelsius(10), LowestSource: usual, Spread: pva(180), Pressure: firm, Cautions: waterBased},
		{ID: "pva-d3", Name: "PVA, cross-linking, water-resistant (D3)", Class: d3, ClassSource: d3Src,
			Open: at20(5*minutes, read(refTable)), Total: at20(10*minutes, usual), Clamp: at20(1*hours, read(refTable)),
			Machine: at20(24*hours, usual), Full: at20(24*hours, usual),
			Lowest: measure.InCelsius(10), LowestSource: usual, Spread: pva(180), Pressure: firm, Cautions: waterBased},
		{ID: "pva-d4", Name: "PVA, exterior, long open time (D4)", Class: d4, ClassSource: d4Src,
			Open: at20(8*minutes, usual), Total: at20(20*minutes, usual), Clamp: at20(1*hours, usual),
			Machine: at20(24*hours, usual), Full: at20(24*hours, usual),
			Lowest: measure.InCelsius(8), LowestSource: usual, Spread: pva(180), Pressure: firm, Cautions: waterBased},
		{ID: "polyurethane", Name: "polyurethane, one part, moisture curing", Class: d4, ClassSource: usual,
			Open: at20(15*minutes, usual), Total: at20(20*minutes, usual), Clamp: at20(4*hours, usual),
			Machine: at20(8*hours, usual), Full: at20(24*hours, usual),
			Lowest: measure.InCelsius(10), LowestSource: usual, Spread: Spread{150, 300, 1.12, usual}, Pressure: firm, Cautions: polyurethane},
		{ID: "epoxy-5", Name: "epoxy, five-minute",
			Open: at20(3*minutes, usual), Total: at20(5*minutes, usual), Clamp: at20(1*hours, usual),
			Machine: at20(2*hours, usual), Full: at20(24*hours, usual),
			Lowest: measure.InCelsius(10), LowestSource: usual, Spread: Spread{200, 300, 1.15, usual}, Pressure: closing, Cautions: epoxy},
		{ID: "epoxy-30", Name: "epoxy, thirty-minute",
			Open: at20(25*minutes, usual), Total: at20(30*minutes, usual), Clamp: at20(8*hours, usual),
			Machine: at20(12*hours, usual), Full: at20(72*hours, usual),
			Lowest: measure.InCelsius(13), LowestSource: usual, Spread: Spread{200, 300, 1.15, usual}, Pressure: closing, Cautions: epoxy},
		{ID: "epoxy-slow", Name: "epoxy, slow, for laminating",
			Open: at20(30*minutes, usual), Total: at20(60*minutes, usual), Clamp: at20(24*hours, usual),
			Machine: at20(24*hours, usual), Full: at20(168*hours, usual),
			Lowest: measure.InCelsius(15), LowestSource: usual, Spread: Spread{200, 300, 1.15, usual}, Pressure: closing, Cautions: epoxy},
		{ID: "hide-liquid", Name: "hide glue, liquid", Class: "D1", ClassSource: usual,
			Open: at20(10*minutes, read(refTable)), Total: at20(20*minutes, usual), Clamp: at20(12*hours, read(refTable)),
			Machine: at20(24*hours, usual), Full: at20(24*hours, usual),
			Lowest: measure.InCelsius(10), LowestSource: usual, Spread: pva(180), Pressure: firm, Cautions: hide},
		{ID: "urea", Name: "urea-formaldehyde powder",
			Open: at20(20*minutes, read(refTable)), Total: at20(20*minutes, usual), Clamp: at20(12*hours, read(refTable)),
			Machine: at20(24*hours, usual), Full: at20(48*hours, usual),
			Lowest: measure.InFahrenheit(70), LowestSource: cited("usual label limit, 70 °F"), Spread: Spread{200, 400, 1.25, usual}, Pressure: firm, Cautions: urea},
		{ID: "resorcinol", Name: "resorcinol, two part",
			Open: at20(15*minutes, read(refTable)), Total: at20(15*minutes, usual), Clamp: at20(10*hours, read(refTable)),
			Machine: at20(24*hours, usual), Full: at20(24*hours, usual),
			Lowest: measure.InFahrenheit(70), LowestSource: cited("usual label limit, 70 °F"),
			Spread: Spread{250, 320, 1.20, usual},
			Pressure: Pressure{measure.PSI(125), measure.PSI(200),
				read("FAA Advisory Circular AC 43.13-1B (1998), para 1-10b: 125 to 150 psi for softwood, 150 to 200 psi for hardwood")},
			Cautions: resorcinol},
		{ID: "cyanoacrylate", Name: "cyanoacrylate",
			Open: at20(30*measure.Second, read(refTable)), Total: at20(30*measure.Second, read(refTable)),
			Machine: at20(30*minutes, usual), Full: at20(24*hours, usual),
			Lowest: measure.InCelsius(10), LowestSource: usual, Spread: Spread{100, 200, 1.06, usual}, Pressure: closing, Cautions: cyanoacrylate},
		{ID: "contact", Name: "contact cement",
			Open: at20(1*hours, read(refTable)), Total: at20(1*hours, read(refTable)),
			Full:   at20(72*hours, usual),
			Lowest: measure.InCelsius(18), LowestSource: usual, Spread: Spread{125, 250, 0.90, usual}, Pressure: closing, Cautions: contact},
	}
}

func caution(text string, src measure.Source) measure.Caution {
	return measure.Caution{Text: text, Source: src}
}

var labelFirst = caution("read the label and the safety data sheet first; they come before any figure here", practice)

var (
	waterBased = []measure.Caution{labelFirst,
		caution("below its lowest temperature the film dries white and weak: warm the shop, the wood and the glue, or wait", read("glue manufacturer's technical guide, glossary; "+refCold))}
	polyurethane = []measure.Caution{labelFirst,
		caution("it holds isocyanate, which can make a person allergic for life: gloves, fresh air, no skin contact; in the EU professional users need training", cited("Regulation (EU) 2020/1149")),
		caution("it foams and pushes a joint apart: clamp until it has set", practice)}
	epoxy = []measure.Caution{labelFirst,
		caution("resin and hardener can make skin allergic for life: gloves, no solvent on skin, and sand only when fully cured, with a mask", cited("HSE guidance on epoxy resins")),
		caution("never change the mix to change the speed", read("FAA Advisory Circular AC 43.13-1B (1998), para 1-5(6)")),
		caution("a mass in a cup heats itself until it smokes: mix little, spread it out at once", read("resin maker's page on pot life"))}
	hide = []measure.Caution{labelFirst,
		caution("damp and heat undo the joint: not for jigs that are cleaned wet or lie in the sun", practice)}
	urea = []measure.Caution{labelFirst,
		caution("it gives off formaldehyde, a known cause of cancer: fresh air, gloves, a dust mask for the powder", cited("IARC Monographs vol. 100F (2012)"))}
	resorcinol = []measure.Caution{labelFirst,
		caution("it gives off formaldehyde, a known cause of cancer, and harms the skin: fresh air and gloves", cited("IARC Monographs vol. 100F (2012)")),
		caution("keep joint, glue and air at 70 °F or above until it has cured", cited("usual label limit, 70 °F"))}
	cyanoacrylate = []measure.Caution{labelFirst,
		caution("it bonds skin and eyelids in seconds and its vapour stings: glasses, fresh air, nothing that wicks it to the fingers", cited("makers' safety data sheets"))}
	contact = []measure.Caution{labelFirst,
		caution("solvent types give off a vapour that burns: no flame, heater or spark, and plenty of fresh air", cited("makers' safety data sheets")),
		caution("it grips at once and cannot be moved: slip-sheets or dowels between the faces until they are in line", practice)}
)
