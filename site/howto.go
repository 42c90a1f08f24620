package site

import (
	"cmp"
	"encoding/json"
	"fmt"
	"html"
	"html/template"
	"strings"

	"caul/job"
	"caul/job/measure"
)

// The build as schema.org's HowTo, for programs that read pages.
type howTo struct {
	Context     string      `json:"@context"`
	Type        string      `json:"@type"`
	Name        string      `json:"name"`
	Description string      `json:"description,omitempty"`
	PerformTime string      `json:"performTime,omitempty"`
	Supply      []howToItem `json:"supply,omitempty"`
	Tool        []howToItem `json:"tool,omitempty"`
	Step        []howToStep `json:"step,omitempty"`
}

type howToItem struct {
	Type string `json:"@type"`
	Name string `json:"name"`
}

type howToStep struct {
	Type     string `json:"@type"`
	Position int    `json:"position"`
	Name     string `json:"name"`
	URL      string `json:"url"`
	Text     string `json:"text"`
}

func (r *renderer) howTo(j *job.Job, v *jobView) (template.JS, error) {
	h := howTo{Context: "https://schema.org", Type: "HowTo", Name: v.Name, Description: j.For}
	supply := func(name string) { h.Supply = append(h.Supply, howToItem{"HowToSupply", name}) }
	seen := map[string]bool{}
	for _, p := range j.Parts {
		if !seen[p.From] && p.From != "" {
			seen[p.From] = true
			supply(r.stockName(p.From))
		}
	}
	for _, x := range v.Hardware {
		supply(fmt.Sprintf("%d %s", x.Qty, x.Item))
	}
	for _, x := range v.Consumes {
		supply(x)
	}
	tools := map[string]bool{}
	total := measure.Span(0)
	for _, s := range j.Steps {
		total += s.Takes
		if m := r.in.Shop.MachineByID(s.Machine); m != nil && !tools[m.ID] {
			tools[m.ID] = true
			h.Tool = append(h.Tool, howToItem{"HowToTool", cmp.Or(m.Name, m.ID)})
		}
	}
	if total > 0 {
		h.PerformTime = fmt.Sprintf("PT%dM", int64(total/measure.Minute))
	}
	for _, s := range v.Steps {
		text := s.Name
		if body := wordsOf(string(s.Body)); body != "" {
			text += ". " + body
		}
		if s.SetUp != "" {
			text += ". Set-up: " + s.SetUp
		}
		for _, c := range s.Cautions {
			text += ". Caution: " + c
		}
		text = strings.ReplaceAll(text, ".. ", ". ")
		h.Step = append(h.Step, howToStep{"HowToStep", s.N, s.Name, "index.html#step-" + s.ID, text})
	}
	b, err := json.MarshalIndent(h, "", " ") // escapes <, > and &: it cannot end the element it stands in
	return template.JS(b), err               //nolint:gosec // JSON, escaped
}

// wordsOf are the words of a text that is HTML of ours.
func wordsOf(s string) string {
	var b strings.Builder
	for {
		text, rest, ok := strings.Cut(s, "<")
		b.WriteString(text)
		if !ok {
			break
		}
		b.WriteByte(' ')
		if _, s, ok = strings.Cut(rest, ">"); !ok {
			break
		}
	}
	return html.UnescapeString(strings.Join(strings.FieldsFunc(b.String(), func(r rune) bool { return r == ' ' || r == '\n' || r == '\t' || r == '☐' || r == '☑' }), " "))
}
