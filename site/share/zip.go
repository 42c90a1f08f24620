package share

import (
	"archive/zip"
	"bytes"
	"time"

	"caul/site"
)

// Zip packs files in order of their names, without the hour they were made:
// the same files give the same bytes.
func Zip(files site.Files) ([]byte, error) {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, p := range files.Paths() {
		w, err := z.CreateHeader(&zip.FileHeader{Name: p, Method: zip.Deflate, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return nil, err
		}
		if _, err := w.Write(files[p]); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
