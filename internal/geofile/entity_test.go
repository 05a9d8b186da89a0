package geofile_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// An entity that names a file is not followed, in the text nor in the document's
// head.
func TestExternalEntity(t *testing.T) {
	secret := filepath.Join(t.TempDir(), "secret")
	if err := os.WriteFile(secret, []byte("not for a map"), 0o600); err != nil {
		t.Fatal(err)
	}
	text := `<?xml version="1.0"?><!DOCTYPE kml [<!ENTITY x SYSTEM "file://` + secret + `"><!ENTITY % y SYSTEM "file://` + secret + `"> %y;]>
<kml><Placemark><name>W1 &x;</name><LineString><coordinates>1,2 3,4</coordinates></LineString></Placemark></kml>`
	f, err := open(t, "a.kml", []byte(text))
	if err != nil {
		if strings.Contains(err.Error(), "not for a map") {
			t.Errorf("the file's text is in the message: %v", err)
		}
		return
	}
	if name, _ := f.Layers[0].Features[0].Attr("name"); !strings.HasPrefix(name, "W1") || strings.Contains(name, "not for a map") {
		t.Errorf("name %q", name)
	}
}
