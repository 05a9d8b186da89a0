package export

import (
	"archive/zip"
	"bufio"
	"context"
	"image"
	"image/color"
	"image/png"
	"io"
	"path/filepath"
	"time"

	"tracemap/internal/newfile"
	"tracemap/result"
)

// writeKMZ writes map.kmz: map.kml zipped as doc.kml, with the icon of readings
// beside it, so that nothing is fetched from elsewhere. The document is zipped as
// it is made: a map of many days would fill the memory as text.
func writeKMZ(ctx context.Context, dir string, m *result.Map, _ Options) error {
	return newfile.Write(filepath.Join(dir, "map.kmz"), func(w *bufio.Writer) error {
		const dot = "files/dot.png"
		z := zip.NewWriter(w)
		file := func(name string) (io.Writer, error) {
			return z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: surveyed(m)})
		}
		doc, err := file("doc.kml") // the first file of a KMZ is its document
		if err != nil {
			return err
		}
		if err := encodeKML(ctx, doc, m, dot); err != nil {
			return err
		}
		icon, err := file(dot)
		if err != nil {
			return err
		}
		if err := png.Encode(icon, dotImage(32)); err != nil {
			return err
		}
		return z.Close()
	})
}

// surveyed dates a file by the survey, not by the day on which it was written: the
// same input gives the same bytes. The format begins with 1980.
func surveyed(m *result.Map) time.Time {
	first := time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)
	if m.Meta.To.Before(first) {
		return first
	}
	return m.Meta.To.UTC().Truncate(2 * time.Second)
}

// dotImage is a white disc in a dark rim; viewers tint the white.
func dotImage(size int) image.Image {
	img := image.NewNRGBA(image.Rect(0, 0, size, size))
	middle := float64(size-1) / 2
	for y := range size {
		for x := range size {
			dx, dy := float64(x)-middle, float64(y)-middle
			switch r := (dx*dx + dy*dy) / (middle * middle); {
			case r <= 0.6:
				img.Set(x, y, color.White)
			case r <= 1:
				img.Set(x, y, color.NRGBA{0x20, 0x20, 0x20, 0xFF})
			}
		}
	}
	return img
}
