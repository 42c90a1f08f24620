package demo

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
)

// drawings stand in for photographs: a few shapes on brown paper, drawn here
// so that nobody's workshop is in them.
func drawings() []drawing {
	return []drawing{
		{"jobs/shooting-board/photos/fence-square.png", asPNG(fenceAndSquare())},
		{"jobs/shooting-board/photos/board-in-use.jpg", asJPEG(boardInUse())},
		{"jobs/torsion-table/photos/core-in-clamps.jpg", asJPEG(coreInClamps())},
	}
}

var (
	paper  = color.RGBA{0xd9, 0xc2, 0x9b, 0xff}
	pencil = color.RGBA{0x33, 0x2e, 0x2a, 0xff}
	maple  = color.RGBA{0xee, 0xdc, 0xb8, 0xff}
	ply    = color.RGBA{0xc9, 0xa8, 0x74, 0xff}
	steel  = color.RGBA{0x8a, 0x91, 0x96, 0xff}
	light  = color.RGBA{0xff, 0xf4, 0xd0, 0xff}
)

func sheet() *image.RGBA {
	m := image.NewRGBA(image.Rect(0, 0, 480, 320))
	box(m, m.Bounds(), paper)
	return m
}

func box(m *image.RGBA, r image.Rectangle, c color.RGBA) {
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			if (image.Point{X: x, Y: y}).In(m.Bounds()) {
				m.SetRGBA(x, y, c)
			}
		}
	}
}

// piece is a filled box with a pencil line round it.
func piece(m *image.RGBA, x0, y0, x1, y1 int, c color.RGBA) {
	box(m, image.Rect(x0-2, y0-2, x1+2, y1+2), pencil)
	box(m, image.Rect(x0, y0, x1, y1), c)
}

func grainLines(m *image.RGBA, x0, y0, x1, y1, step int) {
	for y := y0 + step; y < y1; y += step {
		box(m, image.Rect(x0+4, y, x1-4, y+1), pencil)
	}
}

func fenceAndSquare() image.Image {
	m := sheet()
	piece(m, 40, 230, 440, 280, ply)
	piece(m, 120, 110, 200, 230, maple)
	piece(m, 200, 60, 224, 230, steel)
	piece(m, 200, 206, 380, 230, steel)
	box(m, image.Rect(198, 112, 200, 226), light)
	return m
}

func boardInUse() image.Image {
	m := sheet()
	piece(m, 30, 60, 450, 270, ply)
	grainLines(m, 30, 60, 450, 200, 22)
	piece(m, 30, 200, 450, 270, paper)
	piece(m, 90, 70, 122, 196, maple)
	piece(m, 122, 120, 330, 196, maple)
	grainLines(m, 122, 120, 330, 196, 12)
	piece(m, 180, 206, 400, 262, steel)
	return m
}

func coreInClamps() image.Image {
	m := sheet()
	piece(m, 40, 70, 440, 260, ply)
	for x := 40; x <= 440; x += 80 {
		piece(m, max(x-3, 40), 70, min(x+3, 440), 260, maple)
	}
	for y := 70; y <= 260; y += 63 {
		piece(m, 40, max(y-3, 70), 440, min(y+3, 260), maple)
	}
	for x := 80; x < 440; x += 100 {
		piece(m, x, 40, x+22, 290, maple)
		piece(m, x+4, 26, x+18, 60, steel)
		piece(m, x+4, 270, x+18, 304, steel)
	}
	return m
}

func asPNG(m image.Image) []byte {
	var b bytes.Buffer
	if png.Encode(&b, m) != nil {
		return nil
	}
	return b.Bytes()
}

func asJPEG(m image.Image) []byte {
	var b bytes.Buffer
	if jpeg.Encode(&b, m, &jpeg.Options{Quality: 80}) != nil {
		return nil
	}
	return b.Bytes()
}
