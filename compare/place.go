package compare

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/present"
)

// A site is the common plane of both sides.
type site struct {
	local *geodesy.Local
	frame geodesy.Frame
	epoch float64
	box   box
}

type box struct{ lo, hi plane.Pt }

func emptyBox() box {
	return box{plane.Pt{E: math.Inf(1), N: math.Inf(1)}, plane.Pt{E: math.Inf(-1), N: math.Inf(-1)}}
}

func (b *box) add(p plane.Pt) {
	b.lo = plane.Pt{E: min(b.lo.E, p.E), N: min(b.lo.N, p.N)}
	b.hi = plane.Pt{E: max(b.hi.E, p.E), N: max(b.hi.N, p.N)}
}

func (b box) grown(by float64) box {
	g := plane.Pt{E: by, N: by}
	return box{b.lo.Sub(g), b.hi.Add(g)}
}

func (b box) has(p plane.Pt) bool {
	return p.E >= b.lo.E && p.E <= b.hi.E && p.N >= b.lo.N && p.N <= b.hi.N
}

func (b box) meets(o box) bool {
	return b.lo.E <= o.hi.E && o.lo.E <= b.hi.E && b.lo.N <= o.hi.N && o.lo.N <= b.hi.N
}

// noEpoch is the epoch taken where the located lines do not tell theirs: frames
// move 2 to 7 cm a year against each other.
const noEpoch = 2020.0

// newSite makes the plane about the middle of the located lines and places them.
func newSite(d *located) *site {
	south, north := math.Inf(1), math.Inf(-1)
	west, east := math.Inf(1), math.Inf(-1)
	first := d.parts[0].geo[0].Lon
	for i := range d.parts {
		for _, g := range d.parts[i].geo {
			south, north = min(south, g.Lat), max(north, g.Lat)
			// About the first longitude, so that the date line is nowhere near.
			lon := first + math.Remainder(g.Lon-first, 360)
			west, east = min(west, lon), max(east, lon)
		}
	}
	s := &site{local: geodesy.NewLocal(geodesy.Geo{Lat: (south + north) / 2, Lon: (west + east) / 2, H: math.NaN()}),
		frame: d.frame, epoch: d.epoch, box: emptyBox()}
	if math.IsNaN(s.epoch) {
		s.epoch = noEpoch
	}
	for i := range d.parts {
		p := &d.parts[i]
		p.pts = nil
		for _, g := range p.geo {
			at := s.local.Forward(g)
			p.pts = append(p.pts, at)
			s.box.add(at)
		}
		p.sta = p.pts.Stations()
	}
	for i := range d.readings {
		d.readings[i].at = s.local.Forward(d.readings[i].geo)
	}
	return s
}

// placer gives the function from a system's coordinates into the plane.
func (s *site) placer(crs *geodesy.CRS) func(x, y float64) (plane.Pt, error) {
	frame := s.frame
	if s.apart(crs) {
		frame = crs.Frame()
	}
	return func(x, y float64) (plane.Pt, error) {
		g, err := crs.Inverse(x, y, math.NaN(), frame, s.epoch)
		if err != nil {
			return plane.Pt{}, err
		}
		p := s.local.Forward(g)
		if !present.Known(p.E + p.N) {
			return plane.Pt{}, fmt.Errorf("%v, %v is no place on earth in %v", x, y, crs)
		}
		return p, nil
	}
}

// apart reports whether nothing leads from a system's frame to that of the located
// lines. Latitude and longitude are then taken as the same in both.
func (s *site) apart(crs *geodesy.CRS) bool {
	return crs.Frame() != s.frame && (crs.Frame().Alone() || s.frame.Alone())
}

// reach is how far, m, beyond the located lines a record is of the same site.
const reach = 1000

// place brings the record into the plane: its system is found, and the order of
// its axes. It refuses a record that is nowhere near, and says why that may be.
func (b *asBuilt) place(s *site, opt *Options) error {
	for _, src := range b.sources {
		if !b.hasPieces(src) {
			continue
		}
		if err := b.chooseSystem(src, s, opt); err != nil {
			return err
		}
	}
	if err := b.chooseAxes(s, opt); err != nil {
		return err
	}
	b.settle()
	b.tell()
	if len(b.records) == 0 {
		return &Refusal{Text: fmt.Sprintf("as-built record %s: no line of it has a length and a place", b.file), ToDo: "see the warnings"}
	}
	return nil
}

func (b *asBuilt) hasPieces(src *source) bool {
	for i := range b.records {
		for k := range b.records[i].pieces {
			if b.records[i].pieces[k].crs == src {
				return true
			}
		}
	}
	return false
}

// chooseSystem takes the system that was asked for, else the file's own; degrees
// that lead to the site need none.
func (b *asBuilt) chooseSystem(src *source, s *site, opt *Options) error {
	l := src.layer
	crs, how := l.CRS, "named in the file"
	if l.Assumed {
		how = "as the format has it"
	}
	if opt.CRS != nil {
		if crs != nil && crs.Code() != opt.CRS.Code() && !l.Assumed {
			b.warnings = append(b.warnings, fmt.Sprintf("the as-built record says that it is in %v; %v is taken, as asked for", crs, opt.CRS))
		}
		crs, how = opt.CRS, "as asked for"
	}
	if crs == nil && l.CRSError == nil {
		if degrees, err := geodesy.LookupCRS(4326); err == nil && b.looksLikeDegrees(src, s, degrees) {
			crs, how = degrees, "assumed"
			b.warnings = append(b.warnings, fmt.Sprintf("the as-built record names no coordinate system; its coordinates are degrees that lead to the site: %v is taken", crs))
		}
	}
	if crs == nil {
		text := fmt.Sprintf("as-built record %s: names no coordinate system", b.file)
		if l.CRSError != nil {
			text = fmt.Sprintf("as-built record %s: %v", b.file, l.CRSError)
		}
		return &Refusal{Usage: true, Text: text, ToDo: "say which it is in: --as-built-crs EPSG:25832, say"}
	}
	src.crs, src.place = crs, s.placer(crs)
	if b.system == "" {
		b.system = fmt.Sprintf("%v, %s", crs, how)
	}
	if s.apart(crs) {
		b.warnings = append(b.warnings, fmt.Sprintf("the as-built record is in %v and the located lines are in %v, between which no transformation is built in: the two are laid on each other as they are, and may be a metre or two apart for that alone; locate with --frame %q if the corrections were in it",
			crs.Frame(), s.frame, crs.Frame()))
	}
	if grid := crs.Grid(); grid != nil {
		b.warnings = append(b.warnings, fmt.Sprintf("%v: read by the correction grid %v, whose numbers cannot show whether it is the one published for it", crs, grid))
	}
	if a := crs.Accuracy(); a > 0 {
		b.warnings = append(b.warnings, fmt.Sprintf("%v: its datum is taken as %v, which holds within %.2f m", crs, crs.Frame(), a))
	}
	return nil
}

// looksLikeDegrees reports whether a layer's coordinates are longitudes and
// latitudes, in either order, some of which lie on the site.
func (b *asBuilt) looksLikeDegrees(src *source, s *site, degrees *geodesy.CRS) bool {
	for i := range b.records {
		for _, p := range b.records[i].pieces {
			for _, v := range p.raw {
				if p.crs == src && (math.Abs(v.X) > 180 || math.Abs(v.Y) > 180) {
					return false
				}
			}
		}
	}
	old := src.place
	src.place = s.placer(degrees)
	n := b.onSite(src, s, false) + b.onSite(src, s, true)
	src.place = old
	return n > 0
}

// onSite counts a layer's points that lie on the site.
func (b *asBuilt) onSite(src *source, s *site, swapped bool) int {
	n, area := 0, s.box.grown(reach)
	for i := range b.records {
		for _, p := range b.records[i].pieces {
			if p.crs != src {
				continue
			}
			for _, v := range p.raw {
				x, y := v.X, v.Y
				if swapped {
					x, y = y, x
				}
				if at, err := src.place(x, y); err == nil && area.has(at) {
					n++
				}
			}
		}
	}
	return n
}

// chooseAxes keeps the order of formats – east or longitude first – unless no
// point then lies on the site and the other order brings some there.
func (b *asBuilt) chooseAxes(s *site, opt *Options) error {
	total := 0
	for _, src := range b.sources {
		if src.place == nil {
			continue
		}
		straight := 0
		switch opt.Axes {
		case AxesYX:
			src.swap = true
			straight = b.onSite(src, s, true)
		default:
			straight = b.onSite(src, s, false)
			if straight == 0 && opt.Axes == AxesAuto {
				if swapped := b.onSite(src, s, true); swapped > 0 {
					src.swap, straight = true, swapped
					b.warnings = append(b.warnings, fmt.Sprintf("the axes of the as-built record are swapped: as they stand its coordinates lie far from the located lines, with %s first they lie on them, and so they are read (--axes xy refuses that)", firstAxis(src.crs)))
				}
			}
		}
		total += straight
	}
	if total > 0 {
		return nil
	}
	return b.farAway(s)
}

func firstAxis(crs *geodesy.CRS) string {
	if crs.IsProjected() {
		return "north"
	}
	return "latitude"
}

// farAway says how far the record lies from the site, and how its coordinates
// differ from what they would have to be.
func (b *asBuilt) farAway(s *site) error {
	for i := range b.records {
		for _, p := range b.records[i].pieces {
			if p.crs.place == nil || len(p.raw) == 0 {
				continue
			}
			v := p.raw[0]
			x, y, _, err := p.crs.crs.Forward(s.local.Origin(), s.frame, s.epoch)
			text := fmt.Sprintf("as-built record %s: lies nowhere near the located lines", b.file)
			if at, errAt := p.crs.place(v.X, v.Y); errAt == nil {
				text += fmt.Sprintf(", %s to the %s", people(at.Len()), wind(at))
			}
			text += fmt.Sprintf(": its first point is %.8g, %.8g", v.X, v.Y)
			if err == nil {
				text += fmt.Sprintf(", the located lines are at about %.8g, %.8g in %v", x, y, p.crs.crs)
			}
			toDo := "is that its coordinate system? say which with --as-built-crs EPSG:N"
			if fits := b.fittingSystems(p.crs, s); len(fits) > 0 {
				toDo = fmt.Sprintf("its coordinates lead to the site when they are read as %s: give --as-built-crs EPSG:%d", systemNames(fits), fits[0].Code())
			} else if dx, dy := x-v.X, y-v.Y; err == nil && p.crs.crs.IsProjected() && (roundNumber(dx) || roundNumber(dy)) {
				toDo = fmt.Sprintf("coordinates that lack a round number at the front (about %.0f, %.0f here) have another false origin: add it, or say the right system with --as-built-crs", math.Round(dx/1000)*1000, math.Round(dy/1000)*1000)
			}
			return &Refusal{Text: text, ToDo: toDo}
		}
	}
	return &Refusal{Text: fmt.Sprintf("as-built record %s: none of its points is a place on earth", b.file), ToDo: "say its coordinate system with --as-built-crs EPSG:N"}
}

// fittingSystems are the built-in systems in use at the site that bring a source's
// points onto it, those that bring most first.
func (b *asBuilt) fittingSystems(src *source, s *site) []*geodesy.CRS {
	systems, err := geodesy.CRSAt(s.local.Origin())
	if err != nil {
		return nil
	}
	degrees, err := geodesy.LookupCRS(4326)
	if err == nil {
		systems = append(systems, degrees)
	}
	try := *src
	points := map[*geodesy.CRS]int{}
	for _, c := range systems {
		src.place = s.placer(c)
		points[c] = b.onSite(src, s, false)
	}
	*src = try
	systems = slices.DeleteFunc(systems, func(c *geodesy.CRS) bool { return points[c] == 0 })
	slices.SortStableFunc(systems, func(x, y *geodesy.CRS) int { return points[y] - points[x] })
	return systems
}

// systemNames lists at most three systems.
func systemNames(systems []*geodesy.CRS) string {
	var names []string
	for _, c := range systems[:min(3, len(systems))] {
		names = append(names, c.String())
	}
	return strings.Join(names, " or ")
}

// roundNumber reports whether a difference of coordinates is within the site's
// size of a multiple of 100,000.
func roundNumber(d float64) bool {
	const step, within = 100_000, 5_000
	return math.Abs(d) > within && math.Abs(math.Remainder(d, step)) < within
}

// people writes a long distance.
func people(m float64) string {
	if m >= 10_000 {
		return fmt.Sprintf("%.0f km", m/1000)
	}
	return fmt.Sprintf("%.0f m", m)
}

// wind names the direction of a vector.
func wind(p plane.Pt) string {
	names := []string{"north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"}
	turn := math.Atan2(p.E, p.N) / (2 * math.Pi) * 8
	return names[(int(math.Round(turn))+8)%8]
}
