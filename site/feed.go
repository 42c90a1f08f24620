package site

import (
	"cmp"
	"crypto/sha1" //nolint:gosec // name-based UUIDs are made with it (RFC 9562, section 5.5)
	"encoding/xml"
	"fmt"
	"html"
	"math"
	"slices"
	"time"
)

// feedEntry is one log entry for the feed.
type feedEntry struct {
	job, id      string
	at           time.Time
	title, facts string
	body         string
}

// feedMost is how many entries the feed carries.
const feedMost = 60

// newest gives the newest entries of all jobs' logs, latest first. Each log is
// in that order already, but for clocks that disagree.
func newest(logs [][]feedEntry, most int) []feedEntry {
	var times []int64
	for _, es := range logs {
		for _, e := range es {
			times = append(times, e.at.UnixNano())
		}
	}
	slices.Sort(times)
	after := int64(math.MinInt64)
	if len(times) > most {
		after = times[len(times)-most]
	}
	var out []feedEntry
	for _, es := range logs {
		for _, e := range es {
			if e.at.UnixNano() >= after {
				out = append(out, e)
			}
		}
	}
	slices.SortStableFunc(out, func(a, b feedEntry) int {
		return cmp.Or(b.at.Compare(a.at), cmp.Compare(a.job, b.job), cmp.Compare(a.id, b.id))
	})
	return out[:min(len(out), most)]
}

// Atom's elements (RFC 4287), as far as the feed needs them.
type atomFeed struct {
	XMLName   xml.Name    `xml:"http://www.w3.org/2005/Atom feed"`
	ID        string      `xml:"id"`
	Title     string      `xml:"title"`
	Updated   string      `xml:"updated"`
	Author    atomAuthor  `xml:"author"`
	Generator string      `xml:"generator"`
	Links     []atomLink  `xml:"link"`
	Entries   []atomEntry `xml:"entry"`
}

type atomAuthor struct {
	Name string `xml:"name"`
}

type atomLink struct {
	Rel  string `xml:"rel,attr"`
	Type string `xml:"type,attr,omitempty"`
	Href string `xml:"href,attr"`
}

type atomEntry struct {
	ID      string      `xml:"id"`
	Title   string      `xml:"title"`
	Updated string      `xml:"updated"`
	Link    atomLink    `xml:"link"`
	Content atomContent `xml:"content"`
}

type atomContent struct {
	Type string `xml:"type,attr"`
	Base string `xml:"http://www.w3.org/XML/1998/namespace base,attr,omitempty"`
	Body string `xml:",chardata"`
}

// atom is the feed of the shop's log, latest first, without private entries.
// Its ids follow from the shop's name and the entry's file, so that they stay.
func (r *renderer) atom(es []feedEntry) ([]byte, error) {
	updated := time.Unix(0, 0)
	if len(es) > 0 {
		updated = es[0].at
	}
	author := r.in.Shop.Sharing.Author
	if author == "" {
		author = r.in.Shop.Name
	}
	f := atomFeed{ID: uuid("shop", r.in.Shop.Name), Title: r.in.Shop.Name + ", log", Updated: r.rfc3339(updated), Author: atomAuthor{author}, Generator: "caul",
		Links: []atomLink{{"self", "application/atom+xml", "feed.atom"}, {"alternate", "text/html", "index.html"}}}
	for _, x := range es {
		body := x.body
		if x.facts != "" {
			body = "<p>" + html.EscapeString(x.facts) + "</p>\n" + body
		}
		f.Entries = append(f.Entries, atomEntry{ID: uuid("entry", r.in.Shop.Name, x.job, x.id), Title: x.title, Updated: r.rfc3339(x.at),
			Link:    atomLink{"alternate", "text/html", "jobs/" + x.job + "/log.html#" + x.id},
			Content: atomContent{Type: "html", Base: "jobs/" + x.job + "/", Body: body}})
	}
	b, err := xml.MarshalIndent(f, "", " ")
	if err != nil {
		return nil, err
	}
	return append([]byte(xml.Header), append(b, '\n')...), nil
}

func (r *renderer) rfc3339(t time.Time) string { return t.In(r.zone()).Format(time.RFC3339) }

// uuid is a name-based UUID, version 5, in the namespace of this program.
func uuid(parts ...string) string {
	h := sha1.New() //nolint:gosec // as the RFC has it
	h.Write([]byte{0x6b, 0xa7, 0xb8, 0x12, 0x9d, 0xad, 0x11, 0xd1, 0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8})
	h.Write([]byte("caul"))
	for _, p := range parts {
		h.Write([]byte{0})
		h.Write([]byte(p))
	}
	u := h.Sum(nil)[:16]
	u[6], u[8] = u[6]&0x0f|0x50, u[8]&0x3f|0x80
	return fmt.Sprintf("urn:uuid:%x-%x-%x-%x-%x", u[:4], u[4:6], u[6:8], u[8:10], u[10:])
}
