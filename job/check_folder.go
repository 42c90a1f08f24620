package job

import "io/fs"

// CheckFolder reads a shop's own files and some of its jobs as Load would,
// each job with all that its files say of each other and of the shop: a
// reading for who changed those jobs and no others. jobs are names of folders
// under jobs/; with none, the shop's own files are read alone. Errors are a
// Problems.
func CheckFolder(fsys fs.FS, jobs []string) error {
	r := &reader{fsys: fsys, shop: &Shop{}, lost: map[string]bool{}, only: map[string]bool{}}
	for _, j := range jobs {
		r.only[j] = true
	}
	r.all()
	if len(r.probs) > 0 {
		return r.probs.sorted()
	}
	return nil
}
