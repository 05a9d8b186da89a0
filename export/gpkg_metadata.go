package export

import (
	"encoding/json"
	"encoding/xml"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"tracemap/present"
	"tracemap/result"
)

// metadata writes where the file comes from: for the whole of it as JSON, which
// programs read back, and for each layer in the form that desktop systems show
// beside it, so that the caution stands where people look.
func (g *gpkg) metadata() error {
	origin, err := g.origin()
	if err != nil {
		return err
	}
	if err := g.describe(1, "dataset", "https://www.rfc-editor.org/rfc/rfc8259", "application/json", string(origin), nil); err != nil {
		return err
	}
	for i, l := range layers(g.m, g.to) {
		name, content := l.title()
		text, err := g.layerMetadata(name, content)
		if err != nil {
			return err
		}
		if err := g.describe(i+2, "featureType", "http://mrcc.com/qgis.dtd", "text/xml", text, name); err != nil {
			return err
		}
	}
	for _, table := range []string{"gpkg_metadata", "gpkg_metadata_reference"} {
		if err := g.extension(table, nil, "gpkg_metadata", "extension_metadata", "read-write"); err != nil {
			return err
		}
	}
	return nil
}

func (l *layer[R]) title() (name, about string) { return l.name, l.about }

// describe writes one piece of metadata, about a table or, with nil, the file.
func (g *gpkg) describe(id int, scope, standard, kind, text string, table any) error {
	if err := g.exec("INSERT INTO gpkg_metadata VALUES (?,?,?,?,?)", id, scope, standard, kind, text); err != nil {
		return err
	}
	reference, parent := "geopackage", any(nil)
	if table != nil {
		reference, parent = "table", 1
	}
	return g.exec("INSERT INTO gpkg_metadata_reference VALUES (?,?,NULL,NULL,?,?,?)", reference, table, g.stamp, id, parent)
}

// origin is what summary.json says of where a map comes from, without what
// differs from run to run.
func (g *gpkg) origin() ([]byte, error) {
	doc := struct {
		About    json.RawMessage       `json:"about"`
		Inputs   []result.Input        `json:"inputs"`
		Clock    *result.ClockSummary  `json:"clock"`
		Frame    *result.FrameSummary  `json:"frame"`
		CRS      *result.CRSSummary    `json:"crs"`
		Heights  string                `json:"heights"`
		Readings *result.ReadingCounts `json:"readings"`
		Warnings []string              `json:"warnings"`
	}{About: appendAboutObject(nil, g.m, g.to), Heights: g.heights(), Inputs: []result.Input{}, Warnings: []string{}}
	if s := g.m.Summary; s != nil {
		filled := *s
		filled.Fill()
		filled.Inputs = slices.Clone(filled.Inputs)
		for i := range filled.Inputs {
			filled.Inputs[i].File = filepath.Base(filled.Inputs[i].File) // whose folder is nobody's business
		}
		doc.Inputs, doc.Clock, doc.Frame, doc.CRS, doc.Readings, doc.Warnings = filled.Inputs, &filled.Clock, filled.Frame, filled.CRS, &filled.Readings, filled.Warnings
	}
	return json.MarshalIndent(doc, "", " ")
}

// heights says which heights the third ordinates are.
func (g *gpkg) heights() string {
	return fmt.Sprintf("third ordinates are above the ellipsoid of %s, unit %s; *height_m are metres above the same; *_orthometric_m are above the geoid that the receiver uses, by its own separation",
		g.to.frameName(g.m), g.to.heightUnit())
}

// layerMetadata is a layer's metadata as QGIS keeps it (its qgis.dtd, from 3.0 on).
func (g *gpkg) layerMetadata(name, content string) (string, error) {
	type crs struct {
		ID   string `xml:"authid"`
		Name string `xml:"description"`
	}
	doc := struct {
		XMLName    xml.Name `xml:"qgis"`
		Version    string   `xml:"version,attr"`
		Identifier string   `xml:"identifier"`
		Language   string   `xml:"language"`
		Type       string   `xml:"type"`
		Title      string   `xml:"title"`
		Abstract   string   `xml:"abstract"`
		Limits     struct {
			Type string `xml:"type,attr"`
			Text string `xml:",chardata"`
		} `xml:"constraints"`
		Encoding string   `xml:"encoding"`
		CRS      crs      `xml:"crs>spatialrefsys"`
		History  []string `xml:"history"`
	}{Version: "3.16.0", Identifier: name, Language: "ENG", Type: "dataset", Title: g.m.Meta.Title + ": " + name, Encoding: "UTF-8",
		Abstract: strings.ToUpper(content[:1]) + content[1:] + ".\n\n" + present.Caution}
	doc.Limits.Type, doc.Limits.Text = "caution", present.Caution
	doc.CRS = crs{fmt.Sprintf("EPSG:%d", g.to.code()), "WGS 84"}
	if g.to != nil {
		doc.CRS.Name = g.to.crs.Name()
	}
	for _, e := range about(g.m, g.to) {
		doc.History = append(doc.History, e.label+": "+e.value)
	}
	if g.m.Summary != nil {
		for _, in := range g.m.Summary.Inputs {
			doc.History = append(doc.History, fmt.Sprintf("Input: %s, %d rows, SHA-256 %s", filepath.Base(in.File), in.Rows, in.SHA256))
		}
	}
	b, err := xml.Marshal(doc)
	return "<!DOCTYPE qgis PUBLIC 'http://mrcc.com/qgis.dtd' 'SYSTEM'>\n" + string(b), err
}
