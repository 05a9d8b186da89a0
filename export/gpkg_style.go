package export

import (
	"fmt"
	"html"
	"image/color"
	"strings"

	"tracemap/present"
)

// A layerStyle is how a layer is drawn in a desktop GIS.
type layerStyle struct {
	layer  string
	symbol string // line, fill, marker
	layers func(present.Look) []qmlLayer
	label  string // expression of a label; "" for none
	closer int    // drawn from this scale on, 1 to so much; 0 at every scale
}

// A qmlLayer is one stroke, fill or mark of a symbol.
type qmlLayer struct {
	class string
	props [][2]string
}

// layerStyles draws utilities in the uniform colours on a dark casing, the
// corridor as a band, doubtful stretches broken, with letters beside the colours.
var layerStyles = []layerStyle{
	{"corridors", "fill", func(l present.Look) []qmlLayer {
		return []qmlLayer{{"SimpleFill", [][2]string{{"color", rgba(l.Colour, 70)}, {"style", "solid"}, {"outline_color", rgba(l.Colour, 255)},
			{"outline_style", "solid"}, {"outline_width", "0.2"}, {"outline_width_unit", "MM"}}}}
	}, "", 0},
	{"lines", "line", func(l present.Look) []qmlLayer {
		core := stroke(rgba(l.Colour, 255), "0.6")
		if l.Dash != nil {
			core.props = append(core.props, [2]string{"use_custom_dash", "1"}, [2]string{"customdash", dashes(l.Dash, 0.6)}, [2]string{"customdash_unit", "MM"})
		}
		return []qmlLayer{stroke("20,28,36,255", "1"), core}
	}, lineLabel(), 0},
	// Programs disagree whether the layer named first lies on top or below: the
	// dashes are wider than the line, and are seen either way.
	{"doubtful", "line", func(present.Look) []qmlLayer {
		ties, gaps := stroke("20,28,36,255", "1.7"), stroke("255,255,255,255", "1.1")
		for _, l := range []*qmlLayer{&ties, &gaps} {
			l.props = append(l.props, [2]string{"use_custom_dash", "1"}, [2]string{"customdash", "1.6;2.4"}, [2]string{"customdash_unit", "MM"})
		}
		return []qmlLayer{ties, gaps}
	}, "", 0},
	{"readings", "marker", func(l present.Look) []qmlLayer { return []qmlLayer{mark("circle", l.Colour, "1.4")} }, `"feature"`, 2000},
	{"vertices", "marker", func(l present.Look) []qmlLayer { return []qmlLayer{mark("square", l.Colour, "1.1")} }, "", 250},
}

func stroke(colour, width string) qmlLayer {
	return qmlLayer{"SimpleLine", [][2]string{{"line_color", colour}, {"line_style", "solid"}, {"line_width", width}, {"line_width_unit", "MM"}, {"capstyle", "flat"}, {"joinstyle", "round"}}}
}

func mark(name string, c color.RGBA, size string) qmlLayer {
	return qmlLayer{"SimpleMarker", [][2]string{{"name", name}, {"color", rgba(c, 255)}, {"outline_color", "20,28,36,255"}, {"outline_style", "solid"},
		{"outline_width", "0.2"}, {"outline_width_unit", "MM"}, {"size", size}, {"size_unit", "MM"}}}
}

func rgba(c color.RGBA, alpha int) string {
	return fmt.Sprintf("%d,%d,%d,%d", c.R, c.G, c.B, alpha)
}

// dashes gives a dash in millimetres from one in widths.
func dashes(pattern []float64, width float64) string {
	var out []string
	for _, d := range pattern {
		out = append(out, string(present.AppendNumber(nil, present.Round(d*width, 2))))
	}
	return strings.Join(out, ";")
}

// lineLabel is an expression that gives a line's letters, its name, and on a plan
// that is near enough its depths with their bound, where they are known.
func lineLabel() string {
	const depths = `format_number("depth_min_m",2) || if(round("depth_min_m",2)=round("depth_max_m",2), '', '–' || format_number("depth_max_m",2)) || ' m ±' || format_number("depth_95_max_m",2)`
	return letters() + ` || ' ' || coalesce("line_id",'') || if(@map_scale<400, coalesce('  ' || ` + depths + `, ''), '')`
}

// letters is an expression that gives a utility's letters.
func letters() string {
	var b strings.Builder
	b.WriteString(`CASE`)
	for _, l := range present.Looks {
		fmt.Fprintf(&b, ` WHEN "utility"='%s' THEN '%s'`, l.Utility, l.Letters)
	}
	return b.String() + ` ELSE 'U' END`
}

// qml writes the style as a QGIS style document: one category a utility.
func (s layerStyle) qml() string {
	var b strings.Builder
	b.WriteString("<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n<qgis version=\"3.16.0\" styleCategories=\"Symbology|Labeling|Rendering\"")
	if s.closer > 0 {
		fmt.Fprintf(&b, " hasScaleBasedVisibilityFlag=\"1\" minScale=\"%d\" maxScale=\"0\"", s.closer)
	}
	labels := "0"
	if s.label != "" {
		labels = "1"
	}
	fmt.Fprintf(&b, " labelsEnabled=\"%s\">\n<renderer-v2 type=\"categorizedSymbol\" attr=\"utility\" symbollevels=\"0\" enableorderby=\"0\" forceraster=\"0\">\n<categories>\n", labels)
	for i, l := range present.Looks {
		value := string(l.Utility)
		if l.Utility == "unknown" {
			value = "" // the category of all other values
		}
		fmt.Fprintf(&b, "<category render=\"true\" symbol=\"%d\" value=\"%s\" label=\"%s (%s)\"/>\n", i, value, l.Name, l.Letters)
	}
	b.WriteString("</categories>\n<symbols>\n")
	for i, l := range present.Looks {
		fmt.Fprintf(&b, "<symbol type=\"%s\" name=\"%d\" alpha=\"1\" clip_to_extent=\"1\" force_rhr=\"0\">\n", s.symbol, i)
		for _, layer := range s.layers(l) {
			fmt.Fprintf(&b, "<layer class=\"%s\" enabled=\"1\" locked=\"0\" pass=\"0\">", layer.class)
			for _, p := range layer.props {
				fmt.Fprintf(&b, "<prop k=\"%s\" v=\"%s\"/>", p[0], p[1])
			}
			b.WriteString("</layer>\n")
		}
		b.WriteString("</symbol>\n")
	}
	b.WriteString("</symbols>\n</renderer-v2>\n")
	b.WriteString(s.labelling())
	kinds := map[string]int{"marker": 0, "line": 1, "fill": 2}
	fmt.Fprintf(&b, "<layerGeometryType>%d</layerGeometryType>\n</qgis>\n", kinds[s.symbol])
	return b.String()
}

// labelling writes how labels look and where they stand: along a line, above it;
// to the right of a point if there is room. QGIS takes an attribute that is left
// out for zero, so whatever must not be zero is written.
func (s layerStyle) labelling() string {
	if s.label == "" {
		return ""
	}
	// A label may be longer than its line by so much, else short branches have none.
	place := `placement="2" placementFlags="10" dist="0.5" overrunDistance="20" overrunDistanceUnit="MM"`
	if s.symbol == "marker" {
		place = `placement="6" predefinedPositionOrder="R,L,TR,BR,TL,BL" offsetType="1" dist="0.6"`
	}
	return fmt.Sprintf(`<labeling type="simple"><settings calloutType="simple">
<text-style fieldName="%s" isExpression="1" fontSize="8" fontSizeUnit="Point" fontWeight="50" textColor="20,28,36,255" textOpacity="1" textOrientation="horizontal" multilineHeight="0.9">
<text-buffer bufferDraw="1" bufferSize="0.8" bufferSizeUnits="MM" bufferColor="255,255,255,255" bufferOpacity="1" bufferNoFill="0"/></text-style>
<text-format multilineAlign="3" decimals="3"/>
<placement %s distUnits="MM" offsetUnits="MM" priority="5" lineAnchorPercent="0.5" maxCurvedCharAngleIn="25" maxCurvedCharAngleOut="-25" quadOffset="4"/>
<rendering drawLabels="1" obstacle="1" obstacleFactor="1" maxNumLabels="2000" fontMaxPixelSize="10000"/>
</settings></labeling>
`, html.EscapeString(s.label), place)
}
