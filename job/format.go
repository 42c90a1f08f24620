package job

// The files of a shop, key by key. Keys are those below and no others; a value
// in [brackets] may be left out. LEN is a length or a sum over `measures:`
// (job/measure), SPAN is `1 h 30 min`, TEMP is `16 C`, MONEY is `7.40` in the
// shop's currency or `7.40 USD`, DATE is 2026-03-14, AMOUNT is `500 ml`, ID is
// letters, digits, dots and hyphens (of stock, items, cutters, clamps: slashes
// too). SIZE is along the grain x across x thick.
//
// shop.yaml
//
//	name, zone (a name of the time zone database)
//	units: {length: in|mm, finest: 1/2..1/128 or 0.1|0.01, temperature: C|F, money: ISO 4217}
//	hours: {mon-fri: 19:00-21:30, sat: [9:00-12:00, 13:30-17:00], except: [{date: DATE, [open: hours], [why]}]}
//	air: {day: {7:00: TEMP, ...}, humidity: percent, seasons: [{name, temp: TEMP, humidity}]}
//	clamps:   [{id, name, kind, qty, opening: LEN, pad: LEN, force: 4000 N|900 lbf}]
//	places:   [{id, name, qty}]
//	machines: [{id, name, kind, set-up: SPAN, capacity: LEN, slot: LEN, slot-deep: LEN, slot-from-blade: LEN}]
//	cutters:  [{id, name, kind, diameter: LEN, length: LEN, shank: LEN, radius: LEN, angle: degrees}]
//	blades:   [{id, name, machine, kerf: LEN, teeth}]
//	measures: {slot: LEN, ply: {is: LEN, ask, note}}
//	sharing:  {author}
//
// stock.yaml
//
//	stock: [{id, name, form: sheet|board|rod, species, nominal, size: SIZE, thick: LEN, grain, trim: LEN,
//	         surfaced, price: item, also: [ids of stock that does as well],
//	         on-hand: [{id, size: SIZE, qty, offcut, where, defects: [[along, across, length, width]]}]}]
//	hardware: [{item, qty | amount: AMOUNT, where}]
//
// prices.yaml
//
//	tax: percent, rate: MONEY an hour
//	items: [{item, supplier, pack | amount: AMOUNT, price: MONEY, date: DATE, breaks: [{from: packs, price: MONEY}]}]
//
// glues.yaml
//
//	glues: [{id, name, type: generic type, open: SPAN, closed: SPAN, clamp: {TEMP: SPAN}, cure: {TEMP: SPAN},
//	         lowest: TEMP, spread: g/m2, item}]
//
// jobs/ID/job.yaml
//
//	name, for, copies, due: DATE, weight, species, cautions: [text], measures, units: in|mm (when it is drawn in others than the shop's)
//	parts:    [{id, name, qty, size: SIZE, from: stock, same-sheet: group, turn, oversize: LEN, fit-to-measure, held,
//	            solid, machining: [feature], note}]
//	hardware: [{item, qty, step, joins: [parts], metal, note}]
//	glue-ups: [{id, joins: [parts], glue, bond: [count x] LEN x LEN, faces: [words], clamps: {clamp: number}|auto,
//	            caul: LEN, place, spread: SPAN, scrape: SPAN to SPAN}]      each is also a step of this id
//	steps:    [{id, name, takes: SPAN, setup: "machine, state", after: [lag], split, uses: [parts],
//	            needs: {clamp: number}, place, finish, optional}]           see ParseLag
//	checks:   [{id, measure, at-most: LEN, at-least: LEN, nominal: LEN, within: LEN, five-cut, pivot: LEN, every}]
//	fittings: [{id, name, kind, blade, cutter, angle, cut: DATE, kerf: LEN, hangs}]
//	consumes: [{item, amount: AMOUNT | area: [count x] LEN x LEN, step}]
//	assembly: [{id, fills: LEN, parts: [{part, axis: length|width|thick, qty} | {dim: LEN, qty}], slack: LEN}]
//
// A feature is a map with its kind as the one key. Every kind takes id, on (a
// face or edge), cutter, machine, before (a step), note. POINT is [along,
// across] from the left end and the near edge; either may be written `2 from
// right-end`. On an edge the second is the thickness, from the back.
//
//	groove, dado, dovetail: {at: LEN [from edge or end], depth: LEN | through: true, width: LEN, along: length|width,
//	                         start: LEN, stop: LEN, angle}
//	rabbet:     {edges: [edges], width: LEN, depth: LEN}
//	holes:      {through: LEN | diameter: LEN with depth: LEN or through: true, at: [POINT], row, grid,
//	             counterbore: {cutter | diameter, depth, on}, countersink: {...}, screw: item, pilot, mates: part/feature}
//	  row:      {count, from: POINT | from: LEN with across: LEN, step: LEN | to: LEN, along: length|width}
//	  grid:     {count: [along, across], from: POINT, step: [LEN, LEN]}
//	slot:       {from: POINT, to: POINT, width: LEN, depth: LEN | through: true}
//	chamfer:    {edges, width: LEN, angle}        round-over: {edges, radius: LEN}
//	taper:      {edges: [edge], widths: [LEN, LEN]}  angle-cut: {on: end, angle, tilt}
//
// jobs/ID/build.md is Markdown. A heading that is a step's id or name, or ends
// in {#id}, holds that step's instructions; `- [ ]` items are its tasks.
//
// jobs/ID/log/2026-03-14T1905-machine-did-step.md is one event: prose below
//
//	at: time, did, step, entry (undid), check and value: LEN or five: [LEN, LEN, LEN] (read), air: TEMP,
//	clamps: {clamp: number}, item, qty, paid: MONEY, minutes: SPAN, private, tap
//
// between two lines `---`. `did` is one of Dids.
//
// A file is UTF-8, with or without a byte order mark, with Unix or Windows line
// ends, at most MaxText bytes, and no link. Anchors, aliases, tags and a second
// document are refused. Names that begin with a dot are passed over.
