package settle

import (
	"strings"
	"testing"
)

const job = `# A torsion box.

name: Torsion-box assembly table
copies: 1
parts:
  - id: skin
    qty: 2
    size: 48 x 24 x 1/2   # along the grain
    from: birch-ply-1/2
  # cut these from one strip
  - id: rib
    qty: 9
    size: 46 x 3 x 1/2
    from: birch-ply-1/2
hardware:
  - {item: screw-8x1-1/4, qty: 24}
steps:
  - id: mill
    takes: 40 min
  - id: core
    takes: 25 min
    after: [mill]
`

func rep(s string, pairs ...string) string {
	for i := 0; i < len(pairs); i += 2 {
		n := strings.Replace(s, pairs[i], pairs[i+1], 1)
		if n == s {
			panic("the table's edit changes nothing: " + pairs[i])
		}
		s = n
	}
	return s
}

const jobPath = "jobs/torsion-table/job.yaml"

func TestYAMLTable(t *testing.T) {
	runTable(t, []twoSided{
		{
			name: "different keys", path: jobPath, base: job,
			home: rep(job, "copies: 1", "copies: 3"),
			shop: rep(job, "qty: 9", "qty: 11"),
			want: rep(job, "copies: 1", "copies: 3", "qty: 9", "qty: 11"),
		},
		{
			name: "one value, two figures", path: jobPath, base: job,
			home:    rep(job, "48 x 24 x 1/2", "50 x 24 x 1/2"),
			shop:    rep(job, "48 x 24 x 1/2", "49 x 24 x 1/2"),
			want:    rep(job, "48 x 24 x 1/2", "49 x 24 x 1/2"),
			records: []string{"value parts[skin].size: 49 x 24 x 1/2 | 50 x 24 x 1/2"},
		},
		{
			name: "one value, the same figure", path: jobPath, base: job,
			home: rep(job, "qty: 9", "qty: 10"),
			shop: rep(job, "qty: 9", "qty: 10", "copies: 1", "copies: 2"),
			want: rep(job, "qty: 9", "qty: 10", "copies: 1", "copies: 2"),
		},
		{
			name: "value here, comment there", path: jobPath, base: job,
			home: rep(job, "# along the grain", "# along the grain, not across"),
			shop: rep(job, "48 x 24 x 1/2", "49 x 24 x 1/2"),
			want: rep(job, "48 x 24 x 1/2", "49 x 24 x 1/2", "# along the grain", "# along the grain, not across"),
		},
		{
			name: "comments above, both changed", path: jobPath, base: job,
			home:    rep(job, "# cut these from one strip", "# cut from one strip, grain up"),
			shop:    rep(job, "# cut these from one strip", "# cut from two strips"),
			want:    rep(job, "# cut these from one strip", "# cut from two strips"),
			records: []string{"passage comment above parts[rib]: # cut from two strips | # cut from one strip, grain up"},
		},
		{
			name: "quotes changed here, value there", path: jobPath, base: job,
			home: rep(job, "name: Torsion-box assembly table", `name: "Torsion-box assembly table"`),
			shop: rep(job, "name: Torsion-box assembly table", "name: Assembly table"),
			want: rep(job, "name: Torsion-box assembly table", "name: Assembly table"),
		},
		{
			name: "items added on both", path: jobPath, base: job,
			home: rep(job, "hardware:\n", "  - id: cleat\n    qty: 1\nhardware:\n"),
			shop: rep(job, "hardware:\n", "  - id: batten\n    qty: 4   # spare\nhardware:\n"),
			want: rep(job, "hardware:\n", "  - id: batten\n    qty: 4   # spare\n  - id: cleat\n    qty: 1\nhardware:\n"),
		},
		{
			name: "one id made on both, different", path: jobPath, base: job,
			home:    rep(job, "hardware:\n", "  - id: cleat\n    qty: 1\nhardware:\n"),
			shop:    rep(job, "hardware:\n", "  - id: cleat\n    qty: 4\n    size: 10 x 1 x 1\nhardware:\n"),
			want:    rep(job, "hardware:\n", "  - id: cleat\n    qty: 4\n    size: 10 x 1 x 1\nhardware:\n"),
			records: []string{"value parts[cleat]: id: cleat\nqty: 4\nsize: 10 x 1 x 1\n | id: cleat\nqty: 1\n"},
		},
		{
			name: "one id made on both, alike", path: jobPath, base: job,
			home: rep(job, "hardware:\n", "  - id: cleat\n    qty: 1\nhardware:\n"),
			shop: rep(job, "hardware:\n", "  - id: cleat\n    qty: 1\nhardware:\n", "copies: 1", "copies: 2"),
			want: rep(job, "hardware:\n", "  - id: cleat\n    qty: 1\nhardware:\n", "copies: 1", "copies: 2"),
		},
		{
			name: "deleted here, edited there", path: jobPath, base: job,
			home:    rep(job, "  # cut these from one strip\n  - id: rib\n    qty: 9\n    size: 46 x 3 x 1/2\n    from: birch-ply-1/2\n", ""),
			shop:    rep(job, "qty: 9", "qty: 11"),
			want:    rep(job, "qty: 9", "qty: 11"),
			records: []string{"value parts[rib]: id: rib\nqty: 11\nsize: 46 x 3 x 1/2\nfrom: birch-ply-1/2\n | <gone>"},
		},
		{
			name: "deleted here, untouched there", path: jobPath, base: job,
			home: rep(job, "  # cut these from one strip\n  - id: rib\n    qty: 9\n    size: 46 x 3 x 1/2\n    from: birch-ply-1/2\n", ""),
			shop: rep(job, "qty: 24", "qty: 28"),
			want: rep(job, "  # cut these from one strip\n  - id: rib\n    qty: 9\n    size: 46 x 3 x 1/2\n    from: birch-ply-1/2\n", "", "qty: 24", "qty: 28"),
		},
		{
			name: "key deleted on both, other keys changed", path: jobPath, base: job,
			home: rep(job, "copies: 1\n", "", "40 min", "45 min"),
			shop: rep(job, "copies: 1\n", "", "25 min", "30 min"),
			want: rep(job, "copies: 1\n", "", "40 min", "45 min", "25 min", "30 min"),
		},
		{
			name: "moved here, edited there", path: jobPath, base: job,
			home: rep(job, "  - id: mill\n    takes: 40 min\n", "", "    after: [mill]\n", "    after: [mill]\n  - id: mill\n    takes: 40 min\n"),
			shop: rep(job, "40 min", "55 min"),
			want: rep(job, "  - id: mill\n    takes: 40 min\n", "", "    after: [mill]\n", "    after: [mill]\n  - id: mill\n    takes: 55 min\n"),
		},
		{
			name: "keys put in another order here, edited there", path: jobPath, base: job,
			home: rep(job, "  - id: skin\n    qty: 2\n", "  - qty: 2\n    id: skin\n"),
			shop: rep(job, "qty: 2\n", "qty: 3\n"),
			want: rep(job, "  - id: skin\n    qty: 2\n", "  - qty: 3\n    id: skin\n"),
		},
		{
			name: "id renamed here, edited there", path: jobPath, base: job,
			home: rep(job, "id: skin", "id: outer-skin"),
			shop: rep(job, "qty: 2\n", "qty: 3\n"),
			want: rep(job, "id: skin", "id: outer-skin", "qty: 2\n", "qty: 3\n"),
		},
		{
			name: "id renamed on both", path: jobPath, base: job,
			home:    rep(job, "id: skin", "id: outer-skin"),
			shop:    rep(job, "id: skin", "id: top"),
			want:    rep(job, "id: skin", "id: top"),
			records: []string{"value parts[top].id: top | outer-skin"},
		},
		{
			name: "words added to a list on both", path: jobPath, base: job,
			home: rep(job, "[mill]", "[mill, plane]"),
			shop: rep(job, "[mill]", "[mill, dry-fit]"),
			want: rep(job, "[mill]", "[mill, dry-fit, plane]"),
		},
		{
			name: "word taken from a list here, added there", path: jobPath, base: job,
			home: rep(job, "[mill]", "[]"),
			shop: rep(job, "[mill]", "[mill, dry-fit]"),
			want: rep(job, "[mill]", "[dry-fit]"),
		},
		{
			name: "a position is one value", path: jobPath,
			base:    "parts:\n- id: fence\n  at: [2, 2]\n",
			home:    "parts:\n- id: fence\n  at: [3, 2]\n",
			shop:    "parts:\n- id: fence\n  at: [2, 4]\n",
			want:    "parts:\n- id: fence\n  at: [2, 4]\n",
			records: []string{"value parts[fence].at: [2, 4] | [3, 2]"},
		},
		{
			name: "flow maps by key", path: jobPath, base: job,
			home: rep(job, "{item: screw-8x1-1/4, qty: 24}", "{item: screw-8x1-1/4, qty: 24, bin: A3}"),
			shop: rep(job, "{item: screw-8x1-1/4, qty: 24}", "{item: screw-8x1-1/4, qty: 28}"),
			want: rep(job, "{item: screw-8x1-1/4, qty: 24}", "{item: screw-8x1-1/4, qty: 28, bin: A3}"),
		},
		{
			name: "flow map over several lines", path: jobPath,
			base: "air: {\n  day: 18 C, # heated\n  night: 9 C\n}\nname: x\n",
			home: "air: {\n  day: 19 C, # heated\n  night: 9 C\n}\nname: x\n",
			shop: "air: {\n  day: 18 C, # heated\n  night: 7 C\n}\nname: x\n",
			want: "air: {\n  day: 19 C, # heated\n  night: 7 C\n}\nname: x\n",
		},
		{
			name: "machining without ids", path: jobPath,
			base: "machining:\n  - groove: {cutter: straight-1/4, depth: 3/16, along: length}\n  - holes: {through: 1/4, at: 2}\n",
			home: "machining:\n  - groove: {cutter: straight-1/4, depth: 1/4, along: length}\n  - holes: {through: 1/4, at: 2}\n  - dado: {width: 3/4}\n",
			shop: "machining:\n  - groove: {cutter: straight-1/4, depth: 3/16, along: width}\n  - holes: {through: 5/16, at: 2}\n",
			want: "machining:\n  - groove: {cutter: straight-1/4, depth: 1/4, along: width}\n  - holes: {through: 5/16, at: 2}\n  - dado: {width: 3/4}\n",
		},
		{
			name: "machining without ids, one figure", path: jobPath,
			base:    "parts:\n  - id: skin\n    machining:\n      - groove: {cutter: straight-1/4, depth: 3/16}\n",
			home:    "parts:\n  - id: skin\n    machining:\n      - groove: {cutter: straight-1/4, depth: 1/4}\n",
			shop:    "parts:\n  - id: skin\n    machining:\n      - groove: {cutter: straight-1/4, depth: 1/8}\n",
			want:    "parts:\n  - id: skin\n    machining:\n      - groove: {cutter: straight-1/4, depth: 1/8}\n",
			records: []string{"value parts[skin].machining[#1].groove.depth: 1/8 | 1/4"},
		},
		{
			name: "block scalar here, other key there", path: jobPath,
			base: "note: |\n  one\n\n  two\n\nname: a\n",
			home: "note: |\n  one\n\n  two # kept\n\nname: a\n",
			shop: "note: |\n  one\n\n  two\n\nname: b\n",
			want: "note: |\n  one\n\n  two # kept\n\nname: b\n",
		},
		{
			name: "block scalars on both", path: jobPath,
			base:    "a:\n    note: |\n        one\n    k: 1\n",
			home:    "a:\n    note: |\n        one\n          in\n    k: 1\n",
			shop:    "a:\n    note: |\n        two\n    k: 2\n",
			want:    "a:\n    note: |\n        two\n    k: 2\n",
			records: []string{"value a.note: |\n  two\n | |\n  one\n    in\n"},
		},
		{
			name: "value becomes a table on one side", path: jobPath,
			base:    "clamps: auto\nname: a\n",
			home:    "clamps: none\nname: a\n",
			shop:    "clamps:\n  bar: 8\nname: a\n",
			want:    "clamps:\n  bar: 8\nname: a\n",
			records: []string{"value clamps: bar: 8\n | none"},
		},
		{
			name: "empty list filled on both", path: jobPath,
			base: "fittings: []\nname: a\n",
			home: "fittings:\n  - id: insert-a\n    angle: 0\nname: a\n",
			shop: "fittings:\n  - id: insert-b\n    angle: 45\nname: a\n",
			want: "fittings:\n  - id: insert-a\n    angle: 0\n  - id: insert-b\n    angle: 45\nname: a\n",
		},
		{
			name: "all items of a list deleted, each on one side", path: jobPath,
			base: "parts: # none yet\n  - id: a\n    qty: 1\n  - id: b\n    qty: 1\nname: x\n",
			home: "parts: # none yet\n  - id: b\n    qty: 1\nname: x\n",
			shop: "parts: # none yet\n  - id: a\n    qty: 1\nname: x\n",
			want: "parts: [] # none yet\nname: x\n",
		},
		{
			name: "indented anew here, item added there", path: jobPath,
			base: "parts:\n- id: a\n  qty: 1\nname: x\n",
			home: "parts:\n    - id: a\n      qty: 1\nname: x\n",
			shop: "parts:\n- id: a\n  qty: 1\n- id: b\n  note: |\n    text\n  qty: 2\nname: x\n",
			want: "parts:\n    - id: a\n      qty: 1\n    - id: b\n      note: |\n        text\n      qty: 2\nname: x\n",
		},
		{
			name: "keys added at the top below a heading on both", path: jobPath, base: "# A heading.\na: 1\n",
			home: "# A heading.\nz: 1\na: 1\n", shop: "# A heading.\n# of two lines\ny: 1\na: 1\n",
			want: "# A heading.\n# of two lines\ny: 1\nz: 1\na: 1\n",
		},
		{
			name: "only a comment before", path: jobPath, base: "# Nothing yet.\n",
			home: "# Nothing yet.\nb: 1\n", shop: "# Nothing yet.\na: 1\n", want: "# Nothing yet.\na: 1\nb: 1\n",
		},
		{
			name: "prices of one item at two suppliers", path: "prices.yaml",
			base: "prices:\n  - {item: ply, supplier: a, pack: 1, price: 60}\n  - {item: ply, supplier: b, pack: 5, price: 280}\n",
			home: "prices:\n  - {item: ply, supplier: a, pack: 1, price: 62}\n  - {item: ply, supplier: b, pack: 5, price: 280}\n",
			shop: "prices:\n  - {item: ply, supplier: a, pack: 1, price: 60}\n  - {item: ply, supplier: b, pack: 5, price: 290}\n  - {item: glue, supplier: a, pack: 1, price: 9}\n",
			want: "prices:\n  - {item: ply, supplier: a, pack: 1, price: 62}\n  - {item: ply, supplier: b, pack: 5, price: 290}\n  - {item: glue, supplier: a, pack: 1, price: 9}\n",
		},
		{
			name: "rows of holes are one value", path: jobPath,
			base:    "at: [[2, 2], [2, 22]]\n",
			home:    "at: [[2, 2], [2, 22], [3, 3]]\n",
			shop:    "at: [[2, 2], [2, 22], [4, 4]]\n",
			want:    "at: [[2, 2], [2, 22], [4, 4]]\n",
			records: []string{"value at: [[2, 2], [2, 22], [4, 4]] | [[2, 2], [2, 22], [3, 3]]"},
		},
		{
			name: "a key with a comment becomes the first of its item here, the comment changes there", path: jobPath,
			base:    "l:\n  - id: a\n    # why\n    k: 1\n",
			home:    "l:\n  # why\n  - k: 1\n    id: a\n",
			shop:    "l:\n  - id: a\n    # why not\n    k: 1\n",
			want:    "l:\n  # why\n  # why not\n  - k: 1\n    id: a\n",
			records: []string{"passage comment above l[a].k: # why not | <gone>"},
		},
		{
			name: "line ends changed here, value there", path: jobPath, base: "a: 1\nb: 2\n",
			home: "a: 1\r\nb: 2\r\n",
			shop: "a: 1\nb: 3\n",
			want: "a: 1\r\nb: 3\r\n",
		},
		{
			name: "byte order mark here, no final line end there", path: jobPath, base: "a: 1\nb: 2\nc: ä\n",
			home: "\ufeffa: 4\nb: 2\nc: ä\n",
			shop: "a: 1\nb: 3\nc: ä",
			want: "\ufeffa: 4\nb: 3\nc: ä",
		},
		{
			name: "characters of several bytes before a value", path: jobPath,
			base: "{ü: 1, ö: {ß: größe, é: 2}, 木: [ä]}\n",
			home: "{ü: 1, ö: {ß: größer, é: 2}, 木: [ä]}\n",
			shop: "{ü: 1, ö: {ß: größe, é: 3}, 木: [ä, ø]}\n",
			want: "{ü: 1, ö: {ß: größer, é: 3}, 木: [ä, ø]}\n",
		},
		{
			name: "first key of an item deleted here, edited there below a comment", path: jobPath,
			base: "l:\n  - id: a\n    # why\n    k: 1\n    z: 1\n",
			home: "l:\n  - id: a\n    # why\n    k: 2\n    z: 1\n",
			shop: "l:\n  # why\n  - k: 1\n    id: a\n    z: 3\n",
			want: "l:\n  # why\n  - k: 2\n    id: a\n    z: 3\n",
		},
		{
			name: "the shop's lists made on both machines", path: "stock.yaml", addedBoth: true,
			home: "sheets:\n  - id: ply-a\n    qty: 1\n",
			shop: "sheets:\n  - id: ply-b\n    qty: 2\nhardware: []\n",
			want: "sheets:\n  - id: ply-a\n    qty: 1\n  - id: ply-b\n    qty: 2\nhardware: []\n",
		},
		{
			name: "stock taken on both", path: "stock.yaml",
			base:    "sheets:\n  - {id: ply, qty: 5}\n",
			home:    "sheets:\n  - {id: ply, qty: 4}\n",
			shop:    "sheets:\n  - {id: ply, qty: 3}\n",
			want:    "sheets:\n  - {id: ply, qty: 3}\n",
			records: []string{"value sheets[ply].qty: 3 | 4"},
		},
		{
			name: "a job made on both machines under one name", path: jobPath, addedBoth: true,
			home: "name: Sled\nparts: []\n", shop: "name: Crosscut sled\nparts: []\n",
			want:    "name: Crosscut sled\nparts: []\n",
			records: []string{"file whole file: name: Crosscut sled\nparts: []\n | name: Sled\nparts: []\n"},
		},
		{
			name: "a half-written file does not stand", path: jobPath, base: "a: 1\n",
			home: "a: 2\n", shop: "a: [3\n", want: "a: 2\n",
			records: []string{"file whole file: a: 2\n | a: [3\n"},
		},
		{
			name: "a key twice does not stand", path: jobPath, base: "a: 1\n",
			home: "a: 2\n", shop: "a: 1\na: 3\n", want: "a: 2\n",
			records: []string{"file whole file: a: 2\n | a: 1\na: 3\n"},
		},
		{
			name: "one key made on both, different", path: jobPath, base: "name: a\nparts: []\n",
			home:    "name: a\ndue: 2026-05-01\nparts: []\n",
			shop:    "name: a\nparts: []\ndue: 2026-06-01 # moved\n",
			want:    "name: a\nparts: []\ndue: 2026-06-01 # moved\n",
			records: []string{"value due: 2026-06-01 | 2026-05-01"},
		},
		{
			name: "one key made on both, alike", path: jobPath, base: "name: a\n",
			home: "name: a\ndue: 2026-05-01\n", shop: "name: a\ndue: 2026-05-01\n",
			want: "name: a\ndue: 2026-05-01\n",
		},
		{
			name: "anchors are settled whole", path: jobPath, base: "a: &x 1\nb: *x\n",
			home: "a: &x 2\nb: *x\n", shop: "a: &x 1\nb: 3\n", want: "a: &x 1\nb: 3\n",
			records: []string{"file whole file: a: &x 1\nb: 3\n | a: &x 2\nb: *x\n"},
		},
		{
			name: "file deleted here, edited there", path: jobPath, base: "a: 1\n", deleted: true,
			shop: "a: 2\n", want: "a: 2\n",
			records: []string{"file whole file: a: 2\n | <gone>"},
		},
	})
}
