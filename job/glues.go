package job

import "caul/job/glue"

// genericGlues are the generic types a glue-up may name.
func genericGlues() []string {
	var out []string
	for _, k := range glue.Kinds() {
		out = append(out, k.ID)
	}
	return out
}

func isGeneric(v string) bool {
	_, ok := glue.Find(v)
	return ok
}
