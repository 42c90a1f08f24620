package glue

import (
	"fmt"

	"caul/job/measure"
)

// Kind is one adhesive, by generic type or as a shop has written it down from a label.
type Kind struct {
	ID    string
	Name  string
	Class string // EN 204 durability class D1 to D4, or what stands in for it; may be empty
	// ClassSource says what the class rests on.
	ClassSource measure.Source

	Open    Rate // spread to faces together
	Total   Rate // spread to pressure on (open and closed assembly)
	Clamp   Rate // pressure on to pressure off; no points: none is needed
	Machine Rate // pressure on to machining and stress
	Full    Rate // pressure on to full strength

	Lowest       measure.Temperature // of air, wood and glue
	LowestSource measure.Source

	Spread   Spread
	Pressure Pressure

	Cautions []measure.Caution
}

// Spread is how much glue a face takes.
type Spread struct {
	OneFace  float64 // g/m² of joint, one face spread
	TwoFaces float64 // g/m² of joint, both faces spread together
	Density  float64 // kg/L
	Source   measure.Source
}

// Pressure is what the glue line wants, from the softest to the hardest wood.
type Pressure struct {
	Low, High measure.Pressure
	Source    measure.Source
}

// Check refuses a kind whose times contradict each other. At each label temperature:
// open <= total < clamp <= machining <= full strength.
func (k *Kind) Check() error {
	stages := []struct {
		name string
		r    Rate
	}{{"open time", k.Open}, {"total assembly time", k.Total}, {"clamp time", k.Clamp}, {"time to machining", k.Machine}, {"time to full strength", k.Full}}
	for _, s := range stages {
		if err := s.r.Check(); err != nil {
			return fmt.Errorf("%s: %w", s.name, err)
		}
	}
	t20 := measure.InCelsius(20)
	prev := -1
	for i, s := range stages {
		if s.r.None() {
			continue
		}
		if prev >= 0 && s.r.At(t20) < stages[prev].r.At(t20) {
			return fmt.Errorf("%s (%v at 20 C) is shorter than %s (%v)", s.name, s.r.At(t20), stages[prev].name, stages[prev].r.At(t20))
		}
		prev = i
	}
	if k.Spread.OneFace < 0 || k.Spread.TwoFaces < 0 || k.Spread.Density < 0 {
		return fmt.Errorf("a spread rate cannot be negative")
	}
	return nil
}

// ClassRank orders the durability classes of EN 204 from 1 (dry rooms) to 4 (weather, under a
// coating); 0 is no class.
func ClassRank(class string) int {
	switch class {
	case "D1":
		return 1
	case "D2":
		return 2
	case "D3":
		return 3
	case "D4":
		return 4
	}
	return 0
}

// ClassUse says where a durability class may be used, after EN 204:2016.
func ClassUse(class string) string {
	switch class {
	case "D1":
		return "indoors, dry: wood at 15 % or less"
	case "D2":
		return "indoors, now and then damp for a short time: wood at 18 % or less"
	case "D3":
		return "indoors, often wet for a short time or very damp; outdoors only out of the weather"
	case "D4":
		return "indoors, often wet for long; outdoors in the weather under a sound coating"
	}
	return ""
}

// Find gives the kind with this ID from the handbook's list.
func Find(id string) (*Kind, bool) {
	for _, k := range Kinds() {
		if k.ID == id {
			return k, true
		}
	}
	return nil, false
}
