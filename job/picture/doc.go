// Package picture makes a photograph fit to keep and to share: turned the
// right way up, no larger than a page needs, and without the place, the time
// and the device that a camera writes into it.
//
// It decodes the picture and writes a new one, so nothing that is not a pixel
// can pass: no Exif, XMP, maker's note, thumbnail, colour profile or comment.
package picture
