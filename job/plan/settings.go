package plan

import (
	"fmt"
	"strings"

	"caul/job"
	"caul/job/measure"
	"caul/job/proof"
)

// A step's machine settings. They come from its `setup:` where that names a
// setting; else from the set-up sheet (proof.StepSetUps) for what the step
// cuts. The first setting on a machine costs nothing when the machine still
// has it from the step before; the others are made within the step.

// Setting is one setting of a machine that a step makes, for the text and JSON
// of a plan.
type Setting struct {
	Machine string       `json:"machine"`
	Tool    string       `json:"tool,omitempty"` // cutter or bit, where the sheet gives it
	Set     string       `json:"set,omitempty"`  // fence, height, angle; or the `setup:` as written
	Takes   measure.Span `json:"takes"`
	Kept    bool         `json:"kept,omitempty"` // as the step before left it
	Sheet   bool         `json:"sheet,omitempty"`
}

// setting is one state of a machine. Two with one key are the same.
type setting struct {
	key, tool, words string
	sheet            bool
}

// use is what a step asks of one machine: its settings in the order they are
// made. It is left at the last.
type use struct {
	machine  string
	settings []setting
}

func (u *use) first() setting { return u.settings[0] }
func (u *use) last() setting  { return u.settings[len(u.settings)-1] }

// usesOf are the machine settings of every step of a job, machine by machine
// in the order of the set-up sheet.
func usesOf(shop *job.Shop, j *job.Job) map[string][]use {
	out := map[string][]use{}
	var sheet map[string][]proof.SetUp
	for i := range j.Steps {
		st := &j.Steps[i]
		switch {
		case st.Machine != "" && st.State != "":
			out[st.ID] = []use{{st.Machine, []setting{{key: st.State, words: st.State}}}}
			continue
		case st.GlueUp != nil || st.Machine == "" && st.SetUp != "":
			continue // nothing to set, or work by hand
		}
		if sheet == nil {
			sheet = proof.StepSetUps(shop, j)
		}
		at := map[string]int{}
		for _, m := range sheet[st.ID] {
			n, ok := at[m.Machine]
			if !ok {
				n = len(out[st.ID])
				at[m.Machine] = n
				out[st.ID] = append(out[st.ID], use{machine: m.Machine})
			}
			out[st.ID][n].settings = append(out[st.ID][n].settings, setting{
				key:  m.Key(),
				tool: m.Tool(shop.Units.Length), words: m.Setting(shop.Units.Length), sheet: true,
			})
		}
	}
	return out
}

// usual are the minutes to change a machine's set-up where shop.yaml does not
// say, by kind of machine: with another cutter or blade, and with the cutter
// left in. Common practice, no source.
var usual = map[string][2]measure.Span{
	"table-saw":    {10, 5},
	"router-table": {10, 5},
	"router":       {8, 4},
	"drill-press":  {5, 3},
	"mitre-saw":    {5, 3},
	"band-saw":     {10, 4},
	"planer":       {3, 3},
	"jointer":      {5, 5},
}

// changeTime is the time to bring a machine from one setting to another: as
// the shop says, or the usual figure. What is not known of a setting counts as
// another cutter.
func changeTime(shop *job.Shop, machine string, from, to setting) measure.Span {
	kind, full, move := machine, measure.Span(0), measure.Span(0)
	if m := shop.MachineByID(machine); m != nil {
		kind, full, move = m.Kind, m.SetUp, m.Move
	}
	f, ok := usual[kind]
	if !ok {
		f = [2]measure.Span{10, 5}
	}
	switch {
	case move == 0 && full > 0:
		move = full // the shop's own figure stands for every change
	case move == 0:
		move = f[1] * measure.Minute
	}
	if full == 0 {
		full = f[0] * measure.Minute
	}
	if from.sheet && to.sheet && from.tool != "" && from.tool == to.tool {
		return min(move, full)
	}
	return full
}

// within is the time for the settings that a step makes after its first on
// each machine.
func within(shop *job.Shop, us []use) measure.Span {
	var sum measure.Span
	for _, u := range us {
		for k := 1; k < len(u.settings); k++ {
			sum += changeTime(shop, u.machine, u.settings[k-1], u.settings[k])
		}
	}
	return sum
}

// settingsMade lists what is set for a step, given how its machines were left.
func settingsMade(shop *job.Shop, us []use, left map[string]setting) []Setting {
	var out []Setting
	for _, u := range us {
		was := left[u.machine]
		for _, s := range u.settings {
			m := Setting{Machine: u.machine, Tool: s.tool, Set: s.words, Sheet: s.sheet, Kept: s.key == was.key}
			if !m.Kept {
				m.Takes = changeTime(shop, u.machine, was, s)
			}
			was = s
			out = append(out, m)
		}
	}
	return out
}

// setUpWords say in short what has to be set for a step: its own words, or how
// many settings of the sheet.
func (sv *stepView) setUpWords() string {
	if len(sv.uses) == 0 || !sv.uses[0].first().sheet {
		return sv.step.SetUp
	}
	var out []string
	for _, u := range sv.uses {
		name := u.machine
		if m := sv.jv.shop.MachineByID(u.machine); m != nil && m.Name != "" {
			name = m.Name
		}
		if n := len(u.settings); n > 1 {
			name += fmt.Sprintf(", %d settings", n)
		} else if s := u.first(); s.tool != "" || s.words != "" {
			name += ", " + settingWords(s.tool, s.words)
		}
		out = append(out, name)
	}
	return strings.Join(out, "; ")
}

// settingWords write a setting in a line.
func settingWords(tool, set string) string {
	switch {
	case tool == "":
		return set
	case set == "":
		return tool
	}
	return tool + ": " + set
}

// hands is the time at the bench that a step takes: its own, and the settings
// made within it.
func (sv *stepView) hands() measure.Span { return sv.step.Takes + sv.inner }
