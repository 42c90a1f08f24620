// Package plan works out what to do when: it turns the open jobs, the shop's
// hours, clamps, places and air, and what the log says has happened, into a
// scheduling problem, has job/schedule solve it, and reads the answer back as
// shop days.
//
// # What a plan takes as given
//
//   - One tick is one minute of elapsed time, counted from the first whole
//     minute that is not before now. A day on which the clocks change is as
//     long as it is; local times follow RFC 5545, section 3.3.5.
//   - The maker is one, and hands-on work lies in shop hours. A step with
//     `split: true` may pause where the shop shuts, but not for another step;
//     every other step fits one session, and so does a glue-up.
//   - A glue-up is spread only where the air is at the glue's lowest
//     temperature or above, and where its `spread:` fits open and assembly time
//     at the air of that hour. Clamps and place are held from its beginning
//     until the maker has taken the clamps off, which takes a few minutes of
//     its own. Clamp time and cure run through the night at the speed of the
//     shop's air (job/glue), and no joint is machined in the clamps.
//   - A job is finished when its last step is done and its last joint cured.
//   - A machine keeps the set-up of the last step on it. Changing a set-up takes
//     minutes right before the step, and may be done while a wait runs. What is
//     set is what the step's own setup: says, else the settings of the set-up
//     sheet for the cuts the step makes; those after the first on a machine are
//     made within the step.
//   - No session shorter than the least worth it, unless the finish hangs on it.
//   - Steps set aside, and all that waits for them, are left out and told. An
//     optional one holds nothing up.
//   - The log decides: what is done, what is on the bench and for how long, what
//     is in clamps since when. A last moment that is past is told and dropped;
//     the rest is planned.
//
// Objective, one after the other: least weighted lateness, earliest finish,
// fewest changes of set-up, earliest starts. "Proved" speaks of the finish.
//
// # The parts
//
//   - world.go, air.go, hours.go, axis.go read the shop at an instant.
//   - translate.go, activities.go and waits.go build the scheduling problem,
//     setups.go and settings.go its machine settings; make.go solves it and
//     sessions.go asks for longer sessions;
//     readback.go reads the answer; verify.go checks every plan again in the
//     shop's own terms.
//   - reasons.go says why each thing is when it is and walks the chain that
//     binds the finish; helps.go solves what might help; cannot.go says why
//     nothing fits and the smallest change that would do.
//   - now.go answers what can be done now, without a search.
//   - text.go and nowtext.go write for a terminal, daysheet.go draws,
//     calendar.go and ical.go write RFC 5545; gluesheet.go is the sheet of one
//     glue-up.
//
// Figures without a source, named so where they stand: minutes to take clamps
// off, to scrape, to change a set-up the shop does not give, and the shortest
// session.
package plan
