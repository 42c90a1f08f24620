package job

import (
	"path"
	"time"
)

// CheckFile reads one file of a shop by itself, as strictly as can be done
// without the others: text that is sound, YAML without doubled keys, aliases
// or several documents, a log entry whole. What other files must say for it to
// make sense is for Load to find. Files of no known kind are sound.
func CheckFile(file string, data []byte) error {
	var probs Problems
	switch ext := path.Ext(file); {
	case ext == ".yaml":
		if len(data) > MaxText {
			probs = append(probs, Problem{Pos: Pos{File: file}, Msg: "the file is too large"})
			break
		}
		newSource(file, data, &probs).yamlRoot(path.Base(file))
	case ext == ".md" && path.Base(path.Dir(file)) == "log":
		if _, err := ReadEntry(file, data, Units{Temp: "C"}, time.UTC); err != nil {
			return err
		}
	case ext == ".md":
		newSource(file, data, &probs).checkText(false)
	}
	if len(probs) > 0 {
		return probs.sorted()
	}
	return nil
}
