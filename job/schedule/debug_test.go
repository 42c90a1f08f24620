package schedule

// In tests the engine checks every explanation it gives, except in the long
// sweeps, which ask for the speed without.
func init() { debugChecks = true }
