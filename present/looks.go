package present

import (
	"image/color"

	"tracemap/readings"
	"tracemap/remarks"
)

// A Look is how a utility is drawn. Colours are the uniform colour code of the
// trade (red electric, yellow gas, oil and steam, orange communications, blue
// potable water, purple reclaimed water, green sewers and drains, pink
// unknown), as sRGB; the code itself is defined in Munsell terms. No colour
// stands alone: each utility also has letters and a dash of its own.
type Look struct {
	Utility readings.Utility
	Name    string // for people
	Letters string // at most two, unique
	Colour  color.RGBA
	ACI     int       // colour index in DXF, one that can be read on black and on white
	Dash    []float64 // lengths drawn and left out, in widths of the line; nil for unbroken
}

var (
	red    = color.RGBA{0xE5, 0x39, 0x35, 0xFF}
	yellow = color.RGBA{0xFD, 0xD8, 0x35, 0xFF}
	orange = color.RGBA{0xFB, 0x8C, 0x00, 0xFF}
	blue   = color.RGBA{0x1E, 0x88, 0xE5, 0xFF}
	purple = color.RGBA{0x8E, 0x24, 0xAA, 0xFF}
	green  = color.RGBA{0x43, 0xA0, 0x47, 0xFF}
	pink   = color.RGBA{0xEC, 0x40, 0x7A, 0xFF}
)

// Looks lists every kind of utility once, in the order of legends; the last one
// serves what is not known.
var Looks = []Look{
	{"water", "Water", "W", blue, 150, nil},
	{"reclaimed_water", "Reclaimed water", "RW", purple, 200, []float64{6, 2}},
	{"sewer", "Sewer", "S", green, 3, nil},
	{"storm", "Storm drain", "SD", green, 3, []float64{6, 2}},
	{"gas", "Gas", "G", yellow, 2, nil},
	{"oil", "Oil", "O", yellow, 2, []float64{6, 2}},
	{"steam", "Steam", "ST", yellow, 2, []float64{6, 2, 1, 2}},
	{"electric", "Electric", "E", red, 1, nil},
	{"lighting", "Lighting", "L", red, 1, []float64{6, 2}},
	{"communications", "Communications", "C", orange, 30, nil},
	{"unknown", "Unknown utility", "U", pink, 231, []float64{3, 2}},
}

// Hex returns the colour as style sheets and drawings write it: "#1e88e5".
func (l Look) Hex() string {
	const digits = "0123456789abcdef"
	out := []byte{'#'}
	for _, v := range []uint8{l.Colour.R, l.Colour.G, l.Colour.B} {
		out = append(out, digits[v>>4], digits[v&15])
	}
	return string(out)
}

// LookOf gives the look of a utility; anything else looks unknown.
func LookOf(u readings.Utility) Look {
	for _, l := range Looks {
		if l.Utility == u {
			return l
		}
	}
	return Looks[len(Looks)-1]
}

// Doubtful are the flags of a place or a part that is drawn broken: what it
// shows rests on less than the rest of the line does.
const Doubtful = remarks.AutonomousFix | remarks.EstimatedFix | remarks.NoFix | remarks.GNSSJump | remarks.Distorted | remarks.PotholeContradicts | remarks.PeakNullApart |
	remarks.SinglePoint | remarks.TwoPoints | remarks.CurrentRises | remarks.ClockUncertain | remarks.SpacingWide
