package nmea

import (
	"math"
	"time"
)

// Quality says how a position was obtained, as GGA field 6 tells it.
type Quality uint8

// The qualities of GGA field 6; GNS and RMC modes are mapped onto them.
const (
	QualityNone       Quality = 0
	QualityAutonomous Quality = 1
	QualityDGPS       Quality = 2 // differential or SBAS
	QualityPPS        Quality = 3
	QualityRTKFixed   Quality = 4
	QualityRTKFloat   Quality = 5
	QualityEstimated  Quality = 6 // dead reckoning, extrapolation
	QualityManual     Quality = 7
	QualitySimulator  Quality = 8
	QualityUnknown    Quality = 255 // position without any word on its quality (GLL or old RMC alone)
)

// String gives the name used in files and reports.
func (q Quality) String() string {
	switch q {
	case QualityNone:
		return "none"
	case QualityAutonomous:
		return "autonomous"
	case QualityDGPS:
		return "differential"
	case QualityPPS:
		return "pps"
	case QualityRTKFixed:
		return "rtk_fixed"
	case QualityRTKFloat:
		return "rtk_float"
	case QualityEstimated:
		return "estimated"
	case QualityManual:
		return "manual"
	case QualitySimulator:
		return "simulator"
	}
	return "unknown"
}

// Epoch is all that the receiver said about one instant. Measurements it did
// not give are NaN. The position is that of the antenna's phase centre, in the
// frame of the receiver's corrections.
type Epoch struct {
	Nanos    int64   // UTC, nanoseconds since 1970-01-01
	Lat, Lon float64 // degrees
	Alt      float64 // metres above the receiver's own geoid
	Sep      float32 // geoid above ellipsoid, m; Alt + Sep is the ellipsoidal height
	SigmaN   float32 // GST: one standard deviation towards north, m
	SigmaE   float32 // likewise east
	SigmaU   float32 // likewise up
	CovNE    float32 // GST ellipse: covariance of north and east, m²; 0 where the ellipse is absent or refused
	HDOP     float32
	VDOP     float32
	Age      float32 // age of the corrections, s
	Speed    float32 // over ground, m/s
	Course   float32 // degrees from true north
	Heading  float32 // from antenna to antenna of a receiver that has two, degrees from true north
	Quality  Quality
	Sats     uint8  // in use
	File     uint16 // index of the log's source
	Line     uint32 // line of the position sentence in that source, from 1
}

// UTC is the time of the epoch.
func (e *Epoch) UTC() time.Time { return time.Unix(0, e.Nanos).UTC() }

// Height is the ellipsoidal height of the antenna, m; NaN when the receiver
// gave no altitude. A missing geoid separation counts as not known, not as 0.
func (e *Epoch) Height() float64 { return e.Alt + float64(e.Sep) }

// HasGST reports whether the epoch carries the receiver's own σ.
func (e *Epoch) HasGST() bool {
	return !math.IsNaN(float64(e.SigmaN)) && !math.IsNaN(float64(e.SigmaE))
}
