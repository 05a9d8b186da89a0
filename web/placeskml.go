package web

import (
	"encoding/xml"
	"fmt"
	"os"

	"tracemap/present"
	"tracemap/result"
)

// placesFile holds the places to revisit for phones that read KML but no GPX.
const placesFile = "revisit.kml"

type placesKML struct {
	XMLName xml.Name    `xml:"http://www.opengis.net/kml/2.2 kml"`
	Name    string      `xml:"Document>name"`
	Text    string      `xml:"Document>description"`
	Places  []placemark `xml:"Document>Placemark"`
}

type placemark struct {
	Name string `xml:"name"`
	Text string `xml:"description"`
	At   string `xml:"Point>coordinates"`
}

// writePlaces writes the places to revisit as KML 2.2 (OGC 07-147r2), the most
// worthwhile first.
func writePlaces(path string, m *result.Map) error {
	k := placesKML{Name: "Places to revisit", Text: present.Caution}
	for i, p := range result.SortedRevisit(m) {
		k.Places = append(k.Places, placemark{fmt.Sprintf("%02d %s", i+1, p.Reason), p.Advice, fmt.Sprintf("%.9f,%.9f", p.Geo.Lon, p.Geo.Lat)})
	}
	b, err := xml.MarshalIndent(k, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(path, append([]byte(xml.Header), append(b, '\n')...), 0o600)
}
