package plan

import (
	"fmt"
	"strings"

	"caul/job"
)

// ClampWords lists clamps as a maker says them, by their names in shop.yaml and
// in its order: "8 bar clamps, 2 spring clamps". An id that the shop does not
// have comes last, as it stands.
func ClampWords(shop *job.Shop, m map[string]int) string {
	var parts []string
	known := map[string]bool{}
	if shop != nil {
		for _, c := range shop.Clamps {
			known[c.ID] = true
			if n := m[c.ID]; n > 0 {
				parts = append(parts, countClamps(shop, n, c.ID))
			}
		}
	}
	for _, id := range sortedKeys(m) {
		if n := m[id]; n > 0 && !known[id] {
			parts = append(parts, countClamps(shop, n, id))
		}
	}
	return strings.Join(parts, ", ")
}

// countClamps writes some clamps of one kind: "1 bar clamp", "8 bar clamps".
func countClamps(shop *job.Shop, n int, id string) string {
	return fmt.Sprintf("%d %s", n, clampName(shop, n, id))
}

// clampName is what so many clamps of a kind are called. A kind without a name
// is called by its id.
func clampName(shop *job.Shop, n int, id string) string {
	name := id
	if shop != nil {
		if c := shop.ClampByID(id); c != nil && c.Name != "" {
			name = c.Name
		}
	}
	low := strings.ToLower(name)
	switch {
	case n == 1 && strings.HasSuffix(low, "clamps"):
		return name[:len(name)-1]
	case n != 1 && strings.HasSuffix(low, "clamp"):
		return name + "s"
	case name == id && !strings.HasSuffix(low, "clamps") && !strings.HasSuffix(low, "clamp"):
		return name + " " + plural(n, "clamp")
	}
	return name
}

// placeName is what a place is called in shop.yaml.
func placeName(shop *job.Shop, id string) string {
	if shop != nil {
		if p := shop.PlaceByID(id); p != nil && p.Name != "" {
			return p.Name
		}
	}
	return id
}

// heldWords are clamps and where they stand: "8 bar clamps on the flat table".
func heldWords(shop *job.Shop, clamps map[string]int, place string) string {
	s := ClampWords(shop, clamps)
	if s != "" && place != "" {
		s += " on " + placeName(shop, place)
	}
	return s
}
