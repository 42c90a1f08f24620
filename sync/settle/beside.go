package settle

import (
	"bytes"
	"fmt"
)

// Beside keeps a file that was made anew under a name whose file was out of its maker's sight. It is no edit of that file, so the
// old one stands whole; a new log entry, photo or other binary is kept under its second name, a text in a record. A new file
// with nothing in it is not kept.
func Beside(path string, old, anew File, a, b Side) Outcome {
	out := one(path, old)
	if sameFile(old, anew) || !anew.Exists || len(bytes.TrimSpace(anew.Data)) == 0 {
		return out
	}
	if addsUp(path) || !isText(old.Data) || !isText(anew.Data) {
		second := SecondName(path, anew.Data)
		out.Files = append(out.Files, Out{Path: second, Data: anew.Data})
		out.Notes = []string{fmt.Sprintf("%s was made anew while a sync that was cut off had it in hand; both are kept, the new one as %s", path, second)}
		return out
	}
	x, y := stampOf(a.Machine, a.When), stampOf(b.Machine, b.When)
	out.BothWays = []Record{{Path: path, Kind: KindFile, What: "whole file",
		Stands: Value{true, old.Data, x.machine, x.when}, Other: Value{true, anew.Data, y.machine, y.when}}}
	out.Notes = []string{fmt.Sprintf("%s was made anew while a sync that was cut off had it in hand; the old one stands, the new one is kept in both-ways/", path)}
	return out
}
