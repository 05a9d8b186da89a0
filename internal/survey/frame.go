package survey

import (
	"context"
	"fmt"
	"math"
	"time"

	"tracemap/geodesy"
)

// mapFrame is the frame of every map: GeoJSON and KML know no other.
const mapFrame = geodesy.FrameWGS84

// A Move says how positions were brought from the frame of the receiver's
// corrections into that of the map.
type Move struct {
	From, To geodesy.Frame
	Epoch    float64 // of the observations, as a year with fraction
	// Shift is how far the day's first position went, m in plan, and Rise how far
	// up; Rise is NaN where the receiver gave no height.
	Shift, Rise float64
}

// move transforms every epoch. Nothing happens where no frame was given.
func (d *Day) move(ctx context.Context) error {
	d.Moved = Move{From: mapFrame, To: mapFrame}
	if d.opt.Frame == "" {
		return nil
	}
	from, err := geodesy.ParseFrame(d.opt.Frame)
	if err != nil {
		return err
	}
	s := &d.NMEA.Stats
	d.Moved.From, d.Moved.Epoch = from, year(s.From.Add(s.To.Sub(s.From)/2))
	if from == mapFrame {
		return nil
	}
	for i := range d.NMEA.Epochs {
		if i%4096 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		e := &d.NMEA.Epochs[i]
		old := geodesy.Geo{Lat: e.Lat, Lon: e.Lon, H: e.Height()}
		moved, err := geodesy.Transform(old, from, mapFrame, d.Moved.Epoch)
		if err != nil {
			return fmt.Errorf("%s line %d: %w", d.NMEA.Files[e.File].Name, e.Line, err)
		}
		if i == 0 {
			d.Moved.Shift = geodesy.NewLocal(old).Forward(moved).Len()
			d.Moved.Rise = moved.H - old.H
		}
		e.Lat, e.Lon = moved.Lat, moved.Lon
		if !math.IsNaN(old.H) {
			e.Alt += moved.H - old.H
		}
	}
	return nil
}

// year gives a time as a year with fraction.
func year(t time.Time) float64 {
	t = t.UTC()
	from := time.Date(t.Year(), 1, 1, 0, 0, 0, 0, time.UTC)
	to := from.AddDate(1, 0, 0)
	return float64(t.Year()) + t.Sub(from).Seconds()/to.Sub(from).Seconds()
}

// frameWarnings tell how positions were moved, or that nobody knows whether
// they should have been.
func (d *Day) frameWarnings() []string {
	m := &d.Moved
	switch {
	case d.opt.Frame == "" && d.hasRTK() && d.opt.Scheme != "none":
		return []string{assumed(m), "the suggested classes hold only if that frame is the right one"}
	case d.opt.Frame == "" && d.hasRTK():
		return []string{assumed(m)}
	case m.From == m.To:
		return nil
	}
	text := fmt.Sprintf("positions were moved by %.2f m in plan", m.Shift)
	if !math.IsNaN(m.Rise) {
		text += fmt.Sprintf(" and %+.2f m in height", m.Rise)
	}
	return []string{text + fmt.Sprintf(", from %v to %v at epoch %.2f", m.From, m.To, m.Epoch)}
}

func assumed(m *Move) string {
	return fmt.Sprintf("fixes are RTK and their reference frame was not given, %v assumed: the frame of a corrections service may lie up to 2 m away (--frame)", m.To)
}
