package measure

// Standing says how far a figure's source has been followed up.
type Standing uint8

const (
	Read     Standing = iota // read in a copy of the named source, or worked out from its formula
	Cited                    // the source is named, but this figure has not been checked against it
	Usual                    // a usual figure of its kind; makers differ, and it is only a start
	Practice                 // what shops do; no published source is known
	Own                      // the shop's own figure, such as one from a label
)

// Source says where a figure comes from, so that nobody has to trust a number blindly.
type Source struct {
	Ref      string   `json:"ref,omitempty"` // author or body, title, edition, table
	Standing Standing `json:"standing"`
}

// String writes the source as a page or a command shows it.
func (s Source) String() string {
	switch s.Standing {
	case Cited:
		return s.Ref + " (not checked against a copy)"
	case Usual:
		if s.Ref == "" {
			return "usual figure; the maker's own comes first"
		}
		return s.Ref + " (usual figure; the maker's own comes first)"
	case Practice:
		if s.Ref == "" {
			return "common practice, no source"
		}
		return s.Ref + " (common practice, no source)"
	case Own:
		if s.Ref == "" {
			return "the shop's own figure"
		}
		return s.Ref + " (the shop's own figure)"
	}
	return s.Ref
}

// Caution is a warning that stands beside a step, with the rule or sheet it comes from.
type Caution struct {
	Text   string `json:"text"`
	Source Source `json:"source"`
}
