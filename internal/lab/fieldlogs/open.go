package fieldlogs

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
)

// read gives the epochs of one log. reference dates a log that tells no date.
func read(ctx context.Context, dir, name string, reference time.Time) ([]nmea.Epoch, error) {
	f, err := os.Open(filepath.Join(dir, name))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	log, err := nmea.Read(ctx, []nmea.Source{{Name: name, R: f}}, nmea.Options{Reference: reference})
	if err != nil {
		return nil, err
	}
	if len(log.Epochs) == 0 {
		return nil, fmt.Errorf("%s: no position", name)
	}
	return log.Epochs, nil
}

// readPath gives the lines of a GeoJSON file (RFC 7946) of LineStrings.
func readPath(dir, name string, here *geodesy.Local) ([]plane.Polyline, error) {
	b, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		return nil, err
	}
	var file struct {
		Features []struct {
			Geometry struct {
				Type        string
				Coordinates json.RawMessage
			}
		}
	}
	if err := json.Unmarshal(b, &file); err != nil {
		return nil, fmt.Errorf("reading %s: %w", name, err)
	}
	var out []plane.Polyline
	for _, f := range file.Features {
		if f.Geometry.Type != "LineString" {
			return nil, fmt.Errorf("%s holds a %s, want LineString", name, f.Geometry.Type)
		}
		var points [][]float64
		if err := json.Unmarshal(f.Geometry.Coordinates, &points); err != nil {
			return nil, fmt.Errorf("reading %s: %w", name, err)
		}
		var l plane.Polyline
		for _, p := range points {
			l = append(l, here.Forward(geodesy.Geo{Lon: p[0], Lat: p[1]}))
		}
		out = append(out, l)
	}
	return out, nil
}

// localAt is the plane about an epoch. Heights do not matter to it.
func localAt(e *nmea.Epoch) *geodesy.Local {
	return geodesy.NewLocal(geodesy.Geo{Lat: e.Lat, Lon: e.Lon})
}

func at(here *geodesy.Local, e *nmea.Epoch) plane.Pt {
	return here.Forward(geodesy.Geo{Lat: e.Lat, Lon: e.Lon})
}

// seconds of an epoch since the first of the log.
func seconds(es []nmea.Epoch, i int) float64 { return float64(es[i].Nanos-es[0].Nanos) * 1e-9 }

// nearest gives the distance of a place from the nearest of the lines, positive
// to its left, and the line's direction there.
func nearest(lines []plane.Polyline, q plane.Pt) (offset float64, dir plane.Pt) {
	best := -1.0
	for _, l := range lines {
		for k := 1; k < len(l); k++ {
			d := l[k].Sub(l[k-1])
			t := 0.0
			if l2 := d.Dot(d); l2 > 0 {
				t = min(max(q.Sub(l[k-1]).Dot(d)/l2, 0), 1)
			}
			foot := l[k-1].Lerp(l[k], t)
			if r := q.Dist(foot); best < 0 || r < best {
				best, dir, offset = r, d.Unit(), r
				if d.Cross(q.Sub(foot)) < 0 {
					offset = -r
				}
			}
		}
	}
	return offset, dir
}
