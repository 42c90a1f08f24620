package bench

import (
	"os"
	"regexp"
	"strings"
	"testing"
)

// Every text of the page stands in the table of words and nowhere else: what
// the program, the pages and the script ask of it is there, nothing in it is
// left over, and pages and script hold no text of their own.
func TestWordsInOnePlace(t *testing.T) {
	read := func(name string) string {
		t.Helper()
		b, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	asked := map[string]string{}
	ask := func(file, text, pattern string) {
		for _, m := range regexp.MustCompile(pattern).FindAllStringSubmatch(text, -1) {
			asked[m[1]] = file
		}
	}
	es, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range es {
		if strings.HasSuffix(e.Name(), ".go") && !strings.HasSuffix(e.Name(), "_test.go") {
			text := read(e.Name())
			ask(e.Name(), text, `words\["([a-z0-9-]+)"\]`)
			ask(e.Name(), text, `errorOf\("([a-z0-9-]+)"`)
		}
	}
	page := read("templates/page.html")
	ask("page.html", page, `\{\{t "([a-z0-9-]+)"\}\}`)
	ask("page.html", page, `\{\{template "act" act [.A-Z a-z]* "[a-z-]+" "([a-z-]+)"`)
	script := read("static/bench.js") + read("static/alarm.js")
	ask("bench.js", script, `words\.([a-zA-Z]+)`)
	ask("bench.js", script, `words\["([a-z-]+)"\]`)
	if len(asked) < 100 {
		t.Fatalf("only %d words are asked for: this test does not find them", len(asked))
	}
	for k, file := range asked {
		if _, ok := words[k]; !ok {
			t.Errorf("%s asks for the word %q", file, k)
		}
	}
	for k, w := range words {
		// Words by what an entry did, and those of the two buttons beside what looks odd, are asked for by name.
		if _, ok := asked[k]; !ok && !strings.HasPrefix(k, "did-") && k != "undo" && k != "dismiss" {
			t.Errorf("nobody asks for the word %q", k)
		}
		if w == "" {
			t.Errorf("the word %q is empty", k)
		}
	}

	bare := regexp.MustCompile(`\{\{[^}]*\}\}`).ReplaceAllString(page, "")
	for _, m := range regexp.MustCompile(`\b(alt|title|placeholder|aria-label)="([^"]*[A-Za-z][^"]*)"`).FindAllString(bare, -1) {
		t.Errorf("a text in the page: %s", m)
	}
	for _, l := range strings.Split(regexp.MustCompile(`(?s)<[^>]*>`).ReplaceAllString(bare, "\n"), "\n") {
		if regexp.MustCompile(`[A-Za-z]`).MatchString(l) {
			t.Errorf("a text in the page: %q", l)
		}
	}
	for _, m := range regexp.MustCompile(`(?m)(textContent|innerText|title|insertAdjacentText\("beforeend",) *=? *"[^"]*[A-Za-z][^"]*"`).FindAllString(script, -1) {
		t.Errorf("a text in the script: %s", m)
	}
}
