package drawing

import (
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"caul/job"
	"caul/job/demo"
)

func demoShop(t *testing.T) *job.Shop {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "shop")
	require.NoError(t, demo.Write(dir, time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC), time.UTC))
	s, err := job.Load(dir)
	require.NoError(t, err)
	return s
}

// Every part of the demo is drawn as well-formed XML, the same twice, with a
// title, a description and each of its cuts numbered. CAUL_DRAWINGS names a
// folder to look at them in.
func TestPartsOfTheDemo(t *testing.T) {
	s := demoShop(t)
	for _, j := range s.Jobs {
		for i := range j.Parts {
			p := &j.Parts[i]
			svg := Part(s, j, p, Options{Units: s.Units.Length})
			require.Equal(t, svg, Part(s, j, p, Options{Units: s.Units.Length}))
			d := xml.NewDecoder(strings.NewReader(string(svg)))
			for {
				if _, err := d.Token(); err == io.EOF {
					break
				} else {
					require.NoError(t, err, p.ID)
				}
			}
			require.Contains(t, string(svg), "<title")
			require.NotContains(t, string(svg), "NaN")
			if dir := os.Getenv("CAUL_DRAWINGS"); dir != "" {
				require.NoError(t, os.WriteFile(filepath.Join(dir, j.ID+"-"+p.ID+".svg"), svg, 0o644))
			}
		}
	}
}
