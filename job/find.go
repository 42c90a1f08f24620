package job

import "strings"

func (sh *Shop) machine(id string) *Machine {
	for i := range sh.Machines {
		if sh.Machines[i].ID == id {
			return &sh.Machines[i]
		}
	}
	return nil
}

func (sh *Shop) machineIDs() []string {
	out := make([]string, 0, len(sh.Machines))
	for _, m := range sh.Machines {
		out = append(out, m.ID)
	}
	return out
}

// Job finds a job by id, or nil.
func (sh *Shop) Job(id string) *Job {
	for _, j := range sh.Jobs {
		if j.ID == id {
			return j
		}
	}
	return nil
}

// MachineByID finds a machine by id, or nil.
func (sh *Shop) MachineByID(id string) *Machine { return sh.machine(id) }

// ClampByID finds a kind of clamp by id, or nil.
func (sh *Shop) ClampByID(id string) *Clamp {
	for i := range sh.Clamps {
		if sh.Clamps[i].ID == id {
			return &sh.Clamps[i]
		}
	}
	return nil
}

// PlaceByID finds a place by id, or nil.
func (sh *Shop) PlaceByID(id string) *Place {
	for i := range sh.Places {
		if sh.Places[i].ID == id {
			return &sh.Places[i]
		}
	}
	return nil
}

// CutterByID finds a cutter by id, or nil.
func (sh *Shop) CutterByID(id string) *Cutter {
	for i := range sh.Cutters {
		if sh.Cutters[i].ID == id {
			return &sh.Cutters[i]
		}
	}
	return nil
}

// BladeByID finds a blade by id, or nil.
func (sh *Shop) BladeByID(id string) *Blade {
	for i := range sh.Blades {
		if sh.Blades[i].ID == id {
			return &sh.Blades[i]
		}
	}
	return nil
}

// StockByID finds a kind of stock by id, or nil.
func (sh *Shop) StockByID(id string) *Stock {
	for i := range sh.Stock {
		if sh.Stock[i].ID == id {
			return &sh.Stock[i]
		}
	}
	return nil
}

// GlueByID finds one of the user's own glues by id, or nil.
func (sh *Shop) GlueByID(id string) *GlueLabel {
	for i := range sh.Glues {
		if sh.Glues[i].ID == id {
			return &sh.Glues[i]
		}
	}
	return nil
}

// Part finds a part by id, or nil.
func (j *Job) Part(id string) *Part {
	for i := range j.Parts {
		if j.Parts[i].ID == id {
			return &j.Parts[i]
		}
	}
	return nil
}

// Step finds a step by id, or nil.
func (j *Job) Step(id string) *Step {
	for i := range j.Steps {
		if j.Steps[i].ID == id {
			return &j.Steps[i]
		}
	}
	return nil
}

// Check finds a check by id, or nil.
func (j *Job) Check(id string) *Check {
	for i := range j.Checks {
		if j.Checks[i].ID == id {
			return &j.Checks[i]
		}
	}
	return nil
}

// StepIDs lists the steps' ids in the job's order.
func (j *Job) StepIDs() []string {
	out := make([]string, 0, len(j.Steps))
	for _, s := range j.Steps {
		out = append(out, s.ID)
	}
	return out
}

// plainWord makes "Table saw" and "table-saw" the same word.
func plainWord(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ' ' || r == '-' || r == '_' }), "-")
}

// findMachine finds the machine that a set-up or a feature names: by id, by
// name, or by kind when the shop has one of that kind.
func (sh *Shop) findMachine(word string) (*Machine, int) {
	w := plainWord(word)
	var found *Machine
	n := 0
	for _, by := range []func(m *Machine) string{
		func(m *Machine) string { return m.ID },
		func(m *Machine) string { return m.Name },
		func(m *Machine) string { return m.Kind },
	} {
		for i := range sh.Machines {
			if m := &sh.Machines[i]; by(m) != "" && plainWord(by(m)) == w {
				if found == nil {
					found = m
				}
				n++
			}
		}
		if found != nil {
			return found, n
		}
	}
	return nil, 0
}
