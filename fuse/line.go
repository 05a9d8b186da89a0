package fuse

import (
	"time"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/nmea"
	"tracemap/readings"
	"tracemap/remarks"
)

// A Placed reading is a row of the readings log with its place on the ground,
// if it got one.
type Placed struct {
	Reading *readings.Reading
	UTC     time.Time   // locator's time minus the clock offset; zero when the row has no time
	OK      bool        // has a position
	At      plane.Pt    // on the ground under the locator
	Geo     geodesy.Geo // the same; H is the ground's ellipsoidal height
	Quality nmea.Quality
	// QuickVar is the variance of one horizontal axis, m², of what is independent
	// from reading to reading: quick GNSS error after smoothing, and tilt.
	QuickVar float64
	// SlowE, SlowN and SlowEN are the covariance, m², of the slow GNSS error,
	// nearly the same for readings that are close in time.
	SlowE, SlowN, SlowEN float64
	SigmaH               float64  // one σ of the ground's height, m
	Velocity             plane.Pt // of the antenna at that time, m/s
	// ClockShift is where the reading goes, m, if the clock is off by one of its σ;
	// zero when the clock is not determined (see newSlid).
	ClockShift plane.Pt
	// Slide is one σ of the clock that the reading's time is from, s, where that is too
	// wide to go through the fit (see newSlid); zero where it is narrow.
	Slide float64
	T     float64 // seconds since the day's first epoch

	LineID  string  // line it was grouped to; "" for none
	Part    int     // part from 1; 0 when on none
	Station float64 // along the part, m
	Offset  float64 // left of the part's drawn direction, m
	Used    bool    // took part in the fit
	// Chain numbers the stretch of the track that the reading lies on.
	Chain int
	// Radius is one σ of the worse axis of the located point, GNSS and
	// pin-pointing together, m.
	Radius float64
	Flags  remarks.Set

	packed bool     // stands for several that lie close together
	normal plane.Pt // left of the line there, unit; zero where there is none
}

// A Vertex is a point of a fitted part.
type Vertex struct {
	Station    float64      // along the part from its first vertex, m
	At         plane.Pt     // in the day's plane
	Ground     geodesy.Geo  // on the surface; H is the ground's ellipsoidal height, NaN where unknown
	Depth      float64      // surface to the utility's electrical centre, m; NaN where never read
	Sigma      float64      // one σ across the line, m
	SigmaDepth float64      // one σ of the depth, m
	SigmaH     float64      // one σ of the ground's height, m
	Current    float64      // fitted current, mA; NaN where unknown
	Diameter   float64      // outside diameter, m; NaN where unknown
	Quality    nmea.Quality // the weakest among the readings that this place rests on
	Flags      remarks.Set
}

// A Part is a stretch of a line with no gap over the limit.
type Part struct {
	Number   int      // from 1 within the line
	Vertices []Vertex // one when the part is a single reading
	// Corridor is the 95 % uncertainty width as polygons: rings closed, the first
	// ring of a polygon its exterior, counter-clockwise, holes clockwise.
	Corridor [][][]plane.Pt
	Readings int // that took part in the fit
	// ClockWidth is the most that what is not known of the clock adds to a half-width
	// (95 %) of the part, m.
	ClockWidth float64
	From, To   time.Time
	Flags      remarks.Set
}

// Length of the part along its vertices, m.
func (p *Part) Length() float64 { return p.Vertices[len(p.Vertices)-1].Station }

// An Event is something found on a part at a station: a step of the current, a
// distorted stretch, a pothole's check.
type Event struct {
	Kind    remarks.Set // one flag
	LineID  string
	Part    int
	Station float64
	At      plane.Pt
	Geo     geodesy.Geo
	// Before and After are what the event is about on either side: currents in mA
	// for a step, located and seen depth in m for a pothole (NaN where none was located).
	Before, After float64
	Across        float64           // how far left of the line a pothole lies, m
	Reading       *readings.Reading // a pothole's; nil of others
	Text          string
}

// A Point is a reading that stands for itself: a valve, a marker, a sonde, a
// fault, a pothole.
type Point struct {
	Placed *Placed
	// LineID and Part name the line it lies on, where it lies on one.
	LineID string
	Part   int
}

// A Line is what one utility line was located as.
type Line struct {
	ID        string
	Utility   readings.Utility
	Method    readings.Method
	Frequency float64 // Hz; NaN when mixed or unknown
	Parts     []Part
	Events    []Event
	Flags     remarks.Set
}
