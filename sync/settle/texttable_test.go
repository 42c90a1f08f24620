package settle

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const build = `---
name: Torsion box
tags: [bench, flat]
---
# Torsion box

A flat place to glue up on.

## Mill

- [ ] Mill the ribs to one width
- [ ] Check the width at both ends
- [x] Sort the ply

Keep the offcuts.

## Glue-up

1. Dry fit.
2. Spread.

` + "```\nfence 3-1/2\n\nblade up\n```\n"

func TestMarkdownTable(t *testing.T) {
	const p = "jobs/torsion-table/build.md"
	runTable(t, []twoSided{
		{
			name: "ticks on both", path: p, base: build,
			home: rep(build, "- [ ] Mill", "- [x] Mill"),
			shop: rep(build, "- [ ] Check", "- [x] Check"),
			want: rep(build, "- [ ] Mill", "- [x] Mill", "- [ ] Check", "- [x] Check"),
		},
		{
			name: "ticked here, reworded there", path: p, base: build,
			home: rep(build, "- [ ] Mill the ribs to one width", "- [x] Mill the ribs to one width"),
			shop: rep(build, "- [ ] Mill the ribs to one width", "- [ ] Mill all ribs to one width"),
			want: rep(build, "- [ ] Mill the ribs to one width", "- [x] Mill all ribs to one width"),
		},
		{
			name: "reworded here, ticked there", path: p, base: build,
			home: rep(build, "- [ ] Mill the ribs to one width", "- [ ] Mill all ribs to one width"),
			shop: rep(build, "- [ ] Mill the ribs to one width", "- [x] Mill the ribs to one width"),
			want: rep(build, "- [ ] Mill the ribs to one width", "- [x] Mill all ribs to one width"),
		},
		{
			name: "reworded on both, ticked on one", path: p, base: build,
			home:    rep(build, "- [ ] Mill the ribs to one width", "- [x] Mill all ribs to one width"),
			shop:    rep(build, "- [ ] Mill the ribs to one width", "- [ ] Mill the ribs to the same width"),
			want:    rep(build, "- [ ] Mill the ribs to one width", "- [x] Mill the ribs to the same width"),
			records: []string{`passage task under "Mill": - [ ] Mill the ribs to the same width | - [x] Mill all ribs to one width`},
		},
		{
			name: "unticked here, task added there", path: p, base: build,
			home: rep(build, "- [x] Sort", "- [ ] Sort"),
			shop: rep(build, "- [x] Sort the ply\n", "- [x] Sort the ply\n- [ ] Label the ribs\n"),
			want: rep(build, "- [x] Sort the ply\n", "- [ ] Sort the ply\n- [ ] Label the ribs\n"),
		},
		{
			name: "one task added on both, ticked on one", path: p, base: build,
			home: rep(build, "- [x] Sort the ply\n", "- [x] Sort the ply\n- [x] Label the ribs\n"),
			shop: rep(build, "- [x] Sort the ply\n", "- [x] Sort the ply\n- [ ] Label the ribs\n"),
			want: rep(build, "- [x] Sort the ply\n", "- [x] Sort the ply\n- [x] Label the ribs\n"),
		},
		{
			name: "tasks added on both", path: p, base: build,
			home: rep(build, "- [x] Sort the ply\n", "- [x] Sort the ply\n- [ ] Label the ribs\n"),
			shop: rep(build, "- [x] Sort the ply\n", "- [x] Sort the ply\n- [x] Wax the table\n"),
			want: rep(build, "- [x] Sort the ply\n", "- [x] Sort the ply\n- [ ] Label the ribs\n- [x] Wax the table\n"),
		},
		{
			name: "task deleted here, ticked there", path: p, base: build,
			home:    rep(build, "- [ ] Check the width at both ends\n", ""),
			shop:    rep(build, "- [ ] Check", "- [x] Check"),
			want:    rep(build, "- [ ] Check", "- [x] Check"),
			records: []string{`passage task under "Mill": - [x] Check the width at both ends | <gone>`},
		},
		{
			name: "task moved here, ticked there", path: p, base: build,
			home: rep(build, "- [ ] Mill the ribs to one width\n", "", "- [x] Sort the ply\n", "- [x] Sort the ply\n- [ ] Mill the ribs to one width\n"),
			shop: rep(build, "- [ ] Mill", "- [x] Mill"),
			want: rep(build, "- [ ] Mill the ribs to one width\n", "", "- [x] Sort the ply\n", "- [x] Sort the ply\n- [x] Mill the ribs to one width\n"),
		},
		{
			name: "paragraphs changed, each one", path: p, base: build,
			home: rep(build, "A flat place to glue up on.", "A flat, stiff place to glue up on."),
			shop: rep(build, "Keep the offcuts.", "Keep the long offcuts."),
			want: rep(build, "A flat place to glue up on.", "A flat, stiff place to glue up on.", "Keep the offcuts.", "Keep the long offcuts."),
		},
		{
			name: "one paragraph on both", path: p, base: build,
			home:    rep(build, "Keep the offcuts.", "Keep the short offcuts."),
			shop:    rep(build, "Keep the offcuts.", "Keep the long offcuts."),
			want:    rep(build, "Keep the offcuts.", "Keep the long offcuts."),
			records: []string{`passage paragraph under "Mill": Keep the long offcuts. | Keep the short offcuts.`},
		},
		{
			name: "paragraphs added at one place stay whole", path: p, base: build,
			home: rep(build, "Keep the offcuts.\n", "Keep the offcuts.\n\nNever feed by hand.\n\nAsk before you start.\n"),
			shop: rep(build, "Keep the offcuts.\n", "Keep the offcuts.\n\nMind the dust.\n\nZero the gauge.\n"),
			want: rep(build, "Keep the offcuts.\n", "Keep the offcuts.\n\nMind the dust.\n\nZero the gauge.\n\nNever feed by hand.\n\nAsk before you start.\n"),
		},
		{
			name: "paragraph deleted here, edited there", path: p, base: build,
			home:    rep(build, "Keep the offcuts.\n\n", ""),
			shop:    rep(build, "Keep the offcuts.", "Keep all the offcuts."),
			want:    rep(build, "Keep the offcuts.", "Keep all the offcuts."),
			records: []string{`passage paragraph under "Mill": Keep all the offcuts. | <gone>`},
		},
		{
			name: "heading reworded here, task ticked under it there", path: p, base: build,
			home: rep(build, "## Mill\n", "## Milling\n"),
			shop: rep(build, "- [ ] Check", "- [x] Check"),
			want: rep(build, "## Mill\n", "## Milling\n", "- [ ] Check", "- [x] Check"),
		},
		{
			name: "section moved here, paragraph edited there", path: p, base: "# A\n\n## B\n\nbee\n\n## C\n\nsea\n",
			home: "# A\n\n## C\n\nsea\n\n## B\n\nbee\n",
			shop: "# A\n\n## B\n\nbee\n\n## C\n\nseas\n",
			want: "# A\n\n## C\n\nseas\n\n## B\n\nbee\n",
		},
		{
			name: "code is one passage", path: p, base: build,
			home:    rep(build, "blade up", "blade up 1/8"),
			shop:    rep(build, "fence 3-1/2", "fence 3-5/8"),
			want:    rep(build, "fence 3-1/2", "fence 3-5/8"),
			records: []string{"passage code under \"Glue-up\": ```\nfence 3-5/8\n\nblade up\n``` | ```\nfence 3-1/2\n\nblade up 1/8\n```"},
		},
		{
			name: "front matter by key", path: p, base: build,
			home: rep(build, "name: Torsion box", "name: Torsion-box table"),
			shop: rep(build, "[bench, flat]", "[bench, flat, heavy]", "- [ ] Check", "- [x] Check"),
			want: rep(build, "name: Torsion box", "name: Torsion-box table", "[bench, flat]", "[bench, flat, heavy]", "- [ ] Check", "- [x] Check"),
		},
		{
			name: "front matter, one value", path: p, base: build,
			home:    rep(build, "name: Torsion box", "name: Torsion-box table"),
			shop:    rep(build, "name: Torsion box", "name: Assembly table"),
			want:    rep(build, "name: Torsion box", "name: Assembly table"),
			records: []string{"front-matter value name: Assembly table | Torsion-box table"},
		},
		{
			name: "front matter added here, text changed there", path: p, base: "Hello.\n",
			home: "---\na: 1\n---\nHello.\n", shop: "Hello there.\n",
			want: "---\na: 1\n---\nHello there.\n",
		},
		{
			name: "line ends changed here, tick there", path: p, base: build,
			home: strings.ReplaceAll(build, "\n", "\r\n"),
			shop: rep(build, "- [ ] Check", "- [x] Check"),
			want: strings.ReplaceAll(rep(build, "- [ ] Check", "- [x] Check"), "\n", "\r\n"),
		},
		{
			name: "no final line end here, paragraph added there", path: p, base: "one\n\ntwo\n",
			home: "one a\n\ntwo", shop: "one\n\ntwo\n\nthree\n", want: "one a\n\ntwo\n\nthree",
		},
		{
			name: "a story made on both machines", path: p, addedBoth: true,
			home: "# A\n\nmine\n", shop: "# A\n\nyours\n", want: "# A\n\nyours\n",
			records: []string{"file whole file: # A\n\nyours\n | # A\n\nmine\n"},
		},
	})
}

func TestOtherTable(t *testing.T) {
	const entry = "---\nat: 2026-03-14T19:05:00-06:00\ndid: clamped\n---\nSqueeze-out even.\n"
	const entryPath = "jobs/torsion-table/log/2026-03-14T1905-shop-clamped-core.md"
	runTable(t, []twoSided{
		{
			name: "an entry changed on both", path: entryPath, base: entry,
			home: rep(entry, "even", "even on both sides"), shop: rep(entry, "even", "thin"),
			want: rep(entry, "even", "thin"), second: rep(entry, "even", "even on both sides"),
		},
		{
			name: "an entry made on both", path: entryPath, addedBoth: true,
			home: entry, shop: rep(entry, "even", "thin"), want: rep(entry, "even", "thin"), second: entry,
		},
		{
			name: "an entry deleted here, edited there", path: entryPath, base: entry, deleted: true,
			shop: rep(entry, "even", "thin"), want: rep(entry, "even", "thin"),
			records: []string{"file whole file: " + rep(entry, "even", "thin") + " | <gone>"},
		},
		{
			name: "a photo changed on both", path: "jobs/torsion-table/photos/core.jpg", base: "\xff\xd8a",
			home: "\xff\xd8b", shop: "\xff\xd8c", want: "\xff\xd8c", second: "\xff\xd8b",
		},
		{
			name: "a photo made on both", path: "jobs/torsion-table/photos/core.jpg", addedBoth: true,
			home: "\xff\xd8b", shop: "\xff\xd8c", want: "\xff\xd8c", second: "\xff\xd8b",
		},
		{
			name: "a photo deleted here, changed there", path: "jobs/torsion-table/photos/core.jpg", base: "\xff\xd8b", deleted: true,
			shop: "\xff\xd8c", want: "\xff\xd8c", records: []string{"file whole file: \xff\xd8c | <gone>"},
		},
		{
			name: "another binary", path: "jobs/torsion-table/plan.skp", base: "\x00a",
			home: "\x00b", shop: "\x00c", want: "\x00c", second: "\x00b",
		},
		{
			name: "text here, binary there", path: "notes", base: "a\n",
			home: "b\n", shop: "\x00c", want: "\x00c", second: "b\n",
		},
		{
			name: "rows of a table", path: "prices.csv", base: "item,price\nply,60\nglue,9\n",
			home: "item,price\nply,62\nglue,9\nscrews,4\n", shop: "item,price\nply,60\nglue,10\nbits,20\n",
			want: "item,price\nply,62\nglue,10\nbits,20\nscrews,4\n",
		},
		{
			name: "one row on both", path: "prices.csv", base: "item,price\nbirch ply,60\n",
			home: "item,price\nbirch ply,62\n", shop: "item,price\nbirch ply,65\n",
			want: "item,price\nbirch ply,65\n", records: []string{"passage line: birch ply,65 | birch ply,62"},
		},
		{
			name: "plain text by paragraph", path: "jobs/a/notes.txt", base: "one\n\ntwo\n\nthree\n",
			home: "one a\n\ntwo\n\nthree\n", shop: "one\n\ntwo\n\nthree b\n", want: "one a\n\ntwo\n\nthree b\n",
		},
	})
}

// What only one side changed comes out byte for byte, whatever it is.
func TestOneSided(t *testing.T) {
	for _, p := range []string{jobPath, "shop.yaml", "jobs/a/build.md", "jobs/a/log/x.md", "jobs/a/photos/x.jpg", "x.csv", "both-ways/x.md"} {
		for _, now := range []File{{}, some("b: [\x00"), some("a: 1\r\n\r\nb"), some("")} {
			base := some("a: 1\n")
			require.Equal(t, one(p, now), Settle(p, base, now, base, atHome, atShop, Options{}))
			require.Equal(t, one(p, now), Settle(p, base, base, now, atHome, atShop, Options{}))
			require.Equal(t, one(p, now), Settle(p, base, now, now, atHome, atShop, Options{}))
			if now.Exists {
				require.Equal(t, one(p, now), Settle(p, File{}, File{}, now, atHome, atShop, Options{}))
			}
		}
	}
}
