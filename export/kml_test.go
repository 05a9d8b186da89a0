package export_test

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tracemap/export"
	"tracemap/internal/lab/invented"
)

// tool finds an outside program; without it the check fails in CI and is left
// out elsewhere.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		missing(t, "%s is not installed", name)
	}
	return path
}

func missing(t *testing.T, text string, args ...any) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatalf(text, args...)
	}
	t.Skipf(text, args...)
}

// kmlSchema makes the OGC's KML 2.2 schema, as go-kml's module ships it, usable
// without a network: its imports of Atom and xAL point to nowhere and only serve
// optional elements that map.kml does not use.
func kmlSchema(t *testing.T) string {
	t.Helper()
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/twpayne/go-kml/v3").Output()
	if err != nil {
		t.Fatalf("find go-kml: %v", err)
	}
	b, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(out)), "xsd", "ogckml22.xsd"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	for i, stub := range []string{
		`<schema xmlns="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/2005/Atom"><element name="author"/><element name="link"/></schema>`,
		`<schema xmlns="http://www.w3.org/2001/XMLSchema" targetNamespace="urn:oasis:names:tc:ciq:xsdschema:xAL:2.0"><element name="AddressDetails"/></schema>`,
	} {
		file := filepath.Join(dir, []string{"atom.xsd", "xal.xsd"}[i])
		if err := os.WriteFile(file, []byte(stub), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	b = regexp.MustCompile(`schemaLocation="[^"]*atom[^"]*"`).ReplaceAll(b, []byte(`schemaLocation="atom.xsd"`))
	b = regexp.MustCompile(`schemaLocation="[^"]*[xX]AL[^"]*"`).ReplaceAll(b, []byte(`schemaLocation="xal.xsd"`))
	file := filepath.Join(dir, "kml.xsd")
	if err := os.WriteFile(file, b, 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// Every map's KML is valid by the OGC schema, checked by xmllint.
func TestKMLIsValid(t *testing.T) {
	lint := tool(t, "xmllint")
	schema := kmlSchema(t)
	for _, c := range invented.Cases() {
		t.Run(c.Name, func(t *testing.T) {
			dir := write(t, c.Map, format(t, "kml"), export.Options{})
			if out, err := exec.Command(lint, "--nonet", "--noout", "--schema", schema, filepath.Join(dir, "map.kml")).CombinedOutput(); err != nil {
				t.Errorf("%v\n%s", err, out)
			}
		})
	}
}

type placemark struct {
	Folder      string
	Name        string `xml:"name"`
	Description string `xml:"description"`
	StyleURL    string `xml:"styleUrl"`
	Inner       string `xml:",innerxml"`
}

func placemarks(t *testing.T, doc []byte) []placemark {
	t.Helper()
	var out []placemark
	var folders []string
	d := xml.NewDecoder(bytes.NewReader(doc))
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "Placemark":
				p := placemark{Folder: strings.Join(folders, "/")}
				if err := d.DecodeElement(&p, &e); err != nil {
					t.Fatal(err)
				}
				out = append(out, p)
			case "Folder":
				folders = append(folders, "?")
			case "name":
				var name string
				if err := d.DecodeElement(&name, &e); err != nil {
					t.Fatal(err)
				}
				if n := len(folders); n > 0 && folders[n-1] == "?" {
					folders[n-1] = name
				}
			}
		case xml.EndElement:
			if e.Name.Local == "Folder" {
				folders = folders[:len(folders)-1]
			}
		}
	}
}

// The three layers lie in folders by utility; each part, corridor and placed
// reading is there once, under its utility, and names with markup come back whole.
func TestKMLFolders(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	marks := placemarks(t, read(t, write(t, m, format(t, "kml"), export.Options{}), "map.kml"))
	count := map[string]int{}
	names := map[string]bool{}
	for _, p := range marks {
		count[p.Folder]++
		names[p.Name] = true
		if !strings.Contains(p.Description, "not a clearance to dig") {
			t.Errorf("%s has no caution", p.Name)
		}
		if strings.HasSuffix(p.Folder, "/Doubtful stretches") && !strings.HasPrefix(p.Description, "Why: distorted\nFrom: ") {
			t.Errorf("%s: %s", p.Name, p.Description)
		}
		if strings.Contains(p.Description, "<main>") {
			t.Errorf("markup of a name reaches the page: %s", p.Description)
		}
	}
	for folder, want := range map[string]int{"Water (W)/Lines": 1, "Gas (G)/Lines": 2, "Gas (G)/Corridors, 95 %": 2, "Electric (E)/Lines": 1, "Electric (E)/Doubtful stretches": 1, "Water (W)/Doubtful stretches": 0, "Communications (C)/Corridors, 95 %": 1} {
		if count[folder] != want {
			t.Errorf("%s holds %d, want %d; all: %v", folder, count[folder], want, count)
		}
	}
	dots := 0
	for folder, n := range count {
		if strings.HasSuffix(folder, "/Readings") {
			dots += n
		}
	}
	if dots != m.Summary.Readings.Placed {
		t.Errorf("%d readings, %d were placed", dots, m.Summary.Readings.Placed)
	}
	for _, name := range []string{"W W-1", "G Gas <main> & Söhne, part 2", "E =1+2 Straße Ø東", "pothole"} {
		if !names[name] {
			t.Errorf("no placemark %q in %v", name, names)
		}
	}
}

// Coordinates carry no altitude: KML's is above the geoid, ours above the ellipsoid.
func TestKMLCoordinates(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	for _, p := range placemarks(t, read(t, write(t, m, format(t, "kml"), export.Options{}), "map.kml")) {
		if p.Folder != "Water (W)/Lines" {
			continue
		}
		_, rest, _ := strings.Cut(p.Inner, "<coordinates>")
		text, _, _ := strings.Cut(rest, "</coordinates>")
		at := strings.Fields(text)
		if len(at) != len(m.Lines[0].Parts[0].Vertices) {
			t.Fatalf("%d positions", len(at))
		}
		lonlat := strings.Split(at[1], ",")
		want := m.Lines[0].Parts[0].Vertices[1].Ground
		lon, err1 := strconv.ParseFloat(lonlat[0], 64)
		lat, err2 := strconv.ParseFloat(lonlat[1], 64)
		if len(lonlat) != 2 || err1 != nil || err2 != nil || math.Abs(lon-want.Lon) > 1e-9 || math.Abs(lat-want.Lat) > 1e-9 {
			t.Errorf("position %v, want %v", lonlat, want)
		}
		if !strings.Contains(p.Inner, "clampToGround") || p.StyleURL != "#line-water" {
			t.Errorf("style %s, not clamped: %s", p.StyleURL, p.Inner)
		}
		return
	}
	t.Fatal("no water line")
}

// A KMZ holds the document first, and every file that it names.
func TestKMZ(t *testing.T) {
	m := invented.Day(invented.Atlantic)
	b := read(t, write(t, m, format(t, "kmz"), export.Options{}), "map.kmz")
	z, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	if z.File[0].Name != "doc.kml" {
		t.Fatalf("first is %s", z.File[0].Name)
	}
	f, err := z.Open("doc.kml")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	plain := placemarks(t, read(t, write(t, m, format(t, "kml"), export.Options{}), "map.kml"))
	if got := placemarks(t, doc); len(got) != len(plain) {
		t.Errorf("%d placemarks, map.kml has %d", len(got), len(plain))
	}
	if !bytes.Contains(doc, []byte("<href>files/dot.png</href>")) {
		t.Error("the icon is not named")
	}
	if _, err := z.Open("files/dot.png"); err != nil {
		t.Error(err)
	}
}
