// Package schedule decides what is done when: it spreads hands-on steps over
// the hours a maker has, while clamps hold, glue cures on its own clock and a
// saw keeps the set-up it was last given.
//
// It is an engine for resource-constrained scheduling and knows nothing of
// wood, files or clocks on walls. Time is a whole number of ticks counted from
// an origin at tick 0; the caller says how long a tick is.
//
// # The model
//
// An Activity occupies the half-open interval from its start to its end. Its
// start is the only thing decided; the end follows from it: work within the
// windows of a Calendar (pausing between windows when Split is set), or a
// Curve when the duration depends on the start.
//
//   - Needs take a quantity of a renewable Resource from start to end, pauses
//     included.
//   - Holds take a quantity from the activity's start until the end of another
//     activity: clamps stay on until the maker takes them off. That other
//     activity never ends before the holding one.
//   - Lags set a least, a most or a start-dependent least time between the
//     starts or ends of two activities.
//   - Setups are the machine states that a capacity-one resource (the maker)
//     has to change by hand. Changing takes time that counts in the open hours
//     of the activity's calendar and lies directly before its start: between
//     the end of whatever occupied the maker before and the start of the
//     activity, the calendar has at least as many open ticks as the changes
//     take together. The first change lies after tick 0. A change may pause over
//     closed hours, and it may be made before the parts are ready.
//
// Capacities count from tick 0 on. An activity with Fixed set is already under
// way or done: its start may be negative, it need not lie in open hours, it
// pays no set-up change, and a lag between two fixed activities is not
// enforced, because what has happened has happened.
//
// # The answer
//
// Solve minimises, one level after the other, weighted lateness, the finish,
// the number of set-up changes, and the sum of starts. Each level comes with
// the best value found, a bound that no schedule can beat, and whether the two
// meet: Proved is only ever set on a proof.
//
// An answer depends on the problem and the options alone: the budget counts
// work, not time, and several workers go in lock-step. The context can end the
// search at any moment; the best schedule so far is then returned.
//
// # The method
//
// The engine learns clauses over bounds of the starts, whose literals it makes
// only when a clause needs them, and over the order of any two occupations that
// cannot overlap (lazy clause generation: Ohrimenko, Stuckey, Codish 2009;
// Schutt, Feydy, Stuckey, Wallace 2011, 2013; with calendars Kreter, Schutt,
// Stuckey 2017). It propagates lags, orders and their transitive closure,
// time-tables, edge-finding in open hours, sums, and set-up changes, each with an
// explanation of what it concludes. The sum of starts knows that one pair of
// hands takes turns. Where activities contend for several resources, a linear
// program over the sets that can be under way at once finds weights that make of
// them one surrogate resource, whose energy then bounds the finish (Brucker,
// Knust 2000; Vilim 2011). It works down from the best schedule and up
// from the bound, searches the neighbourhood of the best schedule, and for
// problems without hours breeds schedules with double justification. The first
// schedules come from serial generation and, where much takes the one pair of
// hands, from walks through the hours that keep a set-up while it is of use.
//
// # Proofs
//
// Options.Proof takes a log of the reasoning. CheckProof replays it: it checks
// every lemma against the problem by plain evaluation and every learned clause
// by applying its hints, with code of its own, and compares what is shown with
// what the result calls proved. Problems that fall to the bounds over the lags
// alone leave an empty log, which the replay then shows by itself. With a proof
// log a single worker runs.
//
// Check is the independent judge: it shares no code with the engine beyond the
// types of the problem and the reading of a Curve.
package schedule
