package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
)

var sample = []file{{"tracemap", 0o755, []byte("program")}, {"completion/x", 0o644, bytes.Repeat([]byte("script\n"), 1000)}}

// Both kinds of archives hold what went in, with its mode and the source's time,
// and the same twice.
func TestArchives(t *testing.T) {
	made := time.Date(2026, 5, 12, 8, 0, 2, 0, time.UTC)
	for _, target := range []target{{"linux", "amd64"}, {"windows", "amd64"}} {
		a, err := target.pack("t-1", sample, made)
		if err != nil {
			t.Fatal(err)
		}
		if b, _ := target.pack("t-1", sample, made); !bytes.Equal(a, b) {
			t.Errorf("%s: two archives of the same files differ", target.os)
		}
		read := readTar
		if target.os == "windows" {
			read = readZip
		}
		for i, got := range read(t, a, made) {
			if want := sample[i]; got.name != "t-1/"+want.name || got.mode != want.mode || !bytes.Equal(got.data, want.data) {
				t.Errorf("%s: %s %v, want %s %v", target.os, got.name, got.mode, want.name, want.mode)
			}
		}
	}
}

func readTar(t *testing.T, b []byte, made time.Time) (out []file) {
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	for r := tar.NewReader(z); ; {
		head, err := r.Next()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if !head.ModTime.Equal(made) || head.Uid+head.Gid != 0 || head.Uname != "" {
			t.Errorf("%s: %v, %d, %q", head.Name, head.ModTime, head.Uid, head.Uname)
		}
		out = append(out, file{head.Name, head.FileInfo().Mode(), data})
	}
}

func readZip(t *testing.T, b []byte, made time.Time) (out []file) {
	r, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range r.File {
		f, err := e.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(f)
		if err != nil {
			t.Fatal(err)
		}
		if !e.Modified.Equal(made) {
			t.Errorf("%s: %v", e.Name, e.Modified)
		}
		out = append(out, file{e.Name, e.Mode(), data})
	}
	return out
}

// The texts of all licences go with the program, each of a known kind, for each
// module that any system links in and each package of the front end.
func TestThirdParty(t *testing.T) {
	t.Chdir("../../..")
	text, err := thirdParty(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`(?m)^Go's standard library +go1\S+ +BSD-3-Clause$`, `(?m)^github.com/spf13/pflag +v\S+ +BSD-3-Clause$`,
		`(?m)^github.com/adrianmo/go-nmea +v\S+ +MIT$`, `(?m)^go.bug.st/serial +v\S+ +BSD-3-Clause$`, `(?m)^leaflet +1\S+ +BSD-2-Clause$`, `(?m)^uplot +1\S+ +MIT$`,
		`Volodymyr Agafonkin`, `The Go Authors`} {
		if !regexp.MustCompile(want).Match(text) {
			t.Errorf("%s is missing", want)
		}
	}
	// Tests' own modules are not handed out.
	if bytes.Contains(text, []byte("pgregory.net/rapid")) {
		t.Error("a module of tests is listed")
	}
}

// A text that no one knows is an error for a person to look at, not a blank.
func TestLicenceUnknown(t *testing.T) {
	if got := licence("All rights reserved. You may look at this."); got != "" {
		t.Errorf("took it for %s", got)
	}
}

// The table of the front end is the one beside the files, and names each of them.
func TestFrontEndIsWhole(t *testing.T) {
	readme, err := os.ReadFile("../../../web/assets/vendor/README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range frontEnd {
		for _, want := range []string{f.name + "-" + f.version + ".tgz", f.integrity, f.licence} {
			if !strings.Contains(string(readme), want) {
				t.Errorf("web/assets/vendor/README.md does not name %s of %s", want, f.name)
			}
		}
		text, err := os.ReadFile("../../../" + f.licenceFile)
		if err != nil || licence(string(text)) != f.licence {
			t.Errorf("%s is %q, %v; want %s", f.licenceFile, licence(string(text)), err, f.licence)
		}
	}
	files, _ := filepath.Glob("../../../web/assets/vendor/*.*s")
	if len(files) == 0 {
		t.Error("no files of others")
	}
	for _, path := range files {
		if !slices.ContainsFunc(frontEnd, func(f frontEndPackage) bool { return strings.HasPrefix(filepath.Base(path), f.name+".") }) {
			t.Errorf("%s belongs to no package of the bill of materials", path)
		}
	}
}

// The bill names the modules that are linked in, with licences and sums, and the
// front end; twice the same.
func TestBillOfMaterials(t *testing.T) {
	t.Chdir("../../..")
	b, err := billOfMaterials(t.Context(), target{"windows", "arm64"})
	if err != nil {
		t.Fatal(err)
	}
	again, err := billOfMaterials(t.Context(), target{"windows", "arm64"})
	if err != nil || !bytes.Equal(b, again) {
		t.Errorf("two bills differ (%v)", err)
	}
	var bill struct {
		BOMFormat, SpecVersion string
		Components             []struct {
			Name, Version, Purl string
			Hashes              []struct{ Content string }
			Licenses            []any
		}
	}
	if err := json.Unmarshal(b, &bill); err != nil {
		t.Fatal(err)
	}
	if bill.BOMFormat != "CycloneDX" || bill.SpecVersion == "" {
		t.Errorf("format %q %q", bill.BOMFormat, bill.SpecVersion)
	}
	there := map[string]bool{}
	for _, c := range bill.Components {
		there[c.Name+" "+c.Version] = true
		if c.Version == "" || c.Purl == "" || len(c.Licenses) == 0 || len(c.Hashes) == 0 && c.Name != "std" {
			t.Errorf("incomplete: %+v", c)
		}
	}
	modules, err := linked(t.Context(), target{"windows", "arm64"})
	if err != nil || len(modules) == 0 {
		t.Fatal(len(modules), err)
	}
	for _, m := range modules {
		if !there[m.Path+" "+m.Version] {
			t.Errorf("%s %s is linked in and not in the bill", m.Path, m.Version)
		}
	}
	if want := len(modules) + len(frontEnd) + 1; len(bill.Components) != want { // and std
		t.Errorf("%d components, want %d", len(bill.Components), want)
	}
}

// SHA256SUMS is what sha256sum -c reads, over all files in order.
func TestSums(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{"b", "a"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(name), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	if err := sums(dir); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(filepath.Join(dir, "SHA256SUMS"))
	// From sha256sum of GNU coreutils 9.1.
	want := fmt.Sprintf("%s  a\n%s  b\n", "ca978112ca1bbdcafac231b39a23dc4da786eff8147c4e72b9807785afee48bb", "3e23e8160039594a33894f6564e1b1348bbd7a0088d42c4acb73eeaed59c009d")
	if err != nil || string(got) != want {
		t.Errorf("%q, %v", got, err)
	}
}

func TestChosen(t *testing.T) {
	if all, err := chosen(""); err != nil || len(all) != 6 {
		t.Errorf("%v, %v", all, err)
	}
	if two, err := chosen("windows/arm64,linux/amd64"); err != nil || !slices.Equal(two, []target{{"windows", "arm64"}, {"linux", "amd64"}}) {
		t.Errorf("%v, %v", two, err)
	}
	if _, err := chosen("plan9/amd64"); err == nil {
		t.Error("took plan9")
	}
	if err := run(t.Context(), []string{"-o", ".", "-targets", "linux/amd64"}, io.Discard); err == nil || !strings.Contains(err.Error(), "not empty") {
		t.Errorf("%v", err)
	}
}
