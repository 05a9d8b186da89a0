package survey

import (
	"context"
	"fmt"
	"math"
	"strings"
	"time"

	"tracemap/geodesy"
	"tracemap/result"
)

// mapFrame is the frame of every map whose positions lead to it, for GeoJSON and
// KML know no other. Positions in a frame that stands alone stay in that.
const mapFrame = geodesy.FrameWGS84

// A Move says how positions were brought from the frame of the receiver's
// corrections into that of the map.
type Move struct {
	From, To geodesy.Frame
	Epoch    float64 // of the observations, as a year with fraction
	// Shift is how far the position in the middle of the day went; Up is NaN where
	// the receiver gave no height.
	Shift result.Shift
	// At is that position, in the map's frame.
	At geodesy.Geo
}

// move transforms every epoch. Nothing happens where no frame was given, or the
// map's own.
func (d *Day) move(ctx context.Context) error {
	s := &d.NMEA.Stats
	d.Moved = Move{From: mapFrame, To: mapFrame, Epoch: year(s.From.Add(s.To.Sub(s.From) / 2))}
	if d.opt.Frame != "" {
		from, err := geodesy.ParseFrame(d.opt.Frame)
		if err != nil {
			return err
		}
		d.Moved.From = from
	}
	if d.Moved.From.Alone() {
		d.Moved.To = d.Moved.From // nothing leads to another frame
	}
	middle := len(d.NMEA.Epochs) / 2
	for i := range d.NMEA.Epochs {
		if i%4096 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		e := &d.NMEA.Epochs[i]
		old := geodesy.Geo{Lat: e.Lat, Lon: e.Lon, H: e.Height()}
		if i == middle {
			d.Moved.At = old
		}
		if d.Moved.From == d.Moved.To {
			continue
		}
		moved, err := geodesy.Transform(old, d.Moved.From, d.Moved.To, d.Moved.Epoch)
		if err != nil {
			return fmt.Errorf("%s line %d: %w", d.NMEA.Files[e.File].Name, e.Line, err)
		}
		if i == middle {
			d.Moved.At, d.Moved.Shift = moved, shift(old, moved)
		}
		e.Lat, e.Lon = moved.Lat, moved.Lon
		if !math.IsNaN(old.H) {
			// The ellipsoid moves, the geoid stays: the altitude above it is still what
			// the receiver showed.
			e.Sep += float32(moved.H - old.H)
		}
	}
	return nil
}

// shift is how far a place goes from one pair of coordinates to another.
func shift(from, to geodesy.Geo) result.Shift {
	flat := from
	flat.H, to.H = 0, to.H-from.H
	p := geodesy.NewLocal(flat).Forward(to)
	return result.Shift{East: p.E, North: p.N, Up: to.H}
}

// year gives a time as a year with fraction.
func year(t time.Time) float64 {
	t = t.UTC()
	from := time.Date(t.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	to := from.AddDate(1, 0, 0)
	return float64(t.Year()) + t.Sub(from).Seconds()/to.Sub(from).Seconds()
}

// frameSummary says how positions came into the map's frame; nil before any was
// read.
func (d *Day) frameSummary() *result.FrameSummary {
	if d.NMEA == nil || len(d.NMEA.Epochs) == 0 {
		return nil
	}
	m := &d.Moved
	return &result.FrameSummary{Given: d.opt.Frame != "", From: m.From.String(), To: m.To.String(), Epoch: m.Epoch, Shift: m.Shift}
}

// crsSummary says how positions come from the map's frame into that of the
// coordinate system asked for; nil when none was.
func (d *Day) crsSummary() *result.CRSSummary {
	crs := d.opt.CRS
	if crs == nil || d.NMEA == nil || len(d.NMEA.Epochs) == 0 {
		return nil
	}
	s := &result.CRSSummary{Code: crs.Code(), Name: crs.Name(), Frame: crs.Frame().String(), Unit: crs.Unit().Name}
	if grid := crs.Grid(); grid != nil {
		s.Grid = grid.String()
	}
	if there, err := geodesy.Transform(d.Moved.At, d.Moved.To, crs.Frame(), d.Moved.Epoch); err == nil {
		s.Shift = shift(d.Moved.At, there)
	}
	return s
}

// frameWarnings tell how positions were moved, or that nobody knows whether
// they should have been.
func (d *Day) frameWarnings() []string {
	m := &d.Moved
	switch {
	case d.opt.Frame == "" && d.hasRTK() && d.opt.Scheme != "none":
		return []string{d.assumed(), "the suggested classes hold only if that frame is the right one"}
	case d.opt.Frame == "" && d.hasRTK():
		return []string{d.assumed()}
	case m.From.Alone():
		return []string{fmt.Sprintf("positions stay in %v, the frame of the corrections: nothing that is built in leads to another; GeoJSON and KML hold them as they are, which may be a metre or two beside WGS 84", m.From)}
	case m.From == m.To:
		return nil
	}
	return []string{fmt.Sprintf("positions were moved by %s, from %v to %v at epoch %.2f", described(m.Shift), m.From, m.To, m.Epoch)}
}

// described writes a shift for people.
func described(s result.Shift) string {
	text := fmt.Sprintf("%.2f m in plan (%+.3f m east, %+.3f m north)", math.Hypot(s.East, s.North), s.East, s.North)
	if !math.IsNaN(s.Up) {
		text += fmt.Sprintf(" and %+.3f m in height", s.Up)
	}
	return text
}

// served lists the frames that services of corrections use somewhere, with a
// geographic system whose area of use says where.
var served = []struct {
	frame geodesy.Frame
	code  int
}{
	{geodesy.FrameNAD83, 6318}, {geodesy.FrameNAD83CSRS, 8255}, {geodesy.FrameNAD83PA11, 6322}, {geodesy.FrameNAD83MA11, 6325},
	{geodesy.FrameETRF2000, 4258}, {geodesy.FrameGDA2020, 7844},
}

// FrameCRS returns the geographic system of a frame that is fixed to a plate, in
// which national maps lie where they are; nil, which stands for WGS 84, for
// global frames, for none and for a name that is no frame's.
func FrameCRS(frame string) *geodesy.CRS {
	f, err := geodesy.ParseFrame(frame)
	if err != nil || frame == "" || f.Moves() {
		return nil
	}
	if f.Alone() {
		if crs, err := geodesy.GeographicCRS(f); err == nil {
			return crs
		}
		return nil
	}
	codes := map[geodesy.Frame]int{geodesy.FrameGDA94: 4283}
	for _, s := range served {
		codes[s.frame] = s.code
	}
	code, ok := codes[f]
	if !ok {
		return nil
	}
	crs, err := geodesy.LookupCRS(code)
	if err != nil {
		return nil
	}
	return crs
}

// assumed says what goes wrong when the frame of RTK fixes is another than the
// one assumed: by how much for each frame that is served there.
func (d *Day) assumed() string {
	m := &d.Moved
	text := fmt.Sprintf("fixes are RTK and their reference frame was not given, %v assumed: positions are in the frame of the corrections service, which NMEA does not state (--frame)", m.To)
	var off []string
	for _, s := range served {
		crs, err := geodesy.LookupCRS(s.code)
		if err != nil || !crs.Area().Contains(m.At) {
			continue
		}
		there, err := geodesy.Transform(m.At, s.frame, m.To, m.Epoch)
		if err != nil {
			continue
		}
		by := shift(m.At, there)
		off = append(off, fmt.Sprintf("%.2f m if it is %v", math.Hypot(by.East, by.North), s.frame))
	}
	if len(off) == 0 {
		off = []string{"up to 2 m if it is a regional one such as ETRS89 or NAD83(2011)"}
	}
	text += "; the whole map is then off by " + strings.Join(off, ", ") + ", which no width shows"
	if crs := d.opt.CRS; crs != nil && crs.Frame() != m.To {
		text += fmt.Sprintf("; coordinates in EPSG:%d are moved by that much on the assumption", crs.Code())
	}
	return text
}
