package site

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"path"
	"strings"

	"caul/job"
	"caul/job/picture"
)

// pictures gives a picture its place beside the job's pages. JPEGs are cleaned
// when they are written; anything else is cleaned here, since only then it is
// known what it will be.
func (r *renderer) pictures(j *job.Job, unnamed string) func(file, alt string) (string, string) {
	return func(file, alt string) (string, string) {
		if r.in.Open == nil || !strings.HasPrefix(file, j.Dir+"/") {
			return "", ""
		}
		data, err := r.in.Open(file)
		if err != nil {
			return "", ""
		}
		stem, shown := strings.TrimSuffix(path.Base(file), path.Ext(file)), alt
		if alt == "" {
			r.bare++
			shown = unnamed
		}
		dir := path.Join("jobs", j.ID, "photos")
		if bytes.HasPrefix(data, []byte("\xff\xd8\xff")) {
			at := stem + ".jpg"
			if from, taken := r.out.Pictures[path.Join(dir, at)]; taken && from != file {
				at = path.Base(file) + ".jpg"
			}
			r.out.Pictures[path.Join(dir, at)] = file
			return "photos/" + at, shown
		}
		out, ext, err := picture.Clean(data, picture.Keep)
		if err != nil {
			return "", ""
		}
		at := stem + ext
		if _, taken := r.out.Pictures[path.Join(dir, at)]; taken {
			at = path.Base(file) + ext
		}
		r.out.Pages[path.Join(dir, at)] = out
		return "photos/" + at, shown
	}
}

// clean gives a picture without metadata and no larger than is kept. One that
// is so already comes back as it is; of a damaged one only a grey square is
// left, and ok is false.
func clean(data []byte) (out []byte, ok bool) {
	if bareJPEG(data) || barePNG(data) {
		return data, true
	}
	out, _, err := picture.Clean(data, picture.Keep)
	if err == nil {
		return out, true
	}
	var b bytes.Buffer
	grey := image.NewGray(image.Rect(0, 0, 8, 8))
	for i := range grey.Pix {
		grey.Pix[i] = color.Gray{Y: 0x99}.Y
	}
	_ = jpeg.Encode(&b, grey, nil)
	return b.Bytes(), false
}

// bareJPEG tells whether a JPEG (ITU-T T.81) holds nothing but its picture:
// only the tables and scans a decoder needs, the plain JFIF head, nothing
// behind the end, and a size that is kept.
func bareJPEG(b []byte) bool {
	if len(b) < 4 || b[0] != 0xff || b[1] != 0xd8 {
		return false
	}
	i, sized := 2, false
	for i+4 <= len(b) {
		if b[i] != 0xff {
			return false
		}
		m := b[i+1]
		if m == 0xd9 {
			return sized && i+2 == len(b)
		}
		n := int(binary.BigEndian.Uint16(b[i+2:]))
		if n < 2 || i+2+n > len(b) {
			return false
		}
		seg := b[i+4 : i+2+n]
		switch m {
		case 0xdb, 0xc4, 0xdd: // quantization, Huffman, restart interval
		case 0xc0, 0xc2: // baseline or progressive frame
			if len(seg) < 6 {
				return false
			}
			h, w := int(binary.BigEndian.Uint16(seg[1:])), int(binary.BigEndian.Uint16(seg[3:]))
			sized = h > 0 && w > 0 && max(h, w) <= picture.Keep
			if !sized {
				return false
			}
		case 0xe0: // JFIF without a thumbnail
			if n != 16 || !bytes.HasPrefix(seg, []byte("JFIF\x00")) || seg[12] != 0 || seg[13] != 0 {
				return false
			}
		case 0xda: // a scan: on to the next marker
			i += 2 + n
			for i+1 < len(b) && (b[i] != 0xff || b[i+1] == 0 || b[i+1] >= 0xd0 && b[i+1] <= 0xd7) {
				i++
			}
			if i+2 == len(b) && b[i+1] == 0xd9 {
				return sized
			}
			continue
		default:
			return false
		}
		i += 2 + n
	}
	return false
}

// barePNG tells the same of a PNG (ISO/IEC 15948): only the chunks that make
// the picture, and nothing behind the last.
func barePNG(b []byte) bool {
	const head = "\x89PNG\r\n\x1a\n"
	if !bytes.HasPrefix(b, []byte(head)) {
		return false
	}
	cfg, err := png.DecodeConfig(bytes.NewReader(b))
	if err != nil || max(cfg.Width, cfg.Height) > picture.Keep {
		return false
	}
	for i := len(head); i+12 <= len(b); {
		n := int(binary.BigEndian.Uint32(b[i:]))
		if n < 0 || i+12+n > len(b) {
			return false
		}
		switch string(b[i+4 : i+8]) {
		case "IHDR", "PLTE", "IDAT", "tRNS":
		case "IEND":
			return n == 0 && i+12 == len(b)
		default:
			return false
		}
		i += 12 + n
	}
	return false
}
