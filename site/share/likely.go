package share

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"unicode"
)

// Likely is a place in a text that goes out and that looks personal. It is a
// guess: nothing is left out for it.
type Likely struct {
	File string `json:"file"` // in the maker's own shop
	Line int    `json:"line,omitempty"`
	What string `json:"what"`
	Text string `json:"text"` // what looks so
	Says string `json:"says"` // the line it stands in
	rank int
}

// signs are what personal things look like in prose, the worst to let out
// first. What stands in the first group, when there is one, is the finding.
var signs = []struct {
	what string
	re   *regexp.Regexp
	not  func(found string) bool
}{
	{"a phone number?", regexp.MustCompile(`(?:\+|\b)\pN[\pN ()./-]{5,}\pN\b`), notPhone},
	{"a street or a postcode?", regexp.MustCompile(`\b\pN{1,5}[a-z]?,?\s+(?:\p{Lu}[\pL'’.-]*\s+){1,3}(?:Street|St|Road|Rd|Avenue|Ave|Lane|Ln|Drive|Dr|Way|Court|Ct|Close|Crescent|Place|Square|Row|Terrace|Boulevard|Blvd|Highway)\b|` +
		`\b\p{Lu}\pL*(?:straße|strasse|str\.|weg|gasse|platz|allee|laan|straat|gatan|vej)\s+\pN+|\b\pN{1,4},?\s+(?:rue|avenue|boulevard|chemin|impasse|via|calle|rua)\s+\pL+|` +
		`\b[A-Z]{1,2}\d[A-Z\d]? \d[A-Z]{2}\b|\b[A-Z]{2} \d{5}(?:-\d{4})?\b`), nil},
	{"a way to write to somebody?", regexp.MustCompile(`(?i)\b[\pL\pN._-]+\s*[\[(]\s*at\s*[\])]\s*[\pL\pN.-]+|\b[\pL\pN._-]+ at [\pL\pN-]+ dot \pL+|(?:^|[\s(])(@[\pL\pN_.]{3,})`), nil},
	{"somebody's name?", regexp.MustCompile(`\b(?:Mr|Mrs|Ms|Dr|Mx)\.?\s+\p{Lu}[\pL'’-]+|\b(?i:with|by|from|thanks to|thank|asked|told|helped|neighbou?r|friend|mate|wife|husband|partner|brother|sister|son|daughter|father|mother|uncle|aunt|cousin|boss|met|visited|borrowed from|lent to|gave)\s+(\p{Lu}\p{Ll}+(?:\s+\p{Lu}\p{Ll}+)?)|` +
		`\b(\p{Lu}\p{Ll}+)['’]s\b|\b(?i:my|our|her|his)\s+(?:wife|husband|partner|brother|sister|son|daughter|father|mother|dad|mum|mom|uncle|aunt|cousin|neighbou?rs?|boss|landlord|kids?|children)\b`), notName},
	{"a price?", regexp.MustCompile(`(?i)\b(?:cost|costs|paid|pay|price|priced|charged|charges|worth)\b[^.\n]{0,24}?\pN+(?:[.,]\pN{2})?\b|\b(?:\pN+|a few|ten|twenty|thirty|forty|fifty|sixty|a hundred)\s+(?:bucks|quid|pounds|cents|pence|dollars|euros|crowns|francs)\b`), notPrice},
	{"a place on the web?", regexp.MustCompile(`(?i)\bhttps?://[^\s)>\]]+|\bwww\.[^\s)>\]]+|\b[a-z0-9-]+\.(?:com|org|net|shop|store|info|de|fr|nl|eu|co\.uk|ca|com\.au|io)\b(?:/[^\s)>\]]*)?`), nil},
	{"a name?", regexp.MustCompile(`[\pL\pN,;:)]\s(\p{Lu}\p{Ll}{2,}(?:\s+\p{Lu}\p{Ll}{2,})*)`), notName},
	{"when somebody is in, or out?", regexp.MustCompile(`(?i)\b\pN{1,2}(?::\pN{2})?\s?[ap]\.?m\b|\b(?:on holiday|away from home|nobody home|empty house|after work|night shift)\b`), nil},
}

// isoDate is a date as the files write it, which is no phone number.
var isoDate = regexp.MustCompile(`^\pN{4}-\pN{2}-\pN{2}`)

// notPhone tells sizes, dates and counts from phone numbers: those have at
// least seven digits, and begin with a plus, a nought or a bracket, or stand in
// groups.
func notPhone(s string) bool {
	digits := 0
	for _, r := range s {
		if unicode.IsDigit(r) {
			digits++
		}
	}
	grouped := strings.ContainsAny(s, " -()") || strings.HasPrefix(s, "0") || strings.HasPrefix(s, "+")
	return digits < 7 || isoDate.MatchString(s) || !grouped || strings.Contains(s, "/")
}

// notPrice leaves out what cost time.
var costTime = regexp.MustCompile(`(?i)\pN+\s*(?:min|minutes?|h|hours?|mm|cm|in|inch|inches|days?|evenings?)?$`)

func notPrice(s string) bool {
	m := costTime.FindString(s)
	return len(m) > 0 && strings.ContainsAny(strings.TrimLeft(m, "0123456789"), "mhcide")
}

// ordinary are words that have a capital letter and are nobody.
var ordinary = map[string]bool{}

func init() {
	for _, w := range strings.Fields(`Monday Tuesday Wednesday Thursday Friday Saturday Sunday January February March April May June July August September October November December
		Mon Tue Wed Thu Fri Sat Sun Jan Feb Mar Apr Jun Jul Aug Sep Oct Nov Dec Forstner Letter The This That Then There These It Its He She They We You If When Where What Who Why How
		Let Here But And For Not Both All Each Every One Two Three Step Steps Part Parts Sheet Board Easter Christmas Celsius Fahrenheit English French Japanese German Baltic Douglas`) {
		ordinary[w] = true
	}
}

func notName(s string) bool {
	for _, w := range strings.Fields(s) {
		if !ordinary[w] {
			return false
		}
	}
	return true
}

// likely looks through the texts that go out, and says where in the maker's
// own files each finding stands.
func (m *maker) likely() []Likely {
	out := []Likely{}
	seen := map[Likely]bool{}
	lines := map[string][]string{}
	for _, p := range m.prose {
		if _, read := lines[p.own]; !read {
			data, err := m.in.Open(p.own)
			if err != nil {
				data = nil
			}
			lines[p.own] = strings.Split(string(data), "\n")
		}
		var taken []string
		for rank, sign := range signs {
			for _, text := range strings.Split(p.Text, "\n") {
				for _, at := range sign.re.FindAllStringSubmatch(text, -1) {
					found := at[0]
					for _, g := range at[1:] {
						found = cmp.Or(g, found)
						if g != "" {
							break
						}
					}
					found = strings.TrimRight(strings.TrimSpace(found), ".,;:")
					if sign.not != nil && sign.not(found) || strings.Contains(found, gone) || within(found, taken) {
						continue
					}
					taken = append(taken, found)
					for _, l := range placed(lines[p.own], found, text) {
						x := Likely{File: p.own, Line: l, What: sign.what, Text: found, Says: strings.TrimSpace(text), rank: rank}
						if l > 0 {
							x.Says, _ = m.scrub.text(strings.TrimSpace(lines[p.own][l-1])) // as it would go out
						}
						if !seen[x] {
							seen[x] = true
							out = append(out, x)
						}
					}
				}
			}
		}
	}
	slices.SortStableFunc(out, func(a, b Likely) int {
		return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line))
	})
	return out
}

// within tells whether something was found already, or as part of something.
func within(found string, taken []string) bool {
	return slices.ContainsFunc(taken, func(t string) bool { return strings.Contains(t, found) })
}

// placed gives the lines, from 1, in which something stands; 0 when it is not
// found as it is, such as in a value broken over lines.
func placed(lines []string, found, text string) []int {
	var in []int
	for i, l := range lines {
		if strings.Contains(l, found) && !strings.HasPrefix(strings.TrimSpace(l), "#") || strings.Contains(l, found) && strings.TrimSpace(l) == strings.TrimSpace(text) {
			in = append(in, i+1)
		}
	}
	if in == nil {
		return []int{0}
	}
	return in
}
