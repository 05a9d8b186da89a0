package compare

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"tracemap/geodesy"
	"tracemap/geodesy/plane"
	"tracemap/internal/geofile"
)

// A record is a line as built: all pieces of one name. Stations run through the
// pieces in the order of the file; what lies between them has none.
type record struct {
	id      string
	utility string
	where   string // in the file, of its first piece
	pieces  []piece
	length  float64
}

// A piece is a line of the record without a gap.
type piece struct {
	course
	raw  []geofile.Vertex
	crs  *source
	from float64 // station of its first point along the record
	facts

	chain int     // that it is a link of
	at0   float64 // station along the chain at which it begins
	back  bool    // it is drawn against the chain
}

// facts are what a record states of a piece.
type facts struct {
	depth         [2]float64 // at its start and its end, m, as stated; NaN where unknown
	depths        []float64  // a vertex each, where the third ordinate is the depth
	to            Point      // what depth goes to
	diameter      float64    // m; NaN where unknown
	accuracy      float64    // 95 %, lateral, m; NaN where not stated
	depthAccuracy float64    // 95 %, m; NaN where not stated
}

// source is where pieces come from: a layer and its coordinate system.
type source struct {
	layer *geofile.Layer
	crs   *geodesy.CRS
	place func(x, y float64) (plane.Pt, error)
	swap  bool // coordinates stand north first
}

// asBuilt is the owner's record.
type asBuilt struct {
	records  []record
	chains   []chain
	sources  []*source
	format   string
	file     string
	sha256   string
	system   string // of its coordinates, for people
	warnings []string
	features int
	aside    []string
	problems map[string]*problem
	order    []string
}

// A problem is something wrong with many features, told once.
type problem struct {
	first string
	count int
}

// wrong notes something about a feature; what is the same for many is told once.
func (b *asBuilt) wrong(where, what string) {
	if b.problems[what] == nil {
		b.problems[what] = &problem{first: where}
		b.order = append(b.order, what)
	}
	b.problems[what].count++
}

// tell turns what was noted into warnings.
func (b *asBuilt) tell() {
	for _, what := range b.order {
		p := b.problems[what]
		text := fmt.Sprintf("as-built %s: %s", p.first, what)
		if p.count > 1 {
			text += fmt.Sprintf(" (and %d more)", p.count-1)
		}
		b.warnings = append(b.warnings, text)
	}
	b.problems, b.order = map[string]*problem{}, nil
}

// readAsBuilt reads the owner's record; places are found later.
func readAsBuilt(ctx context.Context, path string, opt *Options) (*asBuilt, error) {
	f, err := geofile.Open(ctx, path)
	if err != nil {
		return nil, fmt.Errorf("as-built record %s: %w", path, err)
	}
	b := &asBuilt{format: f.Format, file: filepath.Base(path), sha256: f.SHA256, problems: map[string]*problem{}}
	for _, n := range f.Notes {
		b.warnings = append(b.warnings, "as-built "+n)
	}
	for _, a := range f.Aside {
		b.wrong(a.Where, a.Reason)
		b.aside = append(b.aside, a.String())
	}
	if err := b.checkFields(f, opt); err != nil {
		return nil, err
	}
	byID := map[string]int{}
	for i := range f.Layers {
		l := &f.Layers[i]
		s := schemaOf(l, opt)
		src := &source{layer: l}
		b.sources = append(b.sources, src)
		for k := range l.Features {
			b.take(&l.Features[k], src, &s, byID, opt)
		}
	}
	if len(b.records) == 0 {
		return nil, &Refusal{Text: fmt.Sprintf("as-built record %s: holds no lines (%s, %d features)", path, f.Format, b.features),
			ToDo: "give a layer of lines: points and areas are not compared"}
	}
	return b, nil
}

// checkFields refuses names of columns that are nowhere.
func (b *asBuilt) checkFields(f *geofile.File, opt *Options) error {
	var all []string
	for i := range f.Layers {
		names, _ := columnsOf(&f.Layers[i])
		for _, n := range names {
			if !slices.Contains(all, n) {
				all = append(all, n)
			}
		}
	}
	for _, c := range []struct{ flag, field string }{
		{"--id-field", opt.IDField}, {"--utility-field", opt.UtilityField}, {"--depth-field", opt.DepthField}, {"--diameter-field", opt.DiameterField},
	} {
		name, _, _ := strings.Cut(c.field, "=")
		if name == "" || c.flag == "--depth-field" && name == "z" {
			continue
		}
		if !slices.ContainsFunc(all, func(n string) bool { return fold(n) == fold(name) }) {
			return &Refusal{Usage: true, Text: fmt.Sprintf("%s %s: no such column in the as-built record", c.flag, name), ToDo: "it has " + strings.Join(all, ", ")}
		}
	}
	return nil
}

// take adds a feature's lines to the record of its name.
func (b *asBuilt) take(f *geofile.Feature, src *source, s *schema, byID map[string]int, opt *Options) {
	b.features++
	if len(f.Lines) == 0 {
		switch {
		case len(f.Points) > 0:
			b.wrong(f.Where, "a point is not compared")
		default:
			b.wrong(f.Where, "an area is not compared")
		}
		return
	}
	id := b.idOf(f, s)
	utility := utilityOfFeature(f, src.layer, s)
	at, ok := byID[id]
	if ok && kinship(b.records[at].utility, utility) == 0 {
		b.wrong(f.Where, fmt.Sprintf("%q is the name of a line of another utility before; this one is called %q", id, id+"/"+utility))
		id += "/" + utility
		at, ok = byID[id]
	}
	if !ok {
		at = len(b.records)
		byID[id] = at
		b.records = append(b.records, record{id: id, utility: utility, where: f.Where})
	}
	facts := b.factsOf(f, s, opt)
	for _, line := range f.Lines {
		p := piece{raw: line, crs: src, facts: facts}
		if name, _, _ := strings.Cut(opt.DepthField, "="); name == "z" {
			p.depths = b.ordinateDepths(f, line)
		}
		b.records[at].pieces = append(b.records[at].pieces, p)
	}
}

// idOf gives a feature's name: its column of names, else what the format has.
func (b *asBuilt) idOf(f *geofile.Feature, s *schema) string {
	if s.id != "" {
		if v, _ := f.Attr(s.id); v != "" {
			return v
		}
	}
	switch {
	case f.ID != "" && f.Group != "":
		return f.Group + "/" + f.ID
	case f.ID != "":
		return f.ID
	}
	return f.Where
}

// utilityOfFeature reads the column of utilities, else looks into what the layer
// and the folder are called.
func utilityOfFeature(f *geofile.Feature, l *geofile.Layer, s *schema) string {
	texts := []string{f.Group, l.Name}
	if s.utility != "" {
		v, _ := f.Attr(s.utility)
		texts = append([]string{v}, texts...)
	}
	for _, t := range texts {
		if u := utilityIn(t); u != "" && u != unknown {
			return u
		}
	}
	return unknown
}

// settle finds the places of all pieces, leaves out what has no length and what
// is there twice, and numbers the stations.
func (b *asBuilt) settle() {
	seen := map[[4]float64][]plane.Polyline{}
	for i := range b.records {
		r := &b.records[i]
		r.length = 0
		var kept []piece
		for _, p := range r.pieces {
			if err := p.settle(); err != nil {
				b.wrong(r.where, err.Error())
				continue
			}
			if len(p.pts) < 2 {
				b.wrong(r.where, fmt.Sprintf("a piece of %q has no length", r.id))
				continue
			}
			key := shapeKey(p.pts)
			if slices.ContainsFunc(seen[key], func(o plane.Polyline) bool { return sameWay(o, p.pts) }) {
				b.wrong(r.where, fmt.Sprintf("%q is drawn where another line is drawn already, point by point: it is left out", r.id))
				continue
			}
			seen[key] = append(seen[key], p.pts)
			p.from = r.length
			r.length += p.length()
			kept = append(kept, p)
		}
		r.pieces = kept
	}
	b.records = slices.DeleteFunc(b.records, func(r record) bool { return len(r.pieces) == 0 })
	b.chainUp()
}

// same is how near, m, two points are one: a tenth of what surveys tell.
const same = 0.001

// settle places a piece in the plane and drops points that repeat.
func (p *piece) settle() error {
	p.pts = nil
	var depths []float64
	for i, v := range p.raw {
		x, y := v.X, v.Y
		if p.crs.swap {
			x, y = y, x
		}
		at, err := p.crs.place(x, y)
		if err != nil {
			return err
		}
		if n := len(p.pts); n > 0 && p.pts[n-1].Dist(at) < same {
			continue
		}
		p.pts = append(p.pts, at)
		if p.depths != nil {
			depths = append(depths, p.depths[i])
		}
	}
	if p.depths != nil {
		p.depths = depths
	}
	p.sta = p.pts.Stations()
	return nil
}

// shapeKey is the same for lines drawn through the same points either way.
func shapeKey(l plane.Polyline) [4]float64 {
	a, b := l[0], l[len(l)-1]
	if cmp.Or(cmp.Compare(a.E, b.E), cmp.Compare(a.N, b.N)) > 0 {
		a, b = b, a
	}
	r := func(v float64) float64 { return math.Round(v * 100) }
	return [4]float64{r(a.E), r(a.N), r(b.E), r(b.N)}
}

// sameWay reports whether two lines run through the same points, either way.
func sameWay(a, b plane.Polyline) bool {
	if len(a) != len(b) {
		return false
	}
	forth, back := true, true
	for i := range a {
		forth = forth && a[i].Dist(b[i]) < same
		back = back && a[i].Dist(b[len(b)-1-i]) < same
	}
	return forth || back
}
