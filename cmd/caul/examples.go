package main

import (
	"strings"

	"github.com/spf13/cobra"
)

// examples are what `--help` shows of each command, by its path without the
// program's name. Jobs and steps are those of the demo shop where they can be.
var examples = map[string]string{
	"new shop": `caul new shop my-shop
caul new shop keller --units mm --money EUR --zone Europe/Vienna`,
	"new job": `caul new job sled
caul new job sled-fence --name "Crosscut sled fence"`,
	"proof": `caul proof
caul proof torsion-table`,
	"cut": `caul cut
caul cut torsion-table --drawings sheets
caul cut torsion-table --made ea4b2b --where "rack by the door"`,
	"buy": `caul buy
caul buy torsion-table --one-stop
caul buy --csv > list.csv`,
	"cost": `caul cost torsion-table --hours
caul cost torsion-table --copies 3
caul cost torsion-table --up-to 6`,
	"plan": `caul plan
caul plan torsion-table --why
caul plan --helps --day-sheet plan.svg`,
	"now": `caul now
caul now --for 50m
caul now --for "1 h 30 min" --cautions`,
	"glue-up": `caul glue-up
caul glue-up core
caul glue-up torsion-table/core --at 19:05`,
	"set-ups": `caul set-ups torsion-table`,
	"draw": `caul draw torsion-table
caul draw torsion-table skin --both-units -o drawings
caul draw torsion-table skin --template Letter --on back`,
	"reckon": `caul reckon
caul reckon convert --value "12-1/8 in"
caul reckon spacing --length 24 --count 5 --width 3/4`,
	"fittings": `caul fittings
caul fittings combination --angle 45
caul fittings insert --labels labels.pdf`,
	"begin": `caul begin core
caul begin torsion-table/core --at 19:05
caul begin core -m "cold hands"`,
	"clamp": `caul clamp core --air 61F
caul clamp core --at 2026-03-14T19:05 -m "squeeze-out on both sides"`,
	"unclamp": `caul unclamp core
caul unclamp core --air 16C`,
	"finish": `caul finish mill
caul finish mill --took "50 min"`,
	"aside":   `caul aside mill -m "waits for the new blade"`,
	"take-up": `caul take-up mill`,
	"undo": `caul undo
caul undo -j torsion-table
caul undo torsion-table/2026-03-14T1905-shop-clamped-core`,
	"note": `caul note "squeeze-out even on both long sides"
caul note "the gap at the left end" --picture gap.jpg
caul note "what I paid" --private`,
	"reading": `caul reading flat "0.003 in"
caul reading torsion-table/flat --value "0.08 mm"
caul reading square 1.250 1.247 20`,
	"air": `caul air 61F
caul air 16C --at 07:30`,
	"bought": `caul bought birch-ply-1/2 --packs 2 --paid 124.00
caul bought screw-8x1-1/4`,
	"spoiled": `caul spoiled rib --qty 2 -m "the fence slipped"`,
	"used": `caul used torsion-table
caul used shooting-board --times 12`,
	"tick": `caul tick rip the ribs
caul tick rip the ribs --off`,
	"bench": `caul bench
caul bench --lan
caul bench --lan --visitors --port 7300`,
	"watch": `caul watch
caul watch --ring ./ring.sh`,
	"both-ways":      `caul both-ways`,
	"both-ways keep": `caul both-ways keep 1`,
	"both-ways take": `caul both-ways take 1`,
	"both-ways show": `caul both-ways show 1`,
	"calendar": `caul calendar -o plan.ics
caul calendar torsion-table > table.ics`,
	"machine": `caul machine
caul machine laptop`,
	"pair": `caul pair https://192.168.1.20:7246
caul pair https://192.168.1.20:7246 my-shop --machine laptop`,
	"remote": `caul remote
caul remote add stick /media/stick`,
	"remote add": `caul remote add stick /media/stick
caul remote add attic ssh://attic/srv/shop.git
caul remote add away https://shop.example/shop.git`,
	"remote forget": `caul remote forget stick`,
	"remote copy":   `caul remote copy /media/stick my-shop --machine shop`,
	"share": `caul share torsion-table --check
caul share torsion-table -o outgoing
caul share torsion-table --never "Elm Street"`,
	"site": `caul site
caul site -o pages --anew`,
	"sync": `caul sync
caul sync stick
caul sync --status`,
	"take": `caul take torsion-table.zip --propose
caul take torsion-table.zip --measure "slot=19 mm" --stock ply-1/2=ply-12
caul take torsion-table.zip --as flat-table --add-missing`,
	"demo": `caul demo
caul demo my-demo`,
	"reckon five-cut":      `caul reckon five-cut --far 1.247 --fence 1.25 --length 20 --pivot 24`,
	"reckon diagonals":     `caul reckon diagonals --length 24 --width 12 --first 26.9 --second 26.8`,
	"reckon flip":          `caul reckon flip --gap 0.5 --over 300 --units mm`,
	"reckon winding":       `caul reckon winding --gap 2 --sticks 600 --board 150 --units mm`,
	"reckon strings":       `caul reckon strings --gap 0.4 --units mm`,
	"reckon straightedges": `caul reckon straightedges --ab 0.30 --ac 0.10 --bc 0.20 --units mm`,
	"reckon movement":      `caul reckon movement --wood white-fir --width 232 --from 8 --to 11 --units mm`,
	"reckon emc":           `caul reckon emc --air 70F --humidity 50`,
	"reckon weight":        `caul reckon weight --of birch-ply --length 96 --width 48 --thick 1/2`,
	"reckon board-feet":    `caul reckon board-feet --thick 5/4 --width 7-1/4 --length 10ft`,
	"reckon rough":         `caul reckon rough --thick 3/4`,
	"reckon nominal":       `caul reckon nominal --thick 2 --width 4`,
	"reckon sheet":         `caul reckon sheet --sold-as 3/4 --measured 0.709`,
	"reckon kerf":          `caul reckon kerf --stock 96 --part 11-1/4 --trim 1/2`,
	"reckon glue":          `caul reckon glue --length 46 --width 3/4 --lines 2 --wood poplar --have 6`,
	"reckon clamps":        `caul reckon clamps --length 36 --width 3/4 --to-line 3 --clamp pipe`,
	"reckon cure":          `caul reckon cure --glue pva --air 16C`,
	"reckon spacing":       `caul reckon spacing --length 36 --count 5 --width 3/4`,
	"reckon slots":         `caul reckon slots --left 5-1/4 --right 5-5/8 --base 12`,
	"reckon arc":           `caul reckon arc --chord 24 --rise 3`,
	"reckon segments":      `caul reckon segments --count 12 --diameter 12 --inside 10`,
	"reckon pilot":         `caul reckon pilot --screw 8x1-1/4 --wood hard-maple --fixed 1/4`,
	"reckon thread":        `caul reckon thread --thread 1/4-20 --turns 1/4`,
	"reckon dovetail":      `caul reckon dovetail --depth 3/8 --thick 3/4`,
	"reckon passes":        `caul reckon passes --depth 3/8 --cutter 1/2`,
	"reckon rim-speed":     `caul reckon rim-speed --diameter 10 --turns 3450`,
	"reckon convert":       `caul reckon convert --value 308mm`,
	"version": `caul version
caul version --json`,
}

// addExamples puts the examples of every command into its help.
func addExamples(c *cobra.Command) {
	path := strings.TrimPrefix(c.CommandPath(), c.Root().Name()+" ")
	if e, ok := examples[path]; ok && c.Example == "" {
		c.Example = "  " + strings.ReplaceAll(e, "\n", "\n  ")
	}
	if strings.HasPrefix(path, "reckon ") {
		c.Long = strings.Join(wrapText(c.Long, 80), "\n")
	}
	for _, sub := range c.Commands() {
		addExamples(sub)
	}
}
