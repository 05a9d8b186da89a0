package tiles

import (
	"encoding/binary"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// A vector tile follows the Mapbox Vector Tile specification 2.1
// (https://github.com/mapbox/vector-tile-spec/tree/master/2.1): layers of
// features whose geometry is drawn by moves, lines and closes. Only geometry and
// the layers' names are used; a base map is there to find one's way, quietly.

// A look is how features of a layer are drawn.
type look struct{ fill, stroke, width, dash string }

// looks are picked by a word in a layer's name, the first that fits; schemas of
// vector tiles differ, but all name layers after what is in them. Colours are
// translucent greys and blues that lie quietly under a map, on light and on dark.
var looks = []struct {
	words []string
	look
}{
	{[]string{"water", "ocean", "river", "lake"}, look{"#4a90c060", "#4a90c0a0", "10", ""}},
	{[]string{"building"}, look{"#8886", "#888c", "6", ""}},
	{[]string{"road", "transport", "street", "highway", "path"}, look{"none", "#999c", "26", ""}},
	{[]string{"rail", "transit"}, look{"none", "#777a", "12", "60 30"}},
	{[]string{"bound", "admin"}, look{"none", "#a7a9", "10", "40 40"}},
	{[]string{"park", "wood", "forest", "green", "land"}, look{"#5a9a5a28", "none", "0", ""}},
	{[]string{""}, look{"#8882", "#8889", "8", ""}},
}

func lookOf(layer string) look {
	layer = strings.ToLower(layer)
	for _, l := range looks {
		for _, w := range l.words {
			if strings.Contains(layer, w) {
				return l.look
			}
		}
	}
	return look{}
}

// draw makes a picture of a vector tile, 256 pixels wide.
func draw(b []byte) ([]byte, error) {
	var out strings.Builder
	out.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" width="256" height="256" viewBox="0 0 4096 4096" stroke-linecap="round" stroke-linejoin="round">`)
	err := each(b, func(field int, v []byte, _ uint64) error {
		if field != 3 {
			return nil
		}
		return drawLayer(&out, v)
	})
	out.WriteString("</svg>")
	return []byte(out.String()), err
}

func drawLayer(out *strings.Builder, b []byte) error {
	name, extent := "", uint64(4096)
	var features [][]byte
	err := each(b, func(field int, v []byte, n uint64) error {
		switch field {
		case 1:
			name = string(v)
		case 2:
			features = append(features, v)
		case 5:
			extent = n
		}
		return nil
	})
	if err != nil || extent == 0 || extent > 1<<16 {
		return errors.Join(err, badExtent(extent))
	}
	l := lookOf(name)
	fmt.Fprintf(out, `<g fill-rule="evenodd" stroke="%s" stroke-width="%s"`, l.stroke, l.width)
	if l.dash != "" {
		fmt.Fprintf(out, ` stroke-dasharray="%s"`, l.dash)
	}
	out.WriteString(">")
	for _, f := range features {
		if err := drawFeature(out, f, 4096/float64(extent), l.fill); err != nil {
			return err
		}
	}
	out.WriteString("</g>")
	return nil
}

func badExtent(extent uint64) error {
	if extent == 0 || extent > 1<<16 {
		return fmt.Errorf("a layer of %d units", extent)
	}
	return nil
}

// drawFeature draws lines and polygons; points have no place without their text.
func drawFeature(out *strings.Builder, b []byte, scale float64, fill string) error {
	var kind uint64
	var geometry []byte
	err := each(b, func(field int, v []byte, n uint64) error {
		switch field {
		case 3:
			kind = n
		case 4:
			geometry = v
		}
		return nil
	})
	if err != nil || kind != 2 && kind != 3 {
		return err
	}
	if kind == 2 {
		fill = "none"
	}
	out.WriteString(`<path fill="` + fill + `" d="`)
	if err := drawPath(out, geometry, scale); err != nil {
		return err
	}
	out.WriteString(`"/>`)
	return nil
}

// drawPath turns commands (section 4.3 of the specification) into a path's.
func drawPath(out *strings.Builder, g []byte, scale float64) error {
	var x, y int64
	for len(g) > 0 {
		c, n := binary.Uvarint(g)
		if n <= 0 {
			return errors.New("a cut-off command")
		}
		g = g[n:]
		id, count := c&7, c>>3
		letter := map[uint64]string{1: "M", 2: "L", 7: "Z"}[id]
		switch {
		case letter == "":
			return fmt.Errorf("an unknown command %d", id)
		case letter == "Z":
			out.WriteString("Z")
			continue
		case count > uint64(len(g)):
			return fmt.Errorf("%d points in %d bytes", count, len(g))
		}
		for range count {
			dx, n := binary.Varint(g)
			if n <= 0 {
				return errors.New("a cut-off point")
			}
			dy, m := binary.Varint(g[n:])
			if m <= 0 {
				return errors.New("a cut-off point")
			}
			g = g[n+m:]
			x, y = x+dx, y+dy
			out.WriteString(letter + unit(float64(x)*scale) + " " + unit(float64(y)*scale))
		}
	}
	return nil
}

func unit(v float64) string { return strconv.FormatFloat(v, 'f', 0, 64) }

// each calls f with each field of a protocol buffer: bytes of length-delimited
// ones, the number of varints; others are passed over.
func each(b []byte, f func(field int, v []byte, n uint64) error) error {
	for len(b) > 0 {
		key, k := binary.Uvarint(b)
		if k <= 0 {
			return errors.New("a cut-off field")
		}
		b = b[k:]
		var v []byte
		var n uint64
		switch key & 7 {
		case 0:
			if n, k = binary.Uvarint(b); k <= 0 {
				return errors.New("a cut-off number")
			}
		case 1:
			k = 8
		case 5:
			k = 4
		case 2:
			if n, k = binary.Uvarint(b); k <= 0 || n > uint64(len(b)-k) {
				return errors.New("a cut-off field")
			}
			v = b[k : k+int(n)]
			k += int(n)
		default:
			return fmt.Errorf("a field of an unknown sort %d", key&7)
		}
		if k > len(b) {
			return errors.New("a cut-off field")
		}
		if err := f(int(key>>3), v, n); err != nil {
			return err
		}
		b = b[k:]
	}
	return nil
}
