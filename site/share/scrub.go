package share

import (
	"fmt"
	"path"
	"regexp"
	"sort"
	"strings"
	"unicode"

	"caul/site"
)

var (
	htmlComment = regexp.MustCompile(`(?s)<!--.*?-->`)
	pictureName = regexp.MustCompile(`(?i)[\w./-]*photos/[^\s)>\]"']+`)
	pictureLink = regexp.MustCompile(`!\[([^\]]*)\]\(\s*<?([^)>\s]+)>?[^)]*\)`)
)

// What is taken out of every text, whoever wrote it.
var patterns = []struct {
	what string
	re   *regexp.Regexp
}{
	{"an e-mail address", regexp.MustCompile(`[\pL\pN._%+-]+@[\pL\pN-]+(\.[\pL\pN-]+)+`)},
	{"an address with a password", regexp.MustCompile(`[a-z][a-z0-9+.-]*://[^\s/@]+@[^\s)]+`)},
	{"a remote address", regexp.MustCompile(`(?:ssh|git|file|smb)://[^\s)]+`)},
	{"a price", regexp.MustCompile(`[$€£¥]\s?\pN+(?:[.,]\pN+)*|\pN+(?:[.,]\pN+)*\s?(?:[€£¥]|\b(?:USD|EUR|GBP|CAD|AUD|CHF|SEK|NOK|DKK|JPY|dollars?|euros?|pounds sterling)\b)`)},
	{"a phone number", regexp.MustCompile(`\+\pN[\pN ()/-]{7,}\pN|\(\pN{3}\)\s?\pN{3}-\pN{4}`)},
	{"a place on the map", regexp.MustCompile(`-?\pN{1,3}\.\pN{4,}\s*°?\s*[NS]?\s*[,;]\s*-?\pN{1,3}\.\pN{4,}`)},
	{"a folder of this computer", regexp.MustCompile(`(?:/home/|/Users/|/media/|/Volumes/|[A-Z]:\\)[^\s)]*`)},
}

const gone = "[left out]"

// scrubber takes private words out of texts, and makes sure at the end that
// none is left in any byte.
type scrubber struct {
	never []*regexp.Regexp
}

func newScrubber(in Input) *scrubber {
	set := map[string]bool{}
	add := func(w string) {
		if w = strings.TrimSpace(w); len([]rune(w)) >= 3 {
			set[w] = true
		}
	}
	for _, w := range in.Shop.Sharing.Never {
		add(w)
	}
	for _, w := range in.Never {
		add(w)
	}
	for _, p := range in.Shop.Prices.Items {
		add(p.Supplier)
	}
	words := make([]string, 0, len(set))
	for w := range set {
		words = append(words, w)
	}
	// Longer words first, so that none is cut in half by a shorter.
	sort.Slice(words, func(a, b int) bool {
		if len(words[a]) != len(words[b]) {
			return len(words[a]) > len(words[b])
		}
		return words[a] < words[b]
	})
	s := &scrubber{}
	for _, w := range words {
		s.never = append(s.never, regexp.MustCompile(`(?i)`+looseSpace(w)))
	}
	return s
}

// looseSpace finds a word however its blanks are broken over lines, and not
// inside a longer word.
func looseSpace(w string) string {
	var parts []string
	for _, f := range strings.FieldsFunc(w, unicode.IsSpace) {
		parts = append(parts, regexp.QuoteMeta(f))
	}
	out := strings.Join(parts, `[\s_-]+`)
	r := []rune(w)
	if wordRune(r[0]) {
		out = `\b` + out
	}
	if wordRune(r[len(r)-1]) {
		out += `\b`
	}
	return out
}

// wordRune tells what the \b of a pattern sees as part of a word.
func wordRune(r rune) bool {
	return r < unicode.MaxASCII && (unicode.IsLetter(r) || unicode.IsDigit(r))
}

// text takes private words out, and says of what kind each was.
func (s *scrubber) text(t string) (string, []string) {
	var cut []string
	for _, re := range s.never {
		if re.MatchString(t) {
			cut = append(cut, "a word that never goes out")
			t = re.ReplaceAllString(t, gone)
		}
	}
	for _, p := range patterns {
		if p.re.MatchString(t) {
			cut = append(cut, p.what)
			t = p.re.ReplaceAllString(t, gone)
		}
	}
	return t, cut
}

// verify looks for every word that never goes out in every text and name that
// would. Pictures were drawn anew from their pixels and hold no text.
func (s *scrubber) verify(files site.Files) error {
	for _, p := range files.Paths() {
		ext := path.Ext(p)
		for _, re := range s.never {
			if re.MatchString(p) || ext != ".jpg" && ext != ".png" && re.Match(files[p]) {
				return fmt.Errorf("a word that never goes out is still in %s, so nothing was shared: it stands in an id or a name; rename it and share again", p)
			}
		}
	}
	return nil
}
