package job

// genericGlues are the generic types a glue-up may name.
func genericGlues() []string {
	return []string{"pva"}
}

func isGeneric(v string) bool {
	for _, g := range genericGlues() {
		if g == v {
			return true
		}
	}
	return false
}
