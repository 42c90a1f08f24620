package job

// Nearest is the known word that a mistyped one most likely meant, or "".
func Nearest(word string, known []string) string { return nearest(word, known) }
