package survey_test

import (
	"os"
	"path/filepath"
	"testing"

	"tracemap/internal/survey"
)

// An owner's record is no readings log, whatever it is kept in: its lines have
// names and attributes, and no time.
func TestRecordsAreNoReadings(t *testing.T) {
	record, err := os.ReadFile(filepath.Join("..", "..", "testdata", "demo", "as-built.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{
		"as-built.geojson": string(record),
		"as-built.kml": `<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>` +
			`<Placemark><name>W1</name><ExtendedData><Data name="utility"><value>water</value></Data><Data name="depth_m"><value>1.2</value></Data></ExtendedData><LineString><coordinates>7,50 7.001,50</coordinates></LineString></Placemark>` +
			`<Placemark><name>W2</name><ExtendedData><Data name="utility"><value>water</value></Data><Data name="depth_m"><value>1.3</value></Data></ExtendedData><LineString><coordinates>7,51 7.001,51</coordinates></LineString></Placemark></Document></kml>`,
	} {
		for _, k := range open(t, source(name, text)).Kinds() {
			if k.Kind != survey.Unknown {
				t.Errorf("%s is taken for %s (%s)", name, k.Kind, k.What)
			}
		}
	}
}
