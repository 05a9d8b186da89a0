package compare

import (
	"fmt"
	"slices"
	"strings"

	"tracemap/internal/geofile"
)

// A quantity is what a column of a record may tell.
type quantity uint8

const (
	noQuantity    quantity = iota
	depthUnsaid            // depth below ground, it is not said to which point
	depthTop               // cover
	depthCentre            // to the axis
	depthInvert            // to the bottom inside
	levelTop               // heights above some datum: depths only together with the ground's
	levelCentre            //
	levelInvert            //
	levelGround            //
	diameter               // outside, or nominal
	accuracy               // 95 %, lateral
	depthAccuracy          // 95 %
	depthPoint             // a word: what depths are measured to
)

// columnNames are what records call their columns, folded and without unit, in
// the order of trust within a quantity. Common practice, no source; the words
// for invert, cover and levels are those of drainage records.
var columnNames = map[quantity][]string{
	depthUnsaid:   {"depth", "pipe_depth", "burial_depth", "buried_depth", "depth_of_burial", "depth_below_ground", "laying_depth", "tiefe", "profondeur"},
	depthTop:      {"depth_to_top", "cover", "depth_of_cover", "cover_depth", "top_depth", "depth_top", "depth_to_crown", "crown_depth", "pipe_cover"},
	depthCentre:   {"depth_to_centre", "depth_to_center", "centre_depth", "center_depth", "depth_to_axis", "axis_depth", "centreline_depth", "centerline_depth"},
	depthInvert:   {"depth_to_invert", "invert_depth", "depth_invert"},
	levelTop:      {"crown_level", "top_level", "obvert_level", "soffit_level", "crown_elevation", "top_elevation", "top_of_pipe"},
	levelCentre:   {"centre_level", "center_level", "axis_level", "centreline_level", "centerline_elevation"},
	levelInvert:   {"invert_level", "invert", "il", "invert_elevation", "invert_elev", "inv_elev"},
	levelGround:   {"ground_level", "cover_level", "surface_level", "gl", "cl", "rim_elevation", "rim_elev", "ground_elevation", "surface_elevation"},
	diameter:      {"outside_diameter", "outer_diameter", "od", "diameter", "pipe_diameter", "dn", "nominal_diameter", "diam", "inside_diameter", "internal_diameter"},
	accuracy:      {"horizontal_accuracy", "accuracy", "xy_accuracy", "h_accuracy", "positional_accuracy", "position_accuracy", "accuracy_95"},
	depthAccuracy: {"depth_accuracy", "vertical_accuracy", "z_accuracy", "v_accuracy"},
	depthPoint:    {"depth_reference", "depth_ref", "depth_point", "measured_to", "depth_to", "depth_measured_to", "depth_type"},
}

// ends are prefixes and suffixes of columns that hold at one end of a line: the
// drawn start or the drawn end.
var ends = map[string]end{
	"us": atStart, "upstream": atStart, "start": atStart, "from": atStart, "up": atStart,
	"ds": atEnd, "downstream": atEnd, "end": atEnd, "to": atEnd, "down": atEnd,
}

type end uint8

const (
	everywhere end = iota
	atStart
	atEnd
)

// A column is a column of a record whose meaning is known.
type column struct {
	name   string
	what   quantity
	where  end
	metres float64 // its unit; 0 for none known
	rank   int     // place in the order of trust
	cut    bool    // the name may have lost its end
}

// columnOf tells what a column's name means, in a format that cuts names at a
// length (0 for none). A name of that length may have lost its end, and with it
// its unit: diameter_mm becomes diameter_m.
func columnOf(name string, cut int) column {
	maybeCut := cut > 0 && len(name) >= cut
	stem, metres := splitUnit(fold(name))
	if maybeCut {
		metres = 0
	}
	if c := named(stem); c.what != noQuantity {
		c.name, c.metres, c.cut = name, metres, maybeCut
		return c
	}
	if c := cutName(fold(name)); maybeCut && c.what != noQuantity {
		c.name, c.cut = name, true
		return c
	}
	for affix, where := range ends {
		for _, cut := range []func(string) (string, bool){
			func(s string) (string, bool) { return strings.CutPrefix(s, affix+"_") },
			func(s string) (string, bool) { return strings.CutSuffix(s, "_"+affix) },
		} {
			if rest, ok := cut(stem); ok {
				if c := named(rest); c.what != noQuantity && c.what < diameter {
					c.name, c.metres, c.where = name, metres, where
					return c
				}
			}
		}
	}
	return column{}
}

// cutName gives the quantity that alone has names which go on where this one
// ends.
func cutName(folded string) column {
	var found column
	for what, names := range columnNames {
		for i, n := range names {
			if strings.HasPrefix(n, folded) {
				if found.what != noQuantity && found.what != what {
					return column{}
				}
				if found.what == noQuantity {
					found = column{what: what, rank: i}
				}
			}
		}
	}
	return found
}

func named(stem string) column {
	for what, names := range columnNames {
		if i := slices.Index(names, stem); i >= 0 {
			return column{what: what, rank: i}
		}
	}
	return column{}
}

// A schema says which columns of a layer hold what.
type schema struct {
	id, utility string // columns; "" for none
	columns     []column
	feet        bool // the coordinates are in feet
}

// idNames are what columns of names are called, in the order of trust.
var idNames = []string{"id", "asset_id", "assetid", "line_id", "pipe_id", "main_id", "cable_id", "duct_id", "segment_id", "feature_id",
	"uid", "unique_id", "name", "line", "label", "asset", "ref", "reference", "tag", "number", "objectid", "gid", "fid", "ogc_fid", "handle"}

// utilityNames are what columns of utilities are called.
var utilityNames = []string{"utility", "utility_type", "service", "service_type", "network", "network_type", "utility_network_type",
	"commodity", "commodity_type", "medium", "discipline", "system", "type", "class", "category", "layer", "theme", "asset_type"}

// schemaOf finds the columns of a layer. Names that the options give must be
// there in some layer, which the caller checks.
func schemaOf(l *geofile.Layer, opt *Options) schema {
	names, filled := columnsOf(l)
	lines := 0
	for i := range l.Features {
		if len(l.Features[i].Lines) > 0 {
			lines++
		}
	}
	var s schema
	s.id = pickName(names, opt.IDField, idNames, func(n string) bool { return 2*filled[n] >= lines })
	s.utility = pickName(names, opt.UtilityField, utilityNames, func(n string) bool { return 2*utilityValues(l, n) >= filled[n] })
	for _, n := range names {
		if c := columnOf(n, l.CutNames); c.what != noQuantity {
			s.columns = append(s.columns, c)
		}
	}
	crs := l.CRS
	if opt.CRS != nil {
		crs = opt.CRS
	}
	s.feet = crs != nil && crs.IsProjected() && crs.Unit().Metres != 1
	s.ask(names, opt.DepthField, depthUnsaid, l.CutNames)
	s.ask(names, opt.DiameterField, diameter, l.CutNames)
	slices.SortStableFunc(s.columns, func(a, b column) int { return a.rank - b.rank })
	return s
}

// ask makes a column that was asked for the only one of its quantity.
func (s *schema) ask(names []string, field string, what quantity, cut int) {
	name, unit, _ := strings.Cut(field, "=")
	i := slices.IndexFunc(names, func(n string) bool { return name != "" && (n == name || fold(n) == fold(name)) })
	if i < 0 {
		return
	}
	c := columnOf(names[i], cut)
	if same := c.what == what || what == depthUnsaid && c.what > noQuantity && c.what <= depthInvert; !same || c.where != everywhere {
		_, metres := splitUnit(fold(names[i]))
		c = column{name: names[i], what: what, metres: metres}
	}
	if u, ok := units[fold(unit)]; ok {
		c.metres = u
	}
	s.columns = slices.DeleteFunc(s.columns, func(o column) bool {
		return o.what == what || what == depthUnsaid && o.what <= levelGround
	})
	s.columns = append([]column{c}, s.columns...)
}

// fieldUnit checks the unit of NAME=UNIT.
func fieldUnit(flag, field string) error {
	if _, unit, given := strings.Cut(field, "="); given {
		if _, ok := units[fold(unit)]; !ok {
			return fmt.Errorf("%s %s: no unit %q: there are m, cm, mm, ft, in", flag, field, unit)
		}
	}
	return nil
}

// columnsOf lists the names of a layer's columns in order of appearance, and in
// how many features with lines each has a value.
func columnsOf(l *geofile.Layer) (names []string, filled map[string]int) {
	filled = map[string]int{}
	for i := range l.Features {
		if len(l.Features[i].Lines) == 0 {
			continue
		}
		for _, a := range l.Features[i].Attrs {
			if filled[a.Name] == 0 {
				names = append(names, a.Name)
			}
			filled[a.Name]++
		}
	}
	return names, filled
}

// pickName gives the column that was asked for, else the first usual one that is
// fit.
func pickName(names []string, asked string, usual []string, fit func(string) bool) string {
	if asked != "" {
		for _, n := range names {
			if n == asked {
				return n
			}
		}
		for _, n := range names {
			if fold(n) == fold(asked) {
				return n
			}
		}
		return ""
	}
	for _, u := range usual {
		for _, n := range names {
			if fold(n) == u && fit(n) {
				return n
			}
		}
	}
	return ""
}

// utilityValues counts the features whose value of a column names a utility.
func utilityValues(l *geofile.Layer, name string) int {
	n := 0
	for i := range l.Features {
		if v, _ := l.Features[i].Attr(name); len(l.Features[i].Lines) > 0 && v != "" && utilityIn(v) != "" {
			n++
		}
	}
	return n
}
