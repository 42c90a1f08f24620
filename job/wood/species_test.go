package wood

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"caul/job/measure"
)

// Wood Handbook, FPL-GTR-190 (2010), Table 13-5, hardwoods, read in a copy: radial and tangential
// change per 1 % of moisture.
const table135 = `
Alder, red|0.00151|0.00256
Honeylocust|0.00144|0.00230
Apple|0.00205|0.00376
Locust, black|0.00158|0.00252
Ash, black|0.00172|0.00274
Madrone, Pacific|0.00194|0.00451
Ash, Oregon|0.00141|0.00285
Magnolia, cucumbertree|0.00180|0.00312
Ash, pumpkin|0.00126|0.00219
Magnolia, southern|0.00187|0.00230
Ash, white|0.00169|0.00274
Magnolia, sweetbay|0.00162|0.00293
Ash, green|0.00169|0.00274
Maple, bigleaf|0.00126|0.00248
Aspen, quaking|0.00119|0.00234
Maple, red|0.00137|0.00289
Basswood, American|0.00230|0.00330
Maple, silver|0.00102|0.00252
Beech, American|0.00190|0.00431
Maple, black|0.00165|0.00353
Birch, paper|0.00219|0.00304
Maple, sugar|0.00165|0.00353
Birch, river|0.00162|0.00327
Oak, black|0.00123|0.00230
Birch, yellow|0.00256|0.00338
Oak, red|0.00158|0.00369
Birch, sweet|0.00256|0.00338
Oak, California red|0.00123|0.00230
Buckeye, yellow|0.00123|0.00285
Oak, red (water, laurel, willow)|0.00151|0.00350
Butternut|0.00116|0.00223
Oak, white|0.00180|0.00365
Catalpa, northern|0.00085|0.00169
Oak, live|0.00230|0.00338
Cherry, black|0.00126|0.00248
Oak, Oregon white|0.00144|0.00327
Chestnut, American|0.00116|0.00234
Oak, overcup|0.00183|0.00462
Cottonwood, black|0.00123|0.00304
Persimmon, common|0.00278|0.00403
Cottonwood, eastern|0.00133|0.00327
Sassafras|0.00137|0.00216
Elm, American|0.00144|0.00338
Sweetgum|0.00183|0.00365
Elm, rock|0.00165|0.00285
Sycamore, American|0.00172|0.00296
Elm, slippery|0.00169|0.00315
Tanoak|0.00169|0.00423
Elm, winged|0.00183|0.00419
Tupelo, black|0.00176|0.00308
Hackberry|0.00165|0.00315
Tupelo, water|0.00144|0.00267
Hickory, pecan|0.00169|0.00315
Walnut, black|0.00190|0.00274`

// The same table, rows that were not checked against a copy (unverified): Teak's and Douglas-fir's
// tangential figures are also cited by flooring guides, white fir's by the handbook's example.
const table135Unverified = `
Yellow-poplar|0.00158|0.00289
Pine, eastern white|0.00071|0.00212
Pine, loblolly|0.00165|0.00259
Pine, ponderosa|0.00133|0.00216
Pine, sugar|0.00099|0.00194
Spruce, Sitka|0.00148|0.00263
Cedar, western redcedar|0.00111|0.00234
Redwood, old-growth|0.00120|0.00205
Mahogany, true|0.00172|0.00238
Teak|0.00101|0.00186
Douglas-fir, Coast|0.00165|0.00267
Fir, white|0.00112|0.00245
Hickory, true|-|0.00411`

// Wood Handbook, FPL-GTR-190, Table 4-3 (mahogany: Table 4-4 and Chudnoff, Tropical Timbers of the
// World), read in a copy: radial, tangential and volumetric shrinkage, percent.
const table43 = `
Alder, red|4.4|7.3|12.6
Ash, black|5.0|7.8|15.2
Ash, green|4.6|7.1|12.5
Ash, white|4.9|7.8|13.3
Aspen, bigtooth|3.3|7.9|11.8
Aspen, quaking|3.5|6.7|11.5
Basswood, American|6.6|9.3|15.8
Beech, American|5.5|11.9|17.2
Birch, paper|6.3|8.6|16.2
Birch, sweet|6.5|9.0|15.6
Birch, yellow|7.3|9.5|16.8
Butternut|3.4|6.4|10.6
Cherry, black|3.7|7.1|11.5
Elm, American|4.2|9.5|14.6
Hickory, pecan|4.9|8.9|13.6
Hickory, mockernut|7.7|11.0|17.8
Hickory, pignut|7.2|11.5|17.9
Maple, sugar|4.8|9.9|14.7
Oak, white (Quercus alba)|5.6|10.5|16.3
Oak, live|6.6|9.5|14.7
Oak, overcup|5.3|12.7|16.0
Oak, post|5.4|9.8|16.2
Persimmon, common|7.9|11.2|19.1
Sweetgum|5.3|10.2|15.8
Sycamore, American|5.0|8.4|14.1
Walnut, black|5.5|7.8|12.8
Yellow-poplar|4.6|8.2|12.7
Cedar, western redcedar|2.4|5.0|6.8
Cedar, Port-Orford|4.6|6.9|10.1
Douglas-fir, Coast|4.8|7.6|12.4
Douglas-fir, Interior north|3.8|6.9|10.7
Douglas-fir, Interior west|4.8|7.5|11.8
Fir, balsam|2.9|6.9|11.2
Fir, white|3.3|7.0|9.8
Mahogany, true|3.0|4.1|7.8`

// The same table, rows that were not checked against a copy (unverified).
const table43Unverified = `
Maple, red|4.0|8.2|12.6
Oak, northern red|4.0|8.6|13.7
Pine, eastern white|2.1|6.1|8.2
Pine, ponderosa|3.9|6.2|9.7
Pine, loblolly|4.8|7.4|12.3
Spruce, Sitka|4.3|7.5|11.5`

// Wood Handbook Table 5-3b (FPL-GTR-282, 2021): specific gravity at 12 %, side hardness lbf, MOE
// million psi, compression across the grain psi; with density at 12 % worked out from the specific
// gravity as 1000 G 1.12 kg/m³ and 62.43 G 1.12 lb/ft³. Birch (yellow), cherry, shagbark hickory
// and eastern white pine are in part unverified.
// Columns: G, kg/m³, lb/ft³, lb per board foot, hardness, MOE, compression.
const table53 = `
Alder, red|0.41|459.2|28.67|2.389|590|1.38|440
Ash, green|0.56|627.2|39.16|3.263|1200|1.66|1310
Ash, white|0.60|672.0|41.95|3.496|1320|1.74|1160
Aspen, quaking|0.38|425.6|26.57|2.214|350|1.18|370
Basswood, American|0.37|414.4|25.87|2.156|410|1.46|370
Beech, American|0.64|716.8|44.75|3.729|1300|1.72|1010
Birch, paper|0.55|616.0|38.46|3.205|910|1.59|600
Birch, sweet|0.65|728.0|45.45|3.787|1470|2.17|1080
Birch, yellow|0.62|694.4|43.35|3.613|1260|2.01|970
Cherry, black|0.50|560.0|34.96|2.913|950|1.49|690
Hickory, shagbark|0.72|806.4|50.34|4.195|1880|2.16|1760
Maple, red|0.54|604.8|37.76|3.146|950|1.64|1000
Maple, silver|0.47|526.4|32.86|2.739|700|1.14|740
Maple, sugar|0.63|705.6|44.05|3.671|1450|1.83|1470
Oak, northern red|0.63|705.6|44.05|3.671|1290|1.82|1010
Oak, southern red|0.59|660.8|41.25|3.438|1060|1.49|870
Oak, white (Quercus alba)|0.68|761.6|47.55|3.962|1360|1.78|1070
Sweetgum|0.52|582.4|36.36|3.030|850|1.64|620
Sycamore, American|0.49|548.8|34.26|2.855|770|1.42|700
Walnut, black|0.55|616.0|38.46|3.205|1010|1.68|1010
Yellow-poplar|0.42|470.4|29.37|2.447|540|1.58|500
Baldcypress|0.46|515.2|32.16|2.680|510|1.44|730
Cedar, Port-Orford|0.43|481.6|30.07|2.506|630|1.70|720
Cedar, western redcedar|0.32|358.4|22.37|1.865|350|1.11|460
Douglas-fir, Coast|0.48|537.6|33.56|2.797|710|1.95|800
Fir, balsam|0.35|392.0|24.47|2.039|380|1.45|400
Pine, eastern white|0.35|392.0|24.47|2.039|380|1.24|440
Pine, ponderosa|0.40|448.0|27.97|2.331|460|1.29|580
Pine, shortleaf|0.51|571.2|35.66|2.972|690|1.75|820
Pine, sugar|0.36|403.2|25.17|2.098|380|1.19|500
Redwood, old-growth|0.40|448.0|27.97|2.331|480|1.34|700
Spruce, red|0.40|448.0|27.97|2.331|530|1.66|550
Spruce, Sitka|0.40|448.0|27.97|2.331|510|1.57|580`

func rows(t *testing.T, table string) map[string][]float64 {
	t.Helper()
	out := map[string][]float64{}
	for _, line := range strings.Split(strings.TrimSpace(table), "\n") {
		f := strings.Split(line, "|")
		var xs []float64
		for _, s := range f[1:] {
			x := -1.0
			if s != "-" {
				var err error
				x, err = strconv.ParseFloat(s, 64)
				require.NoError(t, err, line)
			}
			xs = append(xs, x)
		}
		_, twice := out[f[0]]
		require.False(t, twice, f[0])
		out[f[0]] = xs
	}
	return out
}

func species(t *testing.T, name string) *Species {
	t.Helper()
	s, ok := Find(name)
	require.True(t, ok, name)
	return s
}

func TestMovementCoefficients(t *testing.T) {
	read := rows(t, table135)
	require.Len(t, read, 54)
	for name, want := range read {
		s := species(t, name)
		assert.Equal(t, want, []float64{s.Radial, s.Tangential}, name)
		assert.Equal(t, measure.Read, s.RadialSource.Standing, name)
		assert.Equal(t, measure.Read, s.TangentialSource.Standing, name)
		assert.Contains(t, s.RadialSource.Ref, "Table 13-5")
	}
	for name, want := range rows(t, table135Unverified) {
		s := species(t, name)
		if want[0] >= 0 {
			assert.Equal(t, want[0], s.Radial, name)
			assert.Equal(t, measure.Cited, s.RadialSource.Standing, name)
		}
		assert.Equal(t, want[1], s.Tangential, name)
	}
}

func TestShrinkage(t *testing.T) {
	for _, table := range []struct {
		text string
		n    int
		st   measure.Standing
	}{{table43, 35, measure.Read}, {table43Unverified, 6, measure.Cited}} {
		got := rows(t, table.text)
		require.Len(t, got, table.n)
		for name, want := range got {
			s := species(t, name)
			assert.Equal(t, want, []float64{s.ShrinkRadial, s.ShrinkTangential, s.ShrinkVolume}, name)
			assert.Equal(t, table.st, s.ShrinkSource.Standing, name)
		}
	}
}

// Where the coefficients come from (footnotes to Table 13-5): shrinkage as a straight line from
// 30 % moisture, or 22 % for a few species, C = S / (100 Ms - S (Ms - 10)). Ties the two tables
// together for the species whose rows are of the same wood.
func TestCoefficientsFollowFromShrinkage(t *testing.T) {
	for name, ms := range map[string]float64{"Maple, sugar": 30, "Beech, American": 30, "Ash, white": 30, "Birch, yellow": 30, "Birch, paper": 30, "Cherry, black": 30,
		"Walnut, black": 30, "Basswood, American": 30, "Alder, red": 30, "Yellow-poplar": 30, "Cedar, western redcedar": 22, "Douglas-fir, Coast": 30} {
		s := species(t, name)
		assert.InDelta(t, s.Radial, CoefficientOf(s.ShrinkRadial, ms), 0.0000051, name)
		assert.InDelta(t, s.Tangential, CoefficientOf(s.ShrinkTangential, ms), 0.0000051, name)
	}
}

func TestStrength(t *testing.T) {
	got := rows(t, table53)
	require.Len(t, got, 33)
	for name, want := range got {
		s := species(t, name)
		assert.Equal(t, []float64{want[0], want[4], want[5], want[6]}, []float64{s.Gravity, s.Hardness, s.MOE, s.Crush}, name)
		assert.InDelta(t, want[1], s.Density(), 0.05, name)
		assert.InDelta(t, want[2], s.Density()*0.06243, 0.006, name)
		assert.InDelta(t, want[3], s.PoundsPerBoardFoot(), 0.0006, name)
	}
	// Table 5-3a prints the hardness in rounded newtons
	for name, n := range map[string]float64{"Alder, red": 2600, "Ash, green": 5300, "Basswood, American": 1800, "Beech, American": 5800, "Birch, paper": 4000,
		"Cherry, black": 4200, "Hickory, shagbark": 8400, "Maple, sugar": 6400, "Oak, northern red": 5700} {
		assert.InDelta(t, n, float64(measure.Lbf(species(t, name).Hardness)), 50, name)
	}
	// imported woods give specific gravity on green volume: no weight at 12 % from that
	assert.Zero(t, species(t, "teak").Gravity)
	assert.Zero(t, species(t, "mahogany").Gravity)
}

func TestFind(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range All() {
		require.False(t, seen[s.ID], s.ID)
		seen[s.ID] = true
	}
	for other, id := range otherNames {
		assert.True(t, seen[id], other)
		assert.False(t, seen[other], "%s is both a species and another name", other)
	}
	for g, m := range groups {
		assert.True(t, seen[g] && seen[m], g)
	}
	assert.Equal(t, "hard-maple", species(t, "Sugar Maple").ID)
	assert.Equal(t, 0.63, species(t, "red oak").Gravity)
	assert.Contains(t, species(t, "red oak").StrengthSource.Ref, "row of Oak, northern red")
	for name, want := range map[string]string{"Cherry, black": "black cherry", "Oak, red (water, laurel, willow)": "red oak (water, laurel, willow)", "Teak": "teak",
		"Beech, American": "American beech", "Douglas-fir, Coast": "coast Douglas-fir"} {
		assert.Equal(t, want, species(t, name).CommonName())
	}
	_, ok := Find("balsa")
	assert.False(t, ok)
}
