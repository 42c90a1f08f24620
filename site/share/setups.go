package share

import (
	"regexp"
	"strings"

	"caul/job/measure"
)

// unitsOf are the units a build's bare numbers are in.
func unitsOf(b *Bundle) measure.System {
	if b.Job.Units != nil {
		return *b.Job.Units
	}
	return b.Shop.Units.Length.System
}

// inWords names units as a sentence does.
func inWords(s measure.System) string {
	if s == measure.Inches {
		return "inches"
	}
	return "millimetres"
}

// lengthIn matches a number that stands as a word of its own.
var lengthIn = regexp.MustCompile(`^(?:[0-9]+-[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]+)?)$`)

// settings are the words of a set-up that a length follows. Another whole
// number may be an angle, as of a mitre saw, and stays as it is.
var settings = map[string]bool{"fence": true, "stop": true, "height": true, "depth": true, "width": true, "thickness": true, "offset": true, "at": true}

// withUnits writes the lengths of a set-up with their unit, and what they are
// in the reader's: a fence set to 12 where 12 in is meant spoils the part. A
// set-up is free text, so what is no length beyond doubt stays as it is.
func (m *matcher) withUnits(setup string) string {
	word, rest, ok := strings.Cut(setup, ",")
	if !ok {
		return setup
	}
	thick := false // a planer's bare number is the thickness it is set to
	for _, s := range m.b.Job.Steps {
		if s.SetUp == setup {
			if o := m.b.Shop.MachineByID(s.Machine); o != nil && o.Kind == "planer" {
				thick = true
			}
		}
	}
	sys := unitsOf(m.b)
	words := strings.Split(rest, " ")
	for i, w := range words {
		bare := strings.TrimRight(w, ",;")
		before, after := "", ""
		if i > 0 {
			before = strings.ToLower(words[i-1])
		}
		if i+1 < len(words) {
			after = strings.Trim(strings.ToLower(words[i+1]), ",;")
		}
		if !lengthIn.MatchString(bare) || after == "in" || after == "mm" || after == "degrees" {
			continue
		}
		if !strings.Contains(bare, "/") && !settings[before] && !thick {
			continue
		}
		l, err := measure.ParseLength(bare, sys)
		if err != nil {
			continue
		}
		words[i] = bare + " " + sys.Name() + " (" + exactly(l, m.shop.Units.Length) + ")" + w[len(bare):]
	}
	return word + "," + strings.Join(words, " ")
}
