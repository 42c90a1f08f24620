package job

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"caul/job/measure"
)

// NewShopOptions are the habits of a new shop; empty ones are in, UTC and USD.
type NewShopOptions struct {
	Units string // in or mm
	Zone  string // a name of the time zone database; empty: this machine's
	Money string // ISO 4217
}

// NewShop makes a shop folder with commented files to fill in. The folder may
// be there already when it is empty but for hidden files; nothing that is
// there is written over.
func NewShop(dir, name string, o NewShopOptions) error {
	if es, err := os.ReadDir(dir); err == nil {
		for _, e := range es {
			if !hidden(e.Name()) {
				return fmt.Errorf("%s is not empty: it holds %s", dir, e.Name())
			}
		}
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	sys := measure.Inches
	if o.Units != "" {
		var err error
		if sys, err = measure.ParseSystem(o.Units); err != nil {
			return fmt.Errorf("units %q: write in or mm", o.Units)
		}
	}
	if o.Money == "" {
		o.Money = "USD"
	}
	if _, ok := measure.Decimals(o.Money); !ok {
		return fmt.Errorf("money %q: write the three-letter code of ISO 4217, such as USD or EUR", o.Money)
	}
	if o.Zone == "" {
		o.Zone = ZoneName(time.Local, time.Unix(0, 0))
	}
	if !goodZone(o.Zone) {
		return fmt.Errorf("zone %q: write a name of the time zone database, such as Europe/Vienna or America/Denver", o.Zone)
	}
	if name == "" {
		name = "Shop"
	}
	text, stock, prices := starterShopInches, starterStockInches, starterPricesInches
	if sys == measure.Metric {
		text, stock, prices = starterShopMetric, starterStockMetric, starterPricesMetric
	}
	fill := strings.NewReplacer("{NAME}", quote(cleanLine(name), false), "{ZONE}", o.Zone, "{MONEY}", o.Money)
	return writeTree(dir, []treeFile{
		{"shop.yaml", fill.Replace(text)},
		{"stock.yaml", fill.Replace(stock)},
		{"prices.yaml", fill.Replace(prices)},
		{".gitignore", Ignore},
	}, func(fsys fs.FS) error { _, err := LoadFS(fsys, dir); return err })
}

// Ignore is the .gitignore of a shop: what is computed, and what is half
// written.
const Ignore = `# computed by caul; delete it at any time
/site/
/drawings/
# a file that was being written when the power went
.caul-*
`

// errJobThere is what NewJob says of a job that there is.
var errJobThere = errors.New("already")

// IsThere tells that NewJob refused because there is a job of that name.
func IsThere(err error) bool { return errors.Is(err, errJobThere) }

// IDFrom makes an id for a job out of what a person calls it: "Shooting board"
// gives "shooting-board"; "" where nothing of the name can stand in an id.
func IDFrom(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() >= 40 {
			break
		}
	}
	id := strings.Trim(b.String(), "-")
	if id == "" || !idShape.MatchString(id) || badFolder(id) {
		return ""
	}
	return id
}

// NewJob makes a job's folder with a commented job.yaml and build.md, their
// examples in the shop's own units: inches where shop.yaml does not read.
func NewJob(dir, id, name string) error {
	if !idShape.MatchString(id) || strings.Contains(id, "/") || len(id) > 64 || strings.HasSuffix(id, ".") || badFolder(id) {
		return fmt.Errorf("%q cannot be a job's folder: use letters, digits and hyphens, as in torsion-table", id)
	}
	if _, err := ReadFile(dir, "shop.yaml"); err != nil {
		return fmt.Errorf("%s is no shop: %s", dir, plainError(err))
	}
	if es, err := os.ReadDir(filepath.Join(dir, "jobs")); err == nil {
		for _, e := range es {
			if strings.EqualFold(e.Name(), id) {
				return fmt.Errorf("there is a job %q %w", e.Name(), errJobThere)
			}
		}
	}
	full, err := inShop(dir, "jobs/"+id)
	if err != nil {
		return err
	}
	if name == "" {
		name = id
	}
	fill := strings.NewReplacer("{NAME}", quote(cleanLine(name), false), "{TITLE}", cleanLine(name))
	text := starterJobInches
	if s, err := Load(dir); err == nil && s.Units.Length.System == measure.Metric {
		text = starterJobMetric
	}
	if _, err := makeDir(osDisk{}, dir, "jobs"); err != nil {
		return err
	}
	return writeTree(full, []treeFile{
		{"job.yaml", fill.Replace(text)},
		{"build.md", fill.Replace(starterBuild)},
	}, nil)
}

// badFolder names the words Windows keeps for devices.
func badFolder(id string) bool {
	base, _, _ := strings.Cut(strings.ToLower(id), ".")
	switch base {
	case "con", "prn", "aux", "nul":
		return true
	}
	return len(base) == 4 && (strings.HasPrefix(base, "com") || strings.HasPrefix(base, "lpt")) && base[3] >= '0' && base[3] <= '9'
}

func cleanLine(s string) string {
	return strings.Join(strings.Fields(strings.ReplaceAll(cleanProse(s), "\n", " ")), " ")
}

type treeFile struct{ name, text string }

// writeTree writes new files into a folder, never over one that is there. The
// last step of each file is durable.
func writeTree(dir string, files []treeFile, check func(fs.FS) error) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return err
	}
	for _, f := range files {
		full := filepath.Join(dir, filepath.FromSlash(f.name))
		err := createFile(osDisk{}, full, []byte(f.text))
		if errors.Is(err, fs.ErrExist) {
			if hidden(f.name) {
				continue
			}
			return fmt.Errorf("%s is there already", full)
		}
		if err != nil {
			return err
		}
	}
	if check == nil {
		return nil
	}
	return check(os.DirFS(dir))
}

const starterShopInches = `# This shop. Every line that begins with # is a note; take the # away to use it.
name: {NAME}
units: {length: in, finest: 1/64, temperature: F, money: {MONEY}}
zone: {ZONE}

# When you are in the shop, on the 24-hour clock. Leave out the days it is shut.
hours:
  mon-fri: 19:00-21:30
  sat: [9:00-12:00, 13:30-17:00]
  # except:
  #   - {date: 2026-12-24, why: holiday}                 # shut
  #   - {date: 2026-12-27, open: [9:00-12:00], why: a day off}

# The shop's air through a usual day: from a time of day on, until the next.
air:
  day: {0:00: 55 F, 18:30: 66 F, 22:00: 55 F}
  humidity: 45
  # The seasons the jig will live through, for the movement of the wood.
  seasons:
    - {name: winter, temp: 62 F, humidity: 30}
    - {name: summer, temp: 78 F, humidity: 60}

clamps:
  - {id: bar, name: bar clamps, kind: bar, qty: 6, opening: 36}
  - {id: f-style, name: F-clamps, kind: f-style, qty: 4, opening: 12}

# Where a glue-up can sit.
places:
  - {id: bench, name: the bench, qty: 1}

machines:
  - {id: table-saw, name: table saw, kind: table-saw, set-up: 5 min, capacity: 24}
  - {id: router-table, name: router table, kind: router-table, set-up: 8 min}
  - {id: drill-press, name: drill press, kind: drill-press, set-up: 4 min}

cutters:
  - {id: straight-1/4, kind: straight, diameter: 1/4, length: 3/4, shank: 1/4}
  - {id: forstner-1/2, kind: forstner, diameter: 1/2}

# Measure the cut in a scrap, not the plate.
blades:
  - {id: combination, machine: table-saw, kerf: 1/8, teeth: 50}

# Lengths of your own saw and stock that jobs can use by name.
measures:
  half-ply: 0.472                # what half-inch ply measures
`

const starterShopMetric = `# This shop. Every line that begins with # is a note; take the # away to use it.
name: {NAME}
units: {length: mm, finest: 0.1, temperature: C, money: {MONEY}}
zone: {ZONE}

# When you are in the shop, on the 24-hour clock. Leave out the days it is shut.
hours:
  mon-fri: 19:00-21:30
  sat: [9:00-12:00, 13:30-17:00]
  # except:
  #   - {date: 2026-12-24, why: holiday}                 # shut
  #   - {date: 2026-12-27, open: [9:00-12:00], why: a day off}

# The shop's air through a usual day: from a time of day on, until the next.
air:
  day: {0:00: 13 C, 18:30: 19 C, 22:00: 13 C}
  humidity: 45
  # The seasons the jig will live through, for the movement of the wood.
  seasons:
    - {name: winter, temp: 17 C, humidity: 30}
    - {name: summer, temp: 25 C, humidity: 60}

clamps:
  - {id: bar, name: bar clamps, kind: bar, qty: 6, opening: 900}
  - {id: f-style, name: F-clamps, kind: f-style, qty: 4, opening: 300}

# Where a glue-up can sit.
places:
  - {id: bench, name: the bench, qty: 1}

machines:
  - {id: table-saw, name: table saw, kind: table-saw, set-up: 5 min, capacity: 600}
  - {id: router-table, name: router table, kind: router-table, set-up: 8 min}
  - {id: drill-press, name: drill press, kind: drill-press, set-up: 4 min}

cutters:
  - {id: straight-6, kind: straight, diameter: 6, length: 20, shank: 8}
  - {id: forstner-12, kind: forstner, diameter: 12}

# Measure the cut in a scrap, not the plate.
blades:
  - {id: combination, machine: table-saw, kerf: 3.2, teeth: 40}

# Lengths of your own saw and stock that jobs can use by name.
measures:
  ply: 11.8                      # what 12 mm ply measures
`

const starterStockInches = `# What you buy parts from, and what is on the shelf. Sizes are along the grain x across x thick.
stock:
  - id: birch-ply-1/2
    form: sheet
    species: birch-plywood
    nominal: 1/2
    size: 96 x 48 x 1/2
    grain: true                  # parts follow the grain unless they say turn: true
    trim: 1/4                    # taken off every edge, but of what is marked offcut: true
    price: birch-ply-1/2         # item of prices.yaml that buys one
    on-hand:
      - {id: half-sheet, size: 48 x 48, where: behind the saw}

# hardware:                      # counted, or by measure
#   - {item: screw-8x1-1/4, qty: 60, where: drawer 2}
`

const starterStockMetric = `# What you buy parts from, and what is on the shelf. Sizes are along the grain x across x thick.
stock:
  - id: birch-ply-12
    form: sheet
    species: birch-plywood
    nominal: 12 mm
    size: 2500 x 1250 x 12
    grain: true                  # parts follow the grain unless they say turn: true
    trim: 6                      # taken off every edge, but of what is marked offcut: true
    price: birch-ply-12          # item of prices.yaml that buys one
    on-hand:
      - {id: half-sheet, size: 1250 x 1250, where: behind the saw}

# hardware:                      # counted, or by measure
#   - {item: screw-4x30, qty: 60, where: drawer 2}
`

const starterPricesInches = `# What things cost: one line an item and a supplier, with the date the price was seen.
# tax: 8.25                      # percent, when prices are without
items:
#   - {item: birch-ply-1/2, supplier: timber yard, price: 62.00, date: 2026-03-01}
#   - {item: screw-8x1-1/4, supplier: hardware shop, pack: 100, price: 7.40, date: 2026-03-01}
#   - {item: pva, supplier: hardware shop, amount: 500 ml, price: 8.90, date: 2026-03-01}
`

const starterPricesMetric = `# What things cost: one line an item and a supplier, with the date the price was seen.
# tax: 19                        # percent, when prices are without
items:
#   - {item: birch-ply-12, supplier: timber yard, price: 62.00, date: 2026-03-01}
#   - {item: screw-4x30, supplier: hardware shop, pack: 100, price: 7.40, date: 2026-03-01}
#   - {item: pva, supplier: hardware shop, amount: 500 ml, price: 8.90, date: 2026-03-01}
`

const starterJobInches = `# A build. Sizes are along the grain x across x thick, in the shop's units unless a unit is given.
# Every line that begins with # is a note; take the # away to use it. ` + "`caul help files`" + ` lists every key.
name: {NAME}
# for: what it is for
copies: 1
# due: 2026-12-01

# measures:                      # lengths that hang on your own saw or stock
#   slot: {is: 3/4, ask: width of the mitre slot}

parts:
#   - id: base
#     qty: 1
#     size: 24 x 12 x 1/2
#     from: birch-ply-1/2        # a kind of stock
#     machining:
#       - groove: {cutter: straight-1/4, depth: 3/16, along: length, at: 2 from near-edge}
#       - holes: {through: 1/4, at: [[2, 2], [22, 2]]}

# hardware:
#   - {item: screw-8x1-1/4, qty: 8, step: trim}

# glue-ups:                      # each is also a step of the same id
#   - {id: fence, joins: [base], glue: pva, bond: 24 x 1-1/2, clamps: {bar: 4}, place: bench}

# Hands-on time of each step, and what it comes after.
steps:
#   - {id: cut, name: Cut the parts, takes: 40 min, setup: table saw}
#   - {id: fence, takes: 20 min, after: [cut]}
#   - {id: trim, takes: 15 min, after: [fence cured], setup: table saw}

# checks:
#   - {id: square, measure: out of square over the length, at-most: 0.005, every: 6 months}
`

const starterJobMetric = `# A build. Sizes are along the grain x across x thick, in the shop's units unless a unit is given.
# Every line that begins with # is a note; take the # away to use it. ` + "`caul help files`" + ` lists every key.
name: {NAME}
# for: what it is for
copies: 1
# due: 2026-12-01

# measures:                      # lengths that hang on your own saw or stock
#   slot: {is: 19, ask: width of the mitre slot}

parts:
#   - id: base
#     qty: 1
#     size: 600 x 300 x 12
#     from: birch-ply-12         # a kind of stock
#     machining:
#       - groove: {cutter: straight-6, depth: 4, along: length, at: 50 from near-edge}
#       - holes: {through: 6, at: [[50, 50], [550, 50]]}

# hardware:
#   - {item: screw-4x30, qty: 8, step: trim}

# glue-ups:                      # each is also a step of the same id
#   - {id: fence, joins: [base], glue: pva, bond: 600 x 40, clamps: {bar: 4}, place: bench}

# Hands-on time of each step, and what it comes after.
steps:
#   - {id: cut, name: Cut the parts, takes: 40 min, setup: table saw}
#   - {id: fence, takes: 20 min, after: [cut]}
#   - {id: trim, takes: 15 min, after: [fence cured], setup: table saw}

# checks:
#   - {id: square, measure: out of square over the length, at-most: 0.1, every: 6 months}
`

const starterBuild = `# {TITLE}

Why it is built, and what it must do.

<!-- A heading with a step's id or name holds that step's instructions:

## cut

- [ ] rip the base
- [ ] check it for square
-->
`
