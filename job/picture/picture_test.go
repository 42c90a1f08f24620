package picture

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"

	"github.com/stretchr/testify/require"
)

// photo is a JPEG with a red top left quarter, and Exif with the orientation
// and a GPS directory (CIPA DC-008: IFD0 tags 0x0112 and 0x8825, GPS tags 0x0001
// and 0x0002).
func photo(t testing.TB, orientation uint16) []byte {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, 64, 32))
	for y := range 32 {
		for x := range 64 {
			c := color.NRGBA{uint8(x * 2), uint8(200 - y), 180, 255}
			if x < 32 && y < 16 {
				c = color.NRGBA{230, 10, 10, 255}
			}
			img.Set(x, y, c)
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}))
	return append(append(append([]byte{}, b.Bytes()[:2]...), app1(orientation)...), b.Bytes()[2:]...)
}

func app1(orientation uint16) []byte {
	le := binary.LittleEndian
	var t []byte
	u16 := func(v uint16) { t = le.AppendUint16(t, v) }
	u32 := func(v uint32) { t = le.AppendUint32(t, v) }
	t = append(t, "II*\x00"...)
	u32(8)
	u16(3)
	u16(0x010f) // Make
	u16(2)
	u32(8)
	u32(50)
	u16(0x0112)
	u16(3)
	u32(1)
	u16(orientation)
	u16(0)
	u16(0x8825)
	u16(4)
	u32(1)
	u32(58)
	u32(0)
	t = append(t, "SECRETCM"...) // 50
	u16(2)                       // 58
	u16(1)
	u16(2)
	u32(2)
	t = append(t, "N\x00\x00\x00"...)
	u16(2)
	u16(5)
	u32(3)
	u32(88)
	u32(0)
	for _, v := range []uint32{48, 1, 51, 1, 301449, 10000} {
		u32(v)
	}
	body := append([]byte("Exif\x00\x00"), t...)
	return append([]byte{0xff, 0xe1, byte((len(body) + 2) >> 8), byte(len(body) + 2)}, body...)
}

func TestCleanTurnsAndStrips(t *testing.T) {
	// Where the red quarter of the stored picture must be seen, by orientation
	// (CIPA DC-008, tag 0x0112).
	corner := map[uint16][2]bool{ // right, bottom
		1: {false, false}, 2: {true, false}, 3: {true, true}, 4: {false, true},
		5: {false, false}, 6: {true, false}, 7: {true, true}, 8: {false, true},
	}
	for o, want := range corner {
		in := photo(t, o)
		require.Equal(t, int(o), orientation(in), "the test picture carries its tag")
		out, ext, err := Clean(in, 0)
		require.NoError(t, err)
		require.Equal(t, ".jpg", ext)
		require.NotContains(t, string(out), "Exif")
		require.NotContains(t, string(out), "SECRETCM")
		img, err := jpeg.Decode(bytes.NewReader(out))
		require.NoError(t, err)
		b := img.Bounds()
		if o >= 5 {
			require.Equal(t, image.Pt(32, 64), b.Size())
		} else {
			require.Equal(t, image.Pt(64, 32), b.Size())
		}
		for right := range 2 {
			for bottom := range 2 {
				x, y := b.Dx()/4+right*b.Dx()/2, b.Dy()/4+bottom*b.Dy()/2
				r, g, _, _ := img.At(x, y).RGBA()
				red := r > 0xa000 && g < 0x6000
				require.Equal(t, want == [2]bool{right == 1, bottom == 1}, red, "orientation %d at %d,%d", o, x, y)
			}
		}
	}
}

func TestCleanScalesAndRepeats(t *testing.T) {
	in := photo(t, 6)
	a, _, err := Clean(in, 20)
	require.NoError(t, err)
	b, _, err := Clean(in, 20)
	require.NoError(t, err)
	require.Equal(t, a, b)
	img, err := jpeg.Decode(bytes.NewReader(a))
	require.NoError(t, err)
	require.Equal(t, image.Pt(10, 20), img.Bounds().Size())
}

func TestCleanKeepsDrawings(t *testing.T) {
	img := image.NewNRGBA(image.Rect(0, 0, 8, 8))
	img.Set(3, 3, color.NRGBA{1, 2, 3, 255})
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	out, ext, err := Clean(b.Bytes(), 0)
	require.NoError(t, err)
	require.Equal(t, ".png", ext)
	back, err := png.Decode(bytes.NewReader(out))
	require.NoError(t, err)
	require.Equal(t, color.NRGBAModel.Convert(img.At(3, 3)), color.NRGBAModel.Convert(back.At(3, 3)))
}

func TestCleanRefuses(t *testing.T) {
	_, _, err := Clean([]byte("<svg onload=alert(1)>"), 0)
	require.ErrorIs(t, err, ErrKind)
	in := photo(t, 1)
	_, _, err = Clean(in[:len(in)/3], 0)
	require.Error(t, err)
	// A PNG header that asks for 60,000 x 60,000 pixels.
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, image.NewGray(image.Rect(0, 0, 1, 1))))
	huge := b.Bytes()
	binary.BigEndian.PutUint32(huge[16:], 60000)
	binary.BigEndian.PutUint32(huge[20:], 60000)
	_, _, err = Clean(huge, 0)
	require.Error(t, err)
}

func FuzzClean(f *testing.F) {
	f.Add(photo(f, 6))
	f.Add([]byte("GIF89a"))
	f.Add([]byte("\x89PNG\r\n\x1a\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		out, ext, err := Clean(data, 64)
		if err != nil {
			return
		}
		if ext != ".jpg" && ext != ".png" {
			t.Fatal(ext)
		}
		if _, _, err := image.Decode(bytes.NewReader(out)); err != nil {
			t.Fatal(err)
		}
	})
}
