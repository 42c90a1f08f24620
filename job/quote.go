package job

import (
	"strings"

	"go.yaml.in/yaml/v3"
)

// quote writes a value as YAML on one line: plain where that reads back the
// same, in quotes where not. flow is for values inside brackets or braces.
func quote(v string, flow bool) string {
	if plainReadsBack(v, flow) {
		return v
	}
	if !strings.ContainsAny(v, "\n\r\t\x00") && printableAll(v) {
		return "'" + strings.ReplaceAll(v, "'", "''") + "'"
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range v {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\r':
			b.WriteString(`\r`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < 0x20 || r == 0x7f || r >= 0x80 && r < 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfeff:
			const hex = "0123456789abcdef"
			b.WriteString(`\u`)
			for sh := 12; sh >= 0; sh -= 4 {
				b.WriteByte(hex[(r>>sh)&15])
			}
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}

func printableAll(v string) bool {
	for _, r := range v {
		if r < 0x20 || r == 0x7f || r >= 0x80 && r < 0xa0 || r == 0x2028 || r == 0x2029 || r == 0xfeff || r == 0xfffd {
			return false
		}
	}
	return true
}

func plainReadsBack(v string, flow bool) bool {
	if v == "" || strings.TrimSpace(v) != v || !printableAll(v) {
		return false
	}
	if strings.ContainsAny(v[:1], "!&*?|>@`%\"'#[]{},") || strings.HasPrefix(v, "- ") || v == "-" || strings.HasPrefix(v, "---") || strings.HasPrefix(v, "...") {
		return false
	}
	if strings.Contains(v, ": ") || strings.HasSuffix(v, ":") || strings.Contains(v, " #") {
		return false
	}
	if flow && strings.ContainsAny(v, ",[]{}") || flow && strings.ContainsAny(v, ":?") {
		return false
	}
	text := "k: " + v + "\n"
	if flow {
		text = "k: {a: " + v + ", b: 1}\n"
	}
	var doc yaml.Node
	if yaml.Unmarshal([]byte(text), &doc) != nil || len(doc.Content) != 1 {
		return false
	}
	m := doc.Content[0]
	if m.Kind != yaml.MappingNode || len(m.Content) != 2 {
		return false
	}
	n := m.Content[1]
	if flow {
		if n.Kind != yaml.MappingNode || len(n.Content) != 4 {
			return false
		}
		n = n.Content[1]
	}
	return n.Kind == yaml.ScalarNode && n.Value == v && n.Tag != "!!null" && n.Anchor == "" && n.Tag != "!!merge"
}
