// Package cost turns what the jobs need and the price book into a buy list in
// whole packs, and says what was spent, used and left over.
//
// What a job needs is its stock, from the layout; its hardware; glue by bond
// area, spread and what stays on the roller; finish, abrasive and cutters by
// measure. What is on hand is what stock.yaml lists, and what the job's log says
// was bought and no finished step has used yet. Of each supplier and pack only
// the latest price counts. The packs of an item are chosen exactly, price breaks
// and mixed sizes included, and so is the set of suppliers; more of a thing never
// costs less in all.
//
// Every sum is exact, in the shop's one currency; a price in another is said and
// left out. Money is rounded where it must be: tax and hours to the nearest
// minor unit, halves to even; the price of a share up; the worth of what is left
// over down.
package cost
