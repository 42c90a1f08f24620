package picture

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	_ "image/gif" // read only
	"image/jpeg"
	"image/png"

	"github.com/rwcarlsen/goexif/exif"
	"golang.org/x/image/draw"
	_ "golang.org/x/image/webp" // read only
)

// Limits on what is read.
const (
	MaxBytes  = 40 << 20 // of one picture file
	MaxPixels = 100e6    // of one picture, so that a small file cannot ask for all memory
)

// Usual sizes: the longer side, in pixels.
const (
	Keep  = 1600 // kept with a log entry
	Thumb = 400
)

// ErrKind reports a file that is not a JPEG, PNG, GIF or WebP picture.
var ErrKind = errors.New("not a JPEG, PNG, GIF or WebP picture")

// Clean gives the picture turned as its camera meant, its longer side at most
// side pixels (never enlarged; 0 for no limit), and without any metadata. A
// picture with transparency, and one with few colours, comes back as PNG,
// any other as JPEG; ext is ".png" or ".jpg".
//
// The same bytes in give the same bytes out. Errors: ErrKind, a picture that
// is too large, a damaged one.
func Clean(data []byte, side int) (out []byte, ext string, err error) {
	img, err := decode(data)
	if err != nil {
		return nil, "", err
	}
	asPNG := drawn(img)
	img = turn(scale(img, side), orientation(data))
	var b bytes.Buffer
	if asPNG {
		err = (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, img)
		return b.Bytes(), ".png", err
	}
	err = jpeg.Encode(&b, img, &jpeg.Options{Quality: 85})
	return b.Bytes(), ".jpg", err
}

func decode(data []byte) (image.Image, error) {
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("picture of %d MB, the most is %d MB", len(data)>>20, MaxBytes>>20)
	}
	c, _, err := image.DecodeConfig(bytes.NewReader(data))
	if errors.Is(err, image.ErrFormat) {
		return nil, ErrKind
	}
	if err != nil {
		return nil, fmt.Errorf("damaged picture: %w", err)
	}
	if c.Width <= 0 || c.Height <= 0 || float64(c.Width)*float64(c.Height) > MaxPixels {
		return nil, fmt.Errorf("picture of %d x %d pixels, the most is %d million in all", c.Width, c.Height, int(MaxPixels/1e6))
	}
	img, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("damaged picture: %w", err)
	}
	return img, nil
}

// drawn tells a drawing or a picture with transparency, which JPEG would
// smear, from a photograph.
func drawn(img image.Image) bool {
	switch m := img.(type) {
	case *image.Paletted:
		return true
	case *image.YCbCr, *image.CMYK, *image.Gray, *image.Gray16:
		return false
	case interface{ Opaque() bool }:
		if !m.Opaque() {
			return true
		}
	}
	b := img.Bounds()
	seen := map[color.Color]bool{}
	for y := b.Min.Y; y < b.Max.Y; y += 1 + b.Dy()/200 {
		for x := b.Min.X; x < b.Max.X; x += 1 + b.Dx()/200 {
			seen[img.At(x, y)] = true
			if len(seen) > 256 {
				return false
			}
		}
	}
	return true
}

func scale(img image.Image, side int) image.Image {
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	if side <= 0 || max(w, h) <= side {
		return img
	}
	if w >= h {
		w, h = side, max(1, h*side/b.Dx())
	} else {
		w, h = max(1, w*side/b.Dy()), side
	}
	dst := image.NewNRGBA(image.Rect(0, 0, w, h))
	draw.CatmullRom.Scale(dst, dst.Bounds(), img, b, draw.Src, nil)
	return dst
}

// orientation reads the Exif orientation tag (0x0112), 1 when there is none.
func orientation(data []byte) (o int) {
	// The Exif reader is given hostile files; whatever it does with one, the
	// picture is only left as it lies.
	defer func() {
		if recover() != nil {
			o = 1
		}
	}()
	x, err := exif.Decode(bytes.NewReader(data))
	if err != nil && (x == nil || exif.IsCriticalError(err)) {
		return 1
	}
	t, err := x.Get(exif.Orientation)
	if err != nil {
		return 1
	}
	v, err := t.Int(0)
	if err != nil || v < 1 || v > 8 {
		return 1
	}
	return v
}

// turn applies an Exif orientation (CIPA DC-008, tag 0x0112): 2 to 4 mirror or
// half-turn, 5 to 8 swap the sides.
func turn(img image.Image, o int) image.Image {
	if o <= 1 || o > 8 {
		return img
	}
	b := img.Bounds()
	w, h := b.Dx(), b.Dy()
	dw, dh := w, h
	if o >= 5 {
		dw, dh = h, w
	}
	dst := image.NewNRGBA(image.Rect(0, 0, dw, dh))
	for y := range h {
		for x := range w {
			dx, dy := x, y
			switch o {
			case 2:
				dx = w - 1 - x
			case 3:
				dx, dy = w-1-x, h-1-y
			case 4:
				dy = h - 1 - y
			case 5:
				dx, dy = y, x
			case 6:
				dx, dy = h-1-y, x
			case 7:
				dx, dy = h-1-y, w-1-x
			case 8:
				dx, dy = y, w-1-x
			}
			dst.Set(dx, dy, img.At(b.Min.X+x, b.Min.Y+y))
		}
	}
	return dst
}
