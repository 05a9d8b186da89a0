package geodesy

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Frame is a terrestrial reference frame: what coordinates refer to. The same
// stake has other coordinates in each: by 1 to 1.6 m between WGS 84 and
// NAD83(2011) in the United States, by 0.9 m between WGS 84 and ETRS89 in
// central Europe, by 7 cm more each year in Australia. Which frame a fix is in
// is the choice of the corrections service, not of the receiver.
type Frame uint8

const (
	// FrameWGS84 is WGS 84 as broadcast today. It is taken as ITRF2020, from
	// which its latest realizations (G2139, G2296) differ by less than 1 cm. The
	// "null" transformation between WGS 84 and plate-fixed frames that many
	// programs apply, with a stated accuracy of 1 to 2 m, is not used.
	FrameWGS84 Frame = iota
	// FrameITRF2020, FrameITRF2014 and FrameITRF2008 are the frames of global
	// precise positioning services, at the epoch of the observation.
	FrameITRF2020
	FrameITRF2014
	FrameITRF2008
	// FrameNAD83 is NAD83(2011) epoch 2010.00, fixed to the North American plate.
	FrameNAD83
	// FrameNAD83PA11 and FrameNAD83MA11 are NAD83 on the Pacific plate (Hawaii)
	// and on the Mariana plate (Guam).
	FrameNAD83PA11
	FrameNAD83MA11
	// FrameNAD83CSRS is NAD83(CSRS) version 7, Canada.
	FrameNAD83CSRS
	// FrameETRF2000 is the realization of ETRS89 recommended by EUREF for
	// national use, and what "ETRS89" means here; FrameETRF2014 is the newer one,
	// up to 7 cm away. Both are fixed to Eurasia.
	FrameETRF2000
	FrameETRF2014
	// FrameGDA2020 and FrameGDA94 are fixed to Australia at 2020.0 and 1994.0,
	// 1.8 m apart.
	FrameGDA2020
	FrameGDA94
	// The frames from here on stand alone: each is frozen at an epoch in land that
	// has moved and bent since, and what leads from it to a global frame is a
	// velocity or deformation model, which is not built in. Corrections that are in
	// such a frame already need none.
	FrameNZGD2000
	FrameJGD2011
	FrameJGD2000
	FrameSIRGAS2000
	FrameMAGNA
	FramePOSGAR2007
	FrameMexico
	FrameCGCS2000
	FrameHartebeesthoek94
	FrameKorea2000
	FrameTUREF
	FrameISN93
	FrameISN2004
	FrameISN2016
	FrameGDM2000
	FrameDGN95
)

// helmert is a seven-parameter transformation whose parameters change evenly
// with time: p(t) = p + ṗ·(t − t0).
type helmert struct {
	epsg int        // code of the operation in the EPSG dataset
	t0   float64    // year; 0 when the parameters do not change
	p    [7]float64 // tx ty tz (m) · rx ry rz (mas) · ds (ppb)
	rate [7]float64 // the same each year
	// coordinateFrame tells the sign of the rotations: EPSG methods 1056 and 9607
	// turn the frame, 1053 and 9606 turn the position, the opposite way.
	coordinateFrame bool
}

// frameInfo says how a frame hangs on another. Following the parents from any
// frame that does not stand alone leads to ITRF2014.
type frameInfo struct {
	name    string
	aliases []string
	parent  Frame
	from    helmert // from the parent to this frame, or the other way if toParent
	// toParent: the published parameters lead from this frame to the parent.
	toParent bool
	alone    bool // nothing leads to another frame; parent and from say nothing
	onWGS84  bool // heights refer to the ellipsoid WGS 84, others' to GRS 80
}

// frames is the table of all frames. Parameters: EPSG dataset v10.076 as kept
// in PROJ 9.1.1, except 8970 and 8265, whose later revision has more digits
// (PROJ 9.4 and on; T. Soler and R. Snay, J. Surv. Eng. 130 (2004) 49–55 is the
// method; the difference is below 1 mm).
var frames = [...]frameInfo{
	FrameWGS84: {name: "WGS84", aliases: []string{"WGS 84", "WGS84(G2296)", "WGS84(G2139)"}, parent: FrameITRF2020},
	FrameITRF2020: {name: "ITRF2020", aliases: []string{"IGS20", "IGb20"}, parent: FrameITRF2014, from: helmert{
		epsg: 9991, t0: 2015, p: [7]float64{0.0014, 0.0009, -0.0014, 0, 0, 0, 0.42}, rate: [7]float64{0, 0.0001, -0.0002}}},
	FrameITRF2014: {name: "ITRF2014", aliases: []string{"IGS14", "IGb14"}, parent: FrameITRF2014},
	FrameITRF2008: {name: "ITRF2008", aliases: []string{"IGS08", "IGb08"}, parent: FrameITRF2014, toParent: true, from: helmert{
		epsg: 7790, t0: 2010, p: [7]float64{-0.0016, -0.0019, -0.0024, 0, 0, 0, 0.02}, rate: [7]float64{0, 0, 0.0001, 0, 0, 0, -0.03}}},
	FrameNAD83: {name: "NAD83(2011)", aliases: []string{"NAD83 2011", "NAD83-2011", "NAD83(2011) epoch 2010.00"}, parent: FrameITRF2014, from: helmert{
		epsg: 8970, t0: 2010, coordinateFrame: true,
		p:    [7]float64{1.00530, -1.90921, -0.54157, 26.78138, -0.42027, 10.93206, 0.36891},
		rate: [7]float64{0.00079, -0.00060, -0.00144, 0.06667, -0.75744, -0.05133, -0.07201}}},
	FrameNAD83PA11: {name: "NAD83(PA11)", parent: FrameITRF2008, from: helmert{
		epsg: 7808, t0: 1997, coordinateFrame: true,
		p:    [7]float64{0.908, -2.0161, -0.5653, 27.741, 13.469, 2.712, 1.1},
		rate: [7]float64{0.0001, 0.0001, -0.0018, -0.384, 1.007, -2.186, 0.08}}},
	FrameNAD83MA11: {name: "NAD83(MA11)", parent: FrameITRF2008, from: helmert{
		epsg: 7809, t0: 1997, coordinateFrame: true,
		p:    [7]float64{0.908, -2.0161, -0.5653, 28.971, 10.42, 8.928, 1.1},
		rate: [7]float64{0.0001, 0.0001, -0.0018, -0.02, 0.105, -0.347, 0.08}}},
	FrameNAD83CSRS: {name: "NAD83(CSRS)", aliases: []string{"NAD83(CSRS)v7", "NAD83CSRS", "CSRS"}, parent: FrameITRF2014, from: helmert{
		epsg: 8265, t0: 2010,
		p:    [7]float64{1.00530, -1.90921, -0.54157, -26.78138, 0.42027, -10.93206, 0.36891},
		rate: [7]float64{0.00079, -0.00060, -0.00144, -0.06667, 0.75744, 0.05133, -0.07201}}},
	FrameETRF2000: {name: "ETRS89", aliases: []string{"ETRF2000", "ETRS89/ETRF2000"}, parent: FrameITRF2014, from: helmert{
		epsg: 8405, t0: 2010, p: [7]float64{0.0547, 0.0522, -0.0741, 1.701, 10.290, -16.632, 2.12},
		rate: [7]float64{0.0001, 0.0001, -0.0019, 0.081, 0.490, -0.792, 0.11}}},
	FrameETRF2014: {name: "ETRF2014", aliases: []string{"ETRS89/ETRF2014"}, parent: FrameITRF2014, from: helmert{
		epsg: 8880, t0: 2010, p: [7]float64{0, 0, 0, 1.785, 11.151, -16.170}, rate: [7]float64{0, 0, 0, 0.085, 0.531, -0.770}}},
	FrameGDA2020: {name: "GDA2020", parent: FrameITRF2014, from: helmert{
		epsg: 8049, t0: 2020, coordinateFrame: true, rate: [7]float64{0, 0, 0, 1.50379, 1.18346, 1.20716}}},
	FrameGDA94: {name: "GDA94", parent: FrameGDA2020, toParent: true, from: helmert{
		epsg: 8048, coordinateFrame: true, p: [7]float64{0.06155, -0.01087, -0.04019, -39.4924, -32.7221, -32.8979, -9.994}}},

	FrameNZGD2000:         {name: "NZGD2000", alone: true},
	FrameJGD2011:          {name: "JGD2011", alone: true},
	FrameJGD2000:          {name: "JGD2000", alone: true},
	FrameSIRGAS2000:       {name: "SIRGAS 2000", aliases: []string{"SIRGAS"}, alone: true},
	FrameMAGNA:            {name: "MAGNA-SIRGAS", aliases: []string{"MAGNA"}, alone: true},
	FramePOSGAR2007:       {name: "POSGAR 2007", aliases: []string{"POSGAR07"}, alone: true, onWGS84: true},
	FrameMexico:           {name: "Mexico ITRF2008", alone: true},
	FrameCGCS2000:         {name: "CGCS2000", aliases: []string{"China Geodetic Coordinate System 2000"}, alone: true},
	FrameHartebeesthoek94: {name: "Hartebeesthoek94", aliases: []string{"HART94"}, alone: true, onWGS84: true},
	FrameKorea2000:        {name: "Korea 2000", aliases: []string{"KGD2002"}, alone: true},
	FrameTUREF:            {name: "TUREF", alone: true},
	FrameISN93:            {name: "ISN93", alone: true},
	FrameISN2004:          {name: "ISN2004", alone: true},
	FrameISN2016:          {name: "ISN2016", alone: true},
	FrameGDM2000:          {name: "GDM2000", alone: true},
	FrameDGN95:            {name: "DGN95", alone: true, onWGS84: true},
}

// String is the frame's usual name, which ParseFrame reads.
func (f Frame) String() string {
	if int(f) < len(frames) {
		return frames[f].name
	}
	return fmt.Sprintf("Frame(%d)", uint8(f))
}

// Ellipsoid is the ellipsoid that the frame's latitudes and heights refer to.
func (f Frame) Ellipsoid() Ellipsoid {
	if f == FrameWGS84 || int(f) < len(frames) && frames[f].onWGS84 {
		return wgs84
	}
	return grs80
}

// Alone reports whether Transform knows no way between this frame and others, so
// that it serves positions only that are in it already.
func (f Frame) Alone() bool { return int(f) < len(frames) && frames[f].alone }

// Moves reports whether coordinates of a stake in the ground change with time
// in this frame, because it is global and the plates move, 2 to 7 cm a year.
// Coordinates in such a frame need an epoch.
func (f Frame) Moves() bool {
	return f == FrameWGS84 || f == FrameITRF2020 || f == FrameITRF2014 || f == FrameITRF2008
}

// FrameNames gives the names of all frames that ParseFrame reads, without
// aliases.
func FrameNames() []string {
	names := make([]string, len(frames))
	for i, f := range frames {
		names[i] = f.name
	}
	return names
}

// ParseFrame gives the frame of a name as people write it: case, spaces and
// hyphens do not matter. NAD83 without a realization is refused, for the older
// ones lie up to a metre apart.
func ParseFrame(name string) (Frame, error) {
	want := foldName(name)
	for i, f := range frames {
		if foldName(f.name) == want || slices.ContainsFunc(f.aliases, func(a string) bool { return foldName(a) == want }) {
			return Frame(i), nil
		}
	}
	hint := "known are " + strings.Join(FrameNames(), ", ")
	switch {
	case strings.HasPrefix(want, "NAD83"):
		hint = "NAD83 has realizations up to a metre apart: name NAD83(2011), NAD83(PA11), NAD83(MA11) or NAD83(CSRS)"
	case strings.HasPrefix(want, "NAD27"), strings.HasPrefix(want, "OSGB"), strings.HasPrefix(want, "ED50"):
		hint = "it needs correction grids, which are not built in; no satellite fix is in it"
	}
	return 0, fmt.Errorf("unknown reference frame %q: %s", name, hint)
}

func foldName(s string) string {
	return strings.ToUpper(strings.NewReplacer(" ", "", "-", "", "_", "").Replace(s))
}

// Transform gives the coordinates in one frame of a place whose coordinates in
// another are known. The epoch is the year of the observation with fraction,
// 2025.5 for the middle of 2025; it is not used between frames that both move
// with the same plate. A height of NaN stays NaN, and the place is then taken
// on the ellipsoid, which costs less than 1 mm in position.
//
// The published parameters hold to about 1 cm; those between ITRF2014 and
// GDA2020 to 3 cm in position and 18 cm in height (root mean square at 109
// stations, remark to EPSG:8049). What a plate does inside, at its rims or in
// earthquakes they do not tell. An error is given for coordinates that are not
// numbers and for an epoch that is needed and not within 1980 to 2100.
func Transform(g Geo, from, to Frame, epoch float64) (Geo, error) {
	if int(from) >= len(frames) || int(to) >= len(frames) {
		return Geo{}, fmt.Errorf("changing %v to %v: no such frame", from, to)
	}
	if !(math.Abs(g.Lat) <= 90) || math.IsNaN(g.Lon) || math.IsInf(g.Lon, 0) || math.IsInf(g.H, 0) {
		return Geo{}, fmt.Errorf("changing %v to %v: latitude %v, longitude %v, height %v is no place on earth", from, to, g.Lat, g.Lon, g.H)
	}
	if from == to {
		return g, nil
	}
	for _, f := range []Frame{from, to} {
		if f.Alone() {
			return Geo{}, fmt.Errorf("changing %v to %v: %v is frozen at an epoch in land that has moved since, and what it takes is a velocity or deformation model, which is not built in: "+
				"positions can be in %v only where the corrections are (--frame %q)", from, to, f, f, f.String())
		}
	}
	path := framePaths[from][to]
	if path.moves && !(epoch >= 1980 && epoch <= 2100) {
		return Geo{}, fmt.Errorf("changing %v to %v: needs the epoch of the observation as a year between 1980 and 2100, not %v", from, to, epoch)
	}
	flat := g
	if math.IsNaN(g.H) {
		flat.H = 0
	}
	p := from.Ellipsoid().ToXYZ(flat)
	for _, f := range path.up {
		p = frames[f].from.apply(p, epoch, !frames[f].toParent)
	}
	for _, f := range path.down {
		p = frames[f].from.apply(p, epoch, frames[f].toParent)
	}
	out := to.Ellipsoid().ToGeo(p)
	if math.IsNaN(g.H) {
		out.H = g.H
	}
	return out, nil
}

// framePath is the way from one frame to another by their common ancestor: the
// frames to go up from and those to come down to, in order.
type framePath struct {
	up, down []Frame
	moves    bool // some step depends on time
}

// framePaths holds the way from each frame to each.
var framePaths = func() (paths [len(frames)][len(frames)]framePath) {
	ancestors := func(f Frame) []Frame {
		path := []Frame{f}
		for frames[f].parent != f && !frames[f].alone {
			f = frames[f].parent
			path = append(path, f)
		}
		return path
	}
	for from := range frames {
		for to := range frames {
			a, b := ancestors(Frame(from)), ancestors(Frame(to))
			for len(a) > 0 && len(b) > 0 && a[len(a)-1] == b[len(b)-1] {
				a, b = a[:len(a)-1], b[:len(b)-1]
			}
			slices.Reverse(b)
			moves := slices.ContainsFunc(slices.Concat(a, b), func(f Frame) bool { return frames[f].from.t0 != 0 })
			paths[from][to] = framePath{up: a, down: b, moves: moves}
		}
	}
	return paths
}()

// apply transforms a position, backwards if asked.
func (h *helmert) apply(p XYZ, epoch float64, backwards bool) XYZ {
	if h.epsg == 0 {
		return p // the same frame by another name
	}
	q := h.p
	if h.t0 != 0 {
		for i := range q {
			q[i] += h.rate[i] * (epoch - h.t0)
		}
	}
	const mas = math.Pi / 180 / 3600 / 1000
	sign := float64(mas)
	if h.coordinateFrame {
		sign = -mas
	}
	rx, ry, rz, scale := q[3]*sign, q[4]*sign, q[5]*sign, 1+q[6]*1e-9
	forward := func(p XYZ) XYZ {
		return XYZ{
			X: q[0] + scale*(p.X-rz*p.Y+ry*p.Z),
			Y: q[1] + scale*(rz*p.X+p.Y-rx*p.Z),
			Z: q[2] + scale*(-ry*p.X+rx*p.Y+p.Z),
		}
	}
	if !backwards {
		return forward(p)
	}
	// The linear form has no exact inverse by signs; it is so near to doing
	// nothing that two corrections reach rounding.
	x := p
	for range 3 {
		f := forward(x)
		x = XYZ{x.X + p.X - f.X, x.Y + p.Y - f.Y, x.Z + p.Z - f.Z}
	}
	return x
}
