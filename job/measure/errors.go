package measure

import "fmt"

// ParseError says what could not be read, where, and what to do about it.
type ParseError struct {
	Col  int    // 1-based, in characters, within the text that was parsed
	Msg  string // what is wrong; lower case, no full stop
	Text string // the offending piece of the text
	Hint string // the next step; may be empty
}

// Error gives the message and the offending text, without column or hint, so that a caller
// can put its own file:line:col in front.
func (e *ParseError) Error() string {
	if e.Text == "" {
		return e.Msg
	}
	return fmt.Sprintf("%s: %q", e.Msg, clip(e.Text))
}

// clip keeps a hostile input from filling the screen.
func clip(s string) string {
	r := []rune(s)
	if len(r) <= 60 {
		return s
	}
	return string(r[:57]) + "..."
}
