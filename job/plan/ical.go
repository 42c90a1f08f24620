package plan

import (
	"bytes"
	"crypto/sha1"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"
)

// foldAt is the most octets a physical line may have without its CRLF
// (RFC 5545, section 3.1).
const foldAt = 75

// icalWriter writes content lines by RFC 5545: CRLF at the end, folded by
// octets, no character split.
type icalWriter struct {
	buf bytes.Buffer
}

// line writes one property whose value needs no escaping: a date, a number, a
// name of the standard.
func (w *icalWriter) line(name, value string) {
	w.buf.WriteString(fold(name + ":" + value))
	w.buf.WriteString("\r\n")
}

// text writes one property whose value is TEXT.
func (w *icalWriter) text(name, value string) { w.line(name, escapeText(value)) }

// instant writes one property as a UTC date with time.
func (w *icalWriter) instant(name string, t time.Time) { w.line(name, utcStamp(t)) }

func utcStamp(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// fold breaks a content line so that no physical line has more than 75 octets,
// the leading space of a continuation counted.
func fold(s string) string {
	if len(s) <= foldAt {
		return s
	}
	var b strings.Builder
	room := foldAt
	for len(s) > 0 {
		_, n := utf8.DecodeRuneInString(s)
		if n > room {
			b.WriteString("\r\n ")
			room = foldAt - 1
		}
		b.WriteString(s[:n])
		room -= n
		s = s[n:]
	}
	return b.String()
}

// escapeText writes a TEXT value (RFC 5545, section 3.3.11): backslash first,
// then semicolon, comma and line end. Other control characters have no place
// in a content line and are left out; bytes that are not UTF-8 become U+FFFD.
func escapeText(s string) string {
	s = strings.ToValidUTF8(s, "\uFFFD")
	s = strings.ReplaceAll(s, "\r\n", "\n")
	s = strings.ReplaceAll(s, "\r", "\n")
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\\' || r == ';' || r == ',':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteByte(' ')
		case r < 0x20 || r == 0x7f:
		default:
			b.WriteRune(r)
		}
	}
	return b.String()
}

// alarm is the value of a TRIGGER: how long before the event's begin, exact.
func alarm(before time.Duration) string {
	if before < 0 {
		before = 0
	}
	sign := "-"
	s := int64(before / time.Second)
	if s == 0 {
		return "PT0S"
	}
	if s%3600 == 0 {
		return fmt.Sprintf("%sPT%dH", sign, s/3600)
	}
	if s%60 == 0 {
		return fmt.Sprintf("%sPT%dM", sign, s/60)
	}
	return fmt.Sprintf("%sPT%dS", sign, s)
}

// uid makes a stable id from what an event is about: a version 5 UUID
// (RFC 9562, section 5.5), so that reading the calendar in again updates the
// event and does not add a second one.
func uid(parts ...string) string {
	// A namespace of the project's own, drawn once.
	ns := [16]byte{0x6e, 0x0b, 0x5f, 0x5a, 0x0d, 0x5c, 0x4e, 0x1b, 0x9a, 0x57, 0x31, 0xc4, 0x77, 0x2e, 0x90, 0x4d}
	return uuid5(ns, strings.Join(parts, "\x1f"))
}

func uuid5(ns [16]byte, name string) string {
	h := sha1.New()
	h.Write(ns[:])
	h.Write([]byte(name))
	var u [16]byte
	copy(u[:], h.Sum(nil))
	u[6] = u[6]&0x0f | 0x50
	u[8] = u[8]&0x3f | 0x80
	return fmt.Sprintf("%x-%x-%x-%x-%x", u[0:4], u[4:6], u[6:8], u[8:10], u[10:])
}
