package share

import (
	"sort"

	"caul/job"
	"caul/job/measure"
)

// Question is a length that the build takes from its reader's own saw and
// stock.
type Question struct {
	Name    string `json:"name"`
	Ask     string `json:"ask"`
	Theirs  string `json:"theirs"`            // as in the bundle
	Yours   string `json:"yours,omitempty"`   // as in your shop.yaml; then it need not be asked
	Follows string `json:"follows,omitempty"` // stock of theirs whose thickness it is: yours follows from the stock you choose
}

// Swap is a kind of stock of the bundle and what would stand for it here.
type Swap struct {
	Theirs  string   `json:"theirs"`
	Form    string   `json:"form"`
	Thick   string   `json:"thick"` // theirs
	Choices []Choice `json:"choices"`
	Parts   []string `json:"parts"` // cut from it
}

// Choice is one kind of stock of the reader.
type Choice struct {
	Stock   string   `json:"stock"`
	Thick   string   `json:"thick"`
	Differs string   `json:"differs,omitempty"` // by how much it is thicker or thinner
	Changes []string `json:"changes,omitempty"` // parts and machining that would change with it
	Far     bool     `json:"far,omitempty"`     // a sheet more than a quarter thicker or thinner: hardly meant to stand for it
	by      measure.Length
}

// Proposal is everything to settle before a build is taken in.
type Proposal struct {
	Job       string     `json:"job"`
	Name      string     `json:"name"`
	By        string     `json:"by,omitempty"`
	Version   string     `json:"version"`
	Units     string     `json:"units"`
	Questions []Question `json:"questions"`
	Swaps     []Swap     `json:"swaps"`
	Needs     []Need     `json:"needs,omitempty"` // what your shop has under another name, or not at all
	Update    bool       `json:"update"`          // an earlier version is in this shop
}

// Answers settle a proposal.
type Answers struct {
	As       string            // id of the new job; empty: the bundle's
	Measures map[string]string // by name, as the reader writes them
	Stock    map[string]string // theirs to yours, as are the following
	Cutters  map[string]string
	Machines map[string]string
	Blades   map[string]string
	Glues    map[string]string
	// AddMissing puts cutters, machines and kinds of stock that the shop lacks
	// into its shop.yaml and stock.yaml, as the build has them.
	AddMissing bool
}

// Propose compares a bundle with the reader's shop, as far as answers have
// settled it.
func Propose(b *Bundle, shop *job.Shop, a Answers) *Proposal {
	u := shop.Units.Length
	p := &Proposal{Job: b.Job.ID, Name: b.Job.Name, By: b.Manifest.By, Version: b.Manifest.Version,
		Units: b.Shop.Units.Length.System.Name(), Questions: []Question{}, Swaps: []Swap{}}
	if b.Job.Units != nil {
		p.Units = b.Job.Units.Name()
	}
	own := map[string]job.Measure{}
	for _, m := range shop.Measures {
		own[m.Name] = m
	}
	for _, m := range append(append([]job.Measure{}, b.Shop.Measures...), asked(b.Job.Measures)...) {
		q := Question{Name: m.Name, Ask: m.Ask, Theirs: exactly(m.Length, u)}
		for i := range b.Shop.Stock {
			if st := &b.Shop.Stock[i]; st.Form == "sheet" && thickOf(st) == m.Length {
				q.Follows = st.ID
			}
		}
		if q.Ask == "" {
			q.Ask = m.Name
		}
		if o, ok := own[m.Name]; ok {
			q.Yours = exactly(o.Length, u)
		}
		p.Questions = append(p.Questions, q)
	}
	for i := range b.Shop.Stock {
		p.Swaps = append(p.Swaps, swap(b, &b.Shop.Stock[i], shop))
	}
	p.Needs = match(b, shop, a).needs
	p.Update = shop.Job(b.Job.ID) != nil
	return p
}

// asked are the job's own measures that ask something.
func asked(ms []job.Measure) []job.Measure {
	var out []job.Measure
	for _, m := range ms {
		if m.Ask != "" {
			out = append(out, m)
		}
	}
	return out
}

func thickOf(s *job.Stock) measure.Length {
	if s.Thick.Set {
		return s.Thick.Length
	}
	return s.Size[2].Length
}

func swap(b *Bundle, st *job.Stock, shop *job.Shop) Swap {
	u := shop.Units.Length
	s := Swap{Theirs: st.ID, Form: st.Form, Thick: exactly(thickOf(st), u), Choices: []Choice{}, Parts: []string{}}
	for _, p := range b.Job.Parts {
		if p.From == st.ID {
			s.Parts = append(s.Parts, p.ID)
		}
	}
	for i := range shop.Stock {
		o := &shop.Stock[i]
		if o.Form != st.Form {
			continue
		}
		c := Choice{Stock: o.ID, Thick: exactly(thickOf(o), u), by: thickOf(o) - thickOf(st)}
		if c.by != 0 {
			word := "thicker"
			if c.by < 0 {
				word = "thinner"
			}
			c.Differs = exactly(c.by.Abs(), u) + " " + word
			c.Changes = thickUsers(b.Job, st)
			c.Far = st.Form == "sheet" && 4*c.by.Abs() > thickOf(st)
		}
		s.Choices = append(s.Choices, c)
	}
	// The same kind first, then the same species, then the nearest thickness.
	rank := func(c Choice) int {
		o := shop.StockByID(c.Stock)
		switch {
		case o.ID == st.ID:
			return 0
		case o.Species == st.Species && st.Species != "":
			return 1
		}
		return 2
	}
	sort.SliceStable(s.Choices, func(i, k int) bool {
		if a, b := rank(s.Choices[i]), rank(s.Choices[k]); a != b {
			return a < b
		}
		return s.Choices[i].by.Abs() < s.Choices[k].by.Abs()
	})
	sort.SliceStable(s.Choices, func(i, k int) bool {
		return !s.Choices[i].Far && s.Choices[k].Far
	})
	return s
}
