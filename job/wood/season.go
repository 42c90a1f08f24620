package wood

import (
	"fmt"

	"caul/job/measure"
)

// Season is the air of a part of the year.
type Season struct {
	Temp     measure.Temperature
	Humidity float64 // relative, percent
}

// Swing is what a part does across the grain between the driest and the dampest air of the year.
type Swing struct {
	Dry, Damp  float64        // moisture contents, percent
	Change     measure.Length // from dry to damp
	OutOfRange bool           // see Movement
	Sources    []measure.Source
}

// Seasons gives the movement of a dimension across the grain between two seasons, in whichever
// order they are given.
func (s *Species) Seasons(size measure.Length, g Grain, a, b Season) (Swing, error) {
	dry, err := EMC(a.Temp, a.Humidity)
	if err != nil {
		return Swing{}, err
	}
	damp, err := EMC(b.Temp, b.Humidity)
	if err != nil {
		return Swing{}, err
	}
	if dry > damp {
		dry, damp = damp, dry
	}
	m, err := s.Move(size, g, dry, min(damp, FibreSaturation))
	if err != nil {
		return Swing{}, err
	}
	return Swing{dry, damp, m.Change, m.OutOfRange, []measure.Source{EMCSource, MovementSource, m.Source}}, nil
}

// CrossGrain judges a solid part fixed across a part that does not move with it, such as a sheet
// or a board with its grain the other way. play is how far the fixing lets it move in all. The
// movement of the stretch between the outermost fixings is what the fixing has to allow. An empty
// answer is no objection.
func (s *Species) CrossGrain(between measure.Length, g Grain, a, b Season, play measure.Length, u measure.Units) (string, Swing, error) {
	w, err := s.Seasons(between, g, a, b)
	if err != nil {
		return "", w, err
	}
	if w.Change <= play {
		return "", w, nil
	}
	return fmt.Sprintf("%s moves %s across the grain over the year and the fixing allows %s",
		s.CommonName(), measure.FormatUnit(w.Change.Round(u), u), measure.FormatUnit(play, u)), w, nil
}
