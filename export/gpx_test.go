package export_test

import (
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"tracemap/export"
	"tracemap/internal/lab/invented"
	"tracemap/present"
	"tracemap/result"
)

// gpxSchema restates, from memory, the part of gpx.xsd 1.1 (topografix.com) that
// holds what revisit.gpx writes: order of elements, types, ranges of degrees.
const gpxSchema = `<?xml version="1.0"?>
<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns="http://www.topografix.com/GPX/1/1" targetNamespace="http://www.topografix.com/GPX/1/1" elementFormDefault="qualified">
 <xs:simpleType name="lat"><xs:restriction base="xs:decimal"><xs:minInclusive value="-90.0"/><xs:maxInclusive value="90.0"/></xs:restriction></xs:simpleType>
 <xs:simpleType name="lon"><xs:restriction base="xs:decimal"><xs:minInclusive value="-180.0"/><xs:maxInclusive value="180.0"/></xs:restriction></xs:simpleType>
 <xs:complexType name="wpt"><xs:sequence>
  <xs:element name="ele" type="xs:decimal" minOccurs="0"/><xs:element name="time" type="xs:dateTime" minOccurs="0"/>
  <xs:element name="magvar" type="xs:decimal" minOccurs="0"/><xs:element name="geoidheight" type="xs:decimal" minOccurs="0"/>
  <xs:element name="name" type="xs:string" minOccurs="0"/><xs:element name="cmt" type="xs:string" minOccurs="0"/>
  <xs:element name="desc" type="xs:string" minOccurs="0"/><xs:element name="src" type="xs:string" minOccurs="0"/>
  <xs:element name="sym" type="xs:string" minOccurs="0"/><xs:element name="type" type="xs:string" minOccurs="0"/>
 </xs:sequence><xs:attribute name="lat" type="lat" use="required"/><xs:attribute name="lon" type="lon" use="required"/></xs:complexType>
 <xs:complexType name="bounds"><xs:attribute name="minlat" type="lat" use="required"/><xs:attribute name="minlon" type="lon" use="required"/>
  <xs:attribute name="maxlat" type="lat" use="required"/><xs:attribute name="maxlon" type="lon" use="required"/></xs:complexType>
 <xs:complexType name="metadata"><xs:sequence>
  <xs:element name="name" type="xs:string" minOccurs="0"/><xs:element name="desc" type="xs:string" minOccurs="0"/>
  <xs:element name="author" minOccurs="0"><xs:complexType><xs:sequence><xs:element name="name" type="xs:string" minOccurs="0"/></xs:sequence></xs:complexType></xs:element>
  <xs:element name="time" type="xs:dateTime" minOccurs="0"/><xs:element name="keywords" type="xs:string" minOccurs="0"/>
  <xs:element name="bounds" type="bounds" minOccurs="0"/>
 </xs:sequence></xs:complexType>
 <xs:element name="gpx"><xs:complexType><xs:sequence>
  <xs:element name="metadata" type="metadata" minOccurs="0"/><xs:element name="wpt" type="wpt" minOccurs="0" maxOccurs="unbounded"/>
 </xs:sequence><xs:attribute name="version" fixed="1.1" use="required"/><xs:attribute name="creator" type="xs:string" use="required"/></xs:complexType></xs:element>
</xs:schema>`

func TestGPXIsValid(t *testing.T) {
	lint := tool(t, "xmllint")
	schema := filepath.Join(t.TempDir(), "gpx.xsd")
	if err := os.WriteFile(schema, []byte(gpxSchema), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			dir := write(t, c.Map, format(t, "gpx"), export.Options{})
			if out, err := exec.Command(lint, "--nonet", "--noout", "--schema", schema, filepath.Join(dir, "revisit.gpx")).CombinedOutput(); err != nil {
				t.Errorf("%v\n%s", err, out)
			}
		})
	}
}

// The most worthwhile place comes first; one without a position is no waypoint
// but is counted.
func TestGPXOrder(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	m.Revisit = append(m.Revisit, m.Revisit[0])
	m.Revisit[3].Worth, m.Revisit[3].Reason = 9, "no fix"
	lost := invented.Bad().Clock.Offset // NaN
	m.Revisit = append(m.Revisit, result.Revisit{Reason: "no fix", Station: lost, Worth: 20})
	m.Revisit[4].Geo.Lat = lost
	var g struct {
		Metadata struct {
			Desc string `xml:"desc"`
		} `xml:"metadata"`
		Wpt []struct {
			Name string `xml:"name"`
			Cmt  string `xml:"cmt"`
		} `xml:"wpt"`
	}
	if err := xml.Unmarshal(read(t, write(t, m, format(t, "gpx"), export.Options{}), "revisit.gpx"), &g); err != nil {
		t.Fatal(err)
	}
	if len(g.Wpt) != 4 || g.Wpt[0].Name != "01 no fix" || g.Wpt[1].Cmt != "W-1 at 31.0 m: neighbour lock" {
		t.Errorf("waypoints %+v", g.Wpt)
	}
	if want := "4 places. Without a position: 1; see the report. " + present.Caution; g.Metadata.Desc != want {
		t.Errorf("description %q, want %q", g.Metadata.Desc, want)
	}
}
