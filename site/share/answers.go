package share

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"

	"go.yaml.in/yaml/v3"

	"caul/job"
)

// keptAnswers is how answers stand in a taken job's folder, for the next
// version of the build.
type keptAnswers struct {
	Measures map[string]string `yaml:"measures,omitempty"`
	Stock    map[string]string `yaml:"stock,omitempty"`
	Cutters  map[string]string `yaml:"cutters,omitempty"`
	Machines map[string]string `yaml:"machines,omitempty"`
	Blades   map[string]string `yaml:"blades,omitempty"`
	Glues    map[string]string `yaml:"glues,omitempty"`
}

func answersFile(dir string) string { return dir + "/" + from + "/answers.yaml" }

// keep puts the answers into the files to be written.
func keep(dir string, a Answers, files map[string][]byte) error {
	b, err := yaml.Marshal(keptAnswers{a.Measures, a.Stock, a.Cutters, a.Machines, a.Blades, a.Glues})
	files[answersFile(dir)] = b
	return err
}

// answersIn reads the answers a job was taken in with.
func answersIn(shopDir, dir string) (Answers, error) {
	b, err := job.ReadFile(shopDir, answersFile(dir))
	if errors.Is(err, fs.ErrNotExist) {
		return Answers{}, nil
	}
	if err != nil {
		return Answers{}, err
	}
	var k keptAnswers
	if err := yaml.Unmarshal(b, &k); err != nil {
		return Answers{}, fmt.Errorf("%s: %w", answersFile(dir), err)
	}
	return Answers{Measures: k.Measures, Stock: k.Stock, Cutters: k.Cutters, Machines: k.Machines, Blades: k.Blades, Glues: k.Glues}, nil
}

// and lays newer answers over kept ones.
func (a Answers) and(newer Answers) Answers {
	over := func(old, now map[string]string) map[string]string {
		out := map[string]string{}
		maps.Copy(out, old)
		maps.Copy(out, now)
		return out
	}
	return Answers{As: newer.As, AddMissing: newer.AddMissing, Measures: over(a.Measures, newer.Measures), Stock: over(a.Stock, newer.Stock),
		Cutters: over(a.Cutters, newer.Cutters), Machines: over(a.Machines, newer.Machines), Blades: over(a.Blades, newer.Blades), Glues: over(a.Glues, newer.Glues)}
}
