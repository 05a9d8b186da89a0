package export

import (
	"slices"

	"github.com/twpayne/go-kml/v3"

	"tracemap/fuse"
	"tracemap/present"
	"tracemap/result"
)

// doubts writes a folder of the stretches that rest on less than the rest of their
// line, as thin white lines over it: KML knows no dashes.
func (k *kmlWriter) doubts(parts []*partRow, look present.Look) {
	if !slices.ContainsFunc(parts, func(r *partRow) bool { return len(doubtfulRuns(r)) > 0 }) {
		return
	}
	k.folder("Doubtful stretches", true, func() {
		for _, r := range parts {
			for _, run := range doubtfulRuns(r) {
				k.doubt(r, run, look)
			}
		}
	})
}

func (k *kmlWriter) doubt(r *partRow, run []fuse.Vertex, look present.Look) {
	part := fuse.Part{Vertices: run}
	paths, err := linePaths(k.m, &part, nil)
	if err != nil && k.err == nil {
		k.err = err
	}
	why, wide := result.PartWide(r.line, r.part), 0.0
	for i := range run {
		why, wide = why|run[i].Flags, max(wide, present.HalfWidth(run[i].Sigma))
	}
	u := k.m.Units()
	rows := []result.Fact{{Label: "Why", Text: present.RemarkWords(k.m.Doubts(why))}, {Label: "From", Text: u.Length(run[0].Station) + " to " + u.Length(run[len(run)-1].Station) + " along " + r.lineName()}, {Label: "Line lies 95 % within", Text: "± " + u.Depth(wide)}}
	var pieces []kml.Element
	for _, p := range paths {
		pieces = append(pieces, kml.LineString(kml.Tessellate(true), kml.AltitudeMode(kml.AltitudeModeClampToGround), coordinates(p)))
	}
	mark := kml.Placemark(kml.Name("Doubtful: "+r.lineName()), kml.Snippet(""), kml.Description(described(rows)), kml.StyleURL("#doubtful-"+string(look.Utility)))
	if len(pieces) == 1 {
		mark.Append(pieces[0])
	} else {
		mark.Append(kml.MultiGeometry(pieces...))
	}
	k.put(mark)
}
