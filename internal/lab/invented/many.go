package invented

import (
	"fmt"
	"math"
	"time"

	"tracemap/fuse"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
	"tracemap/result"
)

// Many is a map of so many parallel lines, each of so many readings a metre apart
// with a vertex at every other one and a doubtful stretch now and then.
func Many(lines, each int) *result.Map {
	d := &day{m: Empty(Atlantic), row: 1}
	utilities := []readings.Utility{"water", "gas", "electric", "communications"}
	d.m.Lines = make([]fuse.Line, 0, lines)
	d.m.Readings = make([]fuse.Placed, 0, lines*each)
	for k := range lines {
		line := fuse.Line{ID: fmt.Sprintf("L%04d", k), Utility: utilities[k%len(utilities)], Method: readings.Direct, Frequency: 8192}
		var pts []plane.Pt
		for i := 0; i < each; i += 2 {
			pts = append(pts, plane.Pt{E: float64(i), N: 4*float64(k) + 0.1*math.Sin(float64(i)/5)})
		}
		vs := d.vertices(pts, func(s float64) (depth, sigma, sigmaDepth, current float64) { return 1.1, 0.06, 0.05, 40 })
		for i := 5; i < len(vs); i += 20 {
			vs[i].Flags |= remarks.Distorted
		}
		line.Parts = []fuse.Part{d.part(1, vs, false)}
		for i := range each {
			r := d.reading(&line)
			r.Time = start.Add(time.Duration(d.row) * time.Second)
			r.Depth, r.Current = 1.1, 40
			at := plane.Pt{E: float64(i), N: 4 * float64(k)}
			d.m.Readings = append(d.m.Readings, fuse.Placed{Reading: r, OK: true, At: at, Geo: d.ground(at), UTC: r.Time, Quality: nmea.QualityRTKFixed,
				LineID: line.ID, Part: 1, Station: at.E, Used: true, Radius: 0.05})
		}
		d.m.Lines = append(d.m.Lines, line)
	}
	d.lost()
	d.finish()
	return d.m
}
