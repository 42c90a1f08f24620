// Package cost turns what the jobs need and the price book into a buy list in
// whole packs, and says what was spent, used and left over.
package cost
