package share

import (
	"io/fs"
	"os"
	"path"
	"testing/fstest"

	"go.yaml.in/yaml/v3"

	"caul/job"
)

func marshalManifest(m Manifest) ([]byte, error) { return yaml.Marshal(&m) }

// readsWith reads the shop as it would be with the files written.
func readsWith(dir string, files map[string][]byte) error {
	m := fstest.MapFS{}
	root, err := os.OpenRoot(dir)
	if err != nil {
		return err
	}
	defer root.Close()
	fsys := root.FS()
	err = fs.WalkDir(fsys, ".", func(p string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() {
			if p == ".git" || p == "site" {
				return fs.SkipDir
			}
			return nil
		}
		info, err := d.Info()
		if err != nil {
			return err
		}
		f := &fstest.MapFile{Mode: info.Mode(), ModTime: info.ModTime()}
		// Pictures are not read, so their bytes are not needed here.
		if e := path.Ext(p); info.Mode().IsRegular() && (e == ".yaml" || e == ".md") && info.Size() <= job.MaxText {
			if f.Data, err = fs.ReadFile(fsys, p); err != nil {
				return err
			}
		}
		m[p] = f
		return nil
	})
	if err != nil {
		return err
	}
	for p, b := range files {
		m[p] = &fstest.MapFile{Data: b, Mode: 0o644}
	}
	_, err = job.LoadFS(m, dir)
	return err
}
