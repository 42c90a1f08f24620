package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"os"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/rwcarlsen/goexif/exif"
)

// photo writes a photograph 40 wide and 20 high, held a quarter turn, with the
// place it was taken at and the camera's make (CIPA DC-008: orientation 0x0112,
// make 0x010f, GPS pointer 0x8825). It is read back by a library.
func photo(ts *testscript.TestScript, neg bool, args []string) {
	img := image.NewGray(image.Rect(0, 0, 40, 20))
	for x := range 40 {
		img.SetGray(x, x/2, color.Gray{uint8(x * 6)})
	}
	var j bytes.Buffer
	ts.Check(jpeg.Encode(&j, img, nil))
	le := binary.LittleEndian
	tiff := append([]byte("II*\x00"), le.AppendUint32(nil, 8)...)
	entry := func(tag, kind uint16, n, v uint32) {
		tiff = le.AppendUint32(le.AppendUint32(le.AppendUint16(le.AppendUint16(tiff, tag), kind), n), v)
	}
	tiff = le.AppendUint16(tiff, 3)
	entry(0x010f, 2, 4, 'm'|'a'<<8|'k'<<16)
	entry(0x0112, 3, 1, 6)
	entry(0x8825, 4, 1, 50)
	tiff = le.AppendUint32(tiff, 0)
	tiff = le.AppendUint16(tiff, 4) // at 50
	entry(1, 2, 2, 'N')
	entry(2, 5, 3, 104)
	entry(3, 2, 2, 'W')
	entry(4, 5, 3, 128)
	tiff = le.AppendUint32(tiff, 0)
	for _, v := range []uint32{39, 1, 44, 1, 21, 1, 104, 1, 59, 1, 5, 1} {
		tiff = le.AppendUint32(tiff, v)
	}
	seg := append([]byte("Exif\x00\x00"), tiff...)
	out := append([]byte{0xff, 0xd8, 0xff, 0xe1}, binary.BigEndian.AppendUint16(nil, uint16(len(seg)+2))...)
	out = append(append(out, seg...), j.Bytes()[2:]...)
	x, err := exif.Decode(bytes.NewReader(out))
	ts.Check(err)
	if lat, long, err := x.LatLong(); err != nil || lat < 39.7 || lat > 39.8 || long > -104.9 {
		ts.Fatalf("the photograph made here says %v %v %v", lat, long, err)
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[0]), out, 0o644))
}

// bare holds a picture's size and that no data of any kind came with it.
func bare(ts *testscript.TestScript, neg bool, args []string) {
	b, err := os.ReadFile(ts.MkAbs(args[0]))
	ts.Check(err)
	why := ""
	if _, err := exif.Decode(bytes.NewReader(b)); err == nil || bytes.Contains(b, []byte("Exif")) {
		why = "it carries data"
	}
	c, _, err := image.DecodeConfig(bytes.NewReader(b))
	ts.Check(err)
	if is := fmt.Sprint(c.Width, c.Height); why == "" && is != args[1]+" "+args[2] {
		why = "it is " + is
	}
	if (why == "") == neg {
		ts.Fatalf("%s: %s", args[0], why)
	}
}
