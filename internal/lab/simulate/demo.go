package simulate

import (
	"io"
	"os"
	"path/filepath"
	"time"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
)

// Demo is a small day in an invented town: a dozen lines under a street and a
// lane, three quarters of an hour of work, a break in the radio link, a stretch
// without integers, some readings on neighbours, and a clock that is off.
func Demo() Scenario {
	s := New("demo", 2026)
	s.Start = time.Date(2026, 5, 12, 7, 58, 0, 0, time.UTC)
	s.Origin = geodesy.Geo{Lat: 47.5, Lon: -17.75, H: 72}
	s.World = World{Town: true}
	s.Work.Spacing = Range{2.6, 5}
	s.Work.Corners = 0.7
	s.Work.Potholes = 1
	s.Work.Lead, s.Work.Tail = 45, 40
	s.GNSS.Outages = Spells{1, Range{70, 90}}
	s.GNSS.Floats = Spells{1, Range{150, 170}}
	s.Locate.Locks = 0.03
	s.Clock = Clock{Offset: 94.6, Drift: 18, Step: 0.1}
	s.Log.Features, s.Log.NullOffsets = true, true
	s.Dirt = Dirty(0.0005)
	s.Record = Record{Accuracy: 0.05, Shift: plane.Pt{}, Mistakes: true}
	return s
}

const about = `Everything in this folder is invented: the town of Quellmar, its streets, its
utilities, the crew and both instruments. The place is open sea.

The files were written by the generator in internal/lab/simulate from its scenario
Demo, whose seed is fixed: the same program writes the same bytes.

day.nmea          what the receiver logged: GGA, RMC and GST once a second, RTK,
                  with one break, one stretch of RTK float, and a little dirt
readings.csv      what the locator logged, on a clock that is off by about a
                  minute and a half
as-built.geojson  what the owners' records say, with some mistakes put in on
                  purpose
truth.json        what really lies there, where each reading was really taken,
                  the clock's true offset, and the mistakes in the record

Depths are from the ground surface to the utility's centre.
`

// WriteDemo writes the demo's files into an existing folder.
func WriteDemo(dir string) error {
	d := Invent(Demo())
	files := []struct {
		name  string
		write func(io.Writer) error
	}{
		{"day.nmea", func(w io.Writer) error { _, err := d.WriteNMEA(w); return err }},
		{"readings.csv", d.WriteReadings},
		{"as-built.geojson", d.WriteAsBuilt},
		{"truth.json", d.WriteTruth},
		{"README.about", func(w io.Writer) error { _, err := io.WriteString(w, about); return err }},
	}
	for _, f := range files {
		if err := writeFile(filepath.Join(dir, f.name), f.write); err != nil {
			return err
		}
	}
	return nil
}

func writeFile(name string, write func(io.Writer) error) (err error) {
	f, err := os.Create(name)
	if err != nil {
		return err
	}
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	return write(f)
}
