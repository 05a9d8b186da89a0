package export

import (
	"bufio"
	"context"
	"encoding/xml"
	"fmt"
	"io"
	"path/filepath"
	"time"

	"tracemap/geodesy"
	"tracemap/internal/newfile"
	"tracemap/present"
	"tracemap/result"
)

// The elements of GPX 1.1 that revisit.gpx uses, in the order of its schema
// (topografix.com/GPX/1/1/gpx.xsd). Waypoints have no ele: GPX means metres
// above mean sea level, and what is known here is the height above the ellipsoid.
type gpxFile struct {
	XMLName  xml.Name `xml:"http://www.topografix.com/GPX/1/1 gpx"`
	Version  string   `xml:"version,attr"`
	Creator  string   `xml:"creator,attr"`
	Metadata gpxMetadata
	Wpt      []gpxWaypoint
}

type gpxMetadata struct {
	XMLName xml.Name   `xml:"metadata"`
	Name    string     `xml:"name,omitempty"`
	Desc    string     `xml:"desc"`
	Author  *gpxAuthor `xml:"author"`
	Time    string     `xml:"time,omitempty"`
	Bounds  *gpxBounds `xml:"bounds"`
}

type gpxAuthor struct {
	Name string `xml:"name"`
}

type gpxBounds struct {
	MinLat coordinate `xml:"minlat,attr"`
	MinLon coordinate `xml:"minlon,attr"`
	MaxLat coordinate `xml:"maxlat,attr"`
	MaxLon coordinate `xml:"maxlon,attr"`
}

type gpxWaypoint struct {
	XMLName xml.Name   `xml:"wpt"`
	Lat     coordinate `xml:"lat,attr"`
	Lon     coordinate `xml:"lon,attr"`
	Name    string     `xml:"name"`
	Cmt     string     `xml:"cmt,omitempty"`
	Desc    string     `xml:"desc,omitempty"`
	Type    string     `xml:"type,omitempty"`
}

// A coordinate is written without an exponent.
type coordinate float64

// MarshalText writes degrees.
func (c coordinate) MarshalText() ([]byte, error) { return present.AppendNumber(nil, float64(c)), nil }

// writeGPX writes revisit.gpx: a waypoint a place to go back to, the most
// worthwhile first.
func writeGPX(_ context.Context, dir string, m *result.Map, _ Options) error {
	return newfile.Write(filepath.Join(dir, "revisit.gpx"), func(w *bufio.Writer) error {
		if _, err := io.WriteString(w, xml.Header); err != nil {
			return err
		}
		e := xml.NewEncoder(w)
		e.Indent("", " ")
		if err := e.Encode(gpxOf(m)); err != nil {
			return err
		}
		return w.WriteByte('\n')
	})
}

func gpxOf(m *result.Map) *gpxFile {
	places := result.SortedRevisit(m)
	tool := m.Meta.Tool
	if tool == "" {
		tool = "tracemap"
	}
	g := &gpxFile{Version: "1.1", Creator: tool}
	g.Metadata.Name = "Places to revisit"
	if m.Meta.Job != "" {
		g.Metadata.Name += ", " + m.Meta.Job
	}
	if m.Meta.Operator != "" {
		g.Metadata.Author = &gpxAuthor{m.Meta.Operator}
	}
	if !m.Meta.To.IsZero() {
		g.Metadata.Time = m.Meta.To.UTC().Format(time.RFC3339)
	}
	lost := 0
	box := newBounds()
	for i := range places {
		r := &places[i]
		if !present.Known(r.Geo.Lat) || !present.Known(r.Geo.Lon) {
			lost++
			continue
		}
		at := unwrap(nil, []geodesy.Geo{r.Geo})[0]
		box.add(at)
		g.Wpt = append(g.Wpt, waypoint(r, at, len(g.Wpt)+1, m.Units()))
	}
	g.Metadata.Desc = fmt.Sprintf("%d places.", len(g.Wpt))
	if lost > 0 {
		g.Metadata.Desc += fmt.Sprintf(" Without a position: %d; see the report.", lost)
	}
	g.Metadata.Desc += " " + present.Caution
	if all := box.all(); !all.IsEmpty() {
		west, east := box.lons()
		g.Metadata.Bounds = &gpxBounds{coordinate(all.Bottom()), coordinate(west), coordinate(all.Top()), coordinate(east)}
	}
	return g
}

// waypoint names the place by its number and reason, for receivers show little
// more than the name.
func waypoint(r *result.Revisit, at pos, number int, u present.Units) gpxWaypoint {
	w := gpxWaypoint{Lat: coordinate(at.y), Lon: coordinate(at.x), Name: fmt.Sprintf("%02d %s", number, r.Reason), Desc: r.Advice, Type: r.Reason}
	if r.LineID != "" {
		w.Cmt = r.LineID
		if present.Known(r.Station) {
			w.Cmt += " at " + u.Length(r.Station)
		}
		w.Cmt += ": " + r.Reason
	}
	return w
}
