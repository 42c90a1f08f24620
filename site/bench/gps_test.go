package bench

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"os"
	"testing"

	"github.com/rwcarlsen/goexif/exif"
)

// gpsPicture is a photograph 40 wide and 20 high, held a quarter turn, with the
// place it was taken at (CIPA DC-008: orientation 0x0112, GPS pointer 0x8825).
func gpsPicture(t *testing.T) []byte { return gpsPictureOf(t, 40, 20) }

func gpsPictureOf(t *testing.T, wide, high int) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, wide, high))
	for y := range high {
		for x := range wide {
			img.Set(x, y, color.RGBA{uint8(x * 6), uint8(y * 12), uint8(x * y), 255})
		}
	}
	var j bytes.Buffer
	if err := jpeg.Encode(&j, img, nil); err != nil {
		t.Fatal(err)
	}
	le := binary.LittleEndian
	tiff := append([]byte("II*\x00"), le.AppendUint32(nil, 8)...)
	entry := func(tag, typ uint16, n, v uint32) {
		tiff = le.AppendUint32(le.AppendUint32(le.AppendUint16(le.AppendUint16(tiff, tag), typ), n), v)
	}
	tiff = le.AppendUint16(tiff, 2)
	entry(0x0112, 3, 1, 6)
	entry(0x8825, 4, 1, 38)
	tiff = le.AppendUint32(tiff, 0)
	tiff = le.AppendUint16(tiff, 4) // at 38
	entry(1, 2, 2, 'N')
	entry(2, 5, 3, 92)
	entry(3, 2, 2, 'W')
	entry(4, 5, 3, 116)
	tiff = le.AppendUint32(tiff, 0)
	for _, v := range []uint32{39, 1, 44, 1, 21, 1, 104, 1, 59, 1, 5, 1} {
		tiff = le.AppendUint32(tiff, v)
	}
	seg := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{0xff, 0xd8, 0xff, 0xe1}, binary.BigEndian.AppendUint16(nil, uint16(len(seg)+2))...)
	out = append(append(out, seg...), j.Bytes()[2:]...)
	x, err := exif.Decode(bytes.NewReader(out))
	if err != nil {
		t.Fatal(err)
	}
	if lat, long, err := x.LatLong(); err != nil || lat < 39.7 || lat > 39.8 || long > -104.9 {
		t.Fatalf("the test's own picture says %v %v %v", lat, long, err)
	}
	return out
}

// cleanPicture checks that a stored picture stands upright and says nothing of
// where it was taken.
func cleanPicture(t *testing.T, file string, wide, high int) {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	c, _, err := image.DecodeConfig(bytes.NewReader(b))
	if err != nil || c.Width != wide || c.Height != high {
		t.Errorf("stored at %d x %d, %v", c.Width, c.Height, err)
	}
	if _, err := exif.Decode(bytes.NewReader(b)); err == nil || bytes.Contains(b, []byte("Exif")) {
		t.Error("the stored picture still carries its data")
	}
}
