package geofile

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// Limits. A record of a large town is some 100 MB.
const (
	maxFile     = 1 << 30 // bytes of a file
	maxUnpacked = 1 << 28 // bytes of all that is unpacked from one file
)

// ErrFormat says that a file is none of the formats.
var ErrFormat = errors.New("not a format that can be read: GeoJSON, KML, KMZ, GeoPackage, Shapefile, DXF, or CSV with well-known text")

// A source is the bytes of a file and how to get at those that belong to it.
type source struct {
	name    string
	data    []byte
	sibling func(ext string) []byte // "" content where there is none; nil without siblings
	budget  *budget
}

func (s *source) beside(ext string) []byte {
	if s.sibling == nil {
		return nil
	}
	return s.sibling(ext)
}

// Open reads a file. The errors it returns say what was found and what to do;
// they do not name the file.
func Open(ctx context.Context, path string) (*File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, plainly(err)
	}
	switch ext := strings.ToLower(filepath.Ext(path)); {
	case info.IsDir():
		return nil, errors.New("is a folder: give one file")
	case !info.Mode().IsRegular():
		return nil, errors.New("is not a regular file")
	case info.Size() > maxFile:
		return nil, fmt.Errorf("has %d MB, more than the %d MB that are read: cut it to the site first", info.Size()>>20, maxFile>>20)
	case ext == ".dbf" || ext == ".shx" || ext == ".prj" || ext == ".cpg":
		return nil, fmt.Errorf("belongs to a Shapefile: give the file that ends in .shp beside it")
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, plainly(err)
	}
	if len(bytes.TrimSpace(data[:min(len(data), 4096)])) == 0 {
		return nil, errors.New("is empty")
	}
	sum := sha256.Sum256(data)
	f, err := open(ctx, path, data)
	if err != nil {
		return nil, err
	}
	f.SHA256 = hex.EncodeToString(sum[:])
	return f, nil
}

// plainly takes the path out of a file system's error: the caller names it.
func plainly(err error) error {
	var path *os.PathError
	if errors.As(err, &path) {
		return path.Err
	}
	return err
}

func open(ctx context.Context, path string, data []byte) (*File, error) {
	if bytes.HasPrefix(data, []byte("SQLite format 3\x00")) {
		return readGeoPackage(ctx, path)
	}
	b := newBudget(ctx)
	s := &source{name: filepath.Base(path), data: data, budget: b, sibling: func(ext string) []byte { return besideFile(path, ext) }}
	switch {
	case bytes.HasPrefix(data, []byte{0x1f, 0x8b}):
		unpacked, err := gunzip(data)
		if err != nil {
			return nil, err
		}
		return parse(&source{name: strings.TrimSuffix(s.name, filepath.Ext(s.name)), data: unpacked, budget: b})
	case bytes.HasPrefix(data, []byte("PK\x03\x04")) || bytes.HasPrefix(data, []byte("PK\x05\x06")):
		return readZip(data, b)
	}
	return parse(s)
}

// besideFile reads the file of the same name with another ending, as .dbf beside
// .shp, whatever the case of its letters.
func besideFile(path, ext string) []byte {
	stem := strings.TrimSuffix(path, filepath.Ext(path))
	for _, e := range []string{ext, strings.ToUpper(ext)} {
		info, err := os.Stat(stem + e)
		if err != nil || !info.Mode().IsRegular() || info.Size() > maxFile {
			continue
		}
		if data, err := os.ReadFile(stem + e); err == nil {
			return data
		}
	}
	return nil
}

func gunzip(data []byte) ([]byte, error) {
	r, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("unpacking: %w", err)
	}
	return unpack(r, maxUnpacked)
}

// unpack reads what is packed, to a limit.
func unpack(r io.Reader, limit int64) ([]byte, error) {
	out, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err != nil {
		return nil, fmt.Errorf("unpacking: %w", err)
	}
	if int64(len(out)) > limit {
		return nil, fmt.Errorf("unpacks to more than the %d MB that are read: cut it to the site first", maxUnpacked>>20)
	}
	return out, nil
}

// parse reads a file that is neither packed nor a database.
func parse(s *source) (*File, error) {
	head := textHead(s.data)
	switch {
	case bytes.HasPrefix(s.data, []byte("AutoCAD Binary DXF")):
		return nil, errors.New("is a binary DXF: save it as ASCII DXF")
	case bytes.HasPrefix(s.data, []byte("AC10")):
		return nil, errors.New("is a DWG drawing: save it as ASCII DXF")
	case bytes.HasPrefix(s.data, []byte{0, 0, 0x27, 0x0a}):
		return readShapefile(s)
	case strings.HasPrefix(head, "{") || strings.HasPrefix(head, "[") || strings.HasPrefix(head, "\x1e"):
		return readGeoJSON(s)
	case strings.HasPrefix(head, "<"):
		return readKML(s, "KML")
	case isDXF(head):
		return readDXF(s)
	case isBinary(s.data):
		return nil, ErrFormat
	}
	return readCSV(s)
}

// textHead is the beginning of a text without its byte order mark and blanks.
func textHead(data []byte) string {
	return strings.TrimLeft(decodeText(data[:min(len(data), 4096)]), " \t\r\n")
}

// isBinary reports whether the beginning holds what no text holds.
func isBinary(data []byte) bool {
	return strings.IndexByte(decodeText(data[:min(len(data), 4096)]), 0) >= 0
}

// readZip reads a KMZ, or the one file of a known format in an archive.
func readZip(data []byte, b *budget) (*File, error) {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("unpacking: %w", err)
	}
	left := int64(maxUnpacked)
	get := func(f *zip.File) ([]byte, error) {
		r, err := f.Open()
		if err != nil {
			return nil, fmt.Errorf("unpacking %s: %w", f.Name, err)
		}
		defer r.Close()
		out, err := unpack(r, left)
		left -= int64(len(out))
		return out, err
	}
	main, err := pickMember(z.File)
	if err != nil {
		return nil, err
	}
	content, err := get(main)
	if err != nil {
		return nil, err
	}
	s := &source{name: filepath.Base(main.Name), data: content, budget: b, sibling: func(ext string) []byte {
		stem := strings.TrimSuffix(main.Name, filepath.Ext(main.Name))
		for _, f := range z.File {
			if strings.EqualFold(f.Name, stem+ext) {
				if out, err := get(f); err == nil {
					return out
				}
			}
		}
		return nil
	}}
	if strings.EqualFold(filepath.Ext(main.Name), ".kml") {
		return readKML(s, "KMZ")
	}
	return parse(s)
}

// pickMember finds what to read in an archive: doc.kml or the first KML, as the
// KML standard has it; else the only file of a known ending.
func pickMember(files []*zip.File) (*zip.File, error) {
	var found []*zip.File
	for _, f := range files {
		switch strings.ToLower(filepath.Ext(f.Name)) {
		case ".kml":
			return f, nil
		case ".shp", ".geojson", ".json", ".dxf", ".csv":
			if !strings.HasPrefix(filepath.Base(f.Name), ".") {
				found = append(found, f)
			}
		case ".gpkg":
			return nil, errors.New("is an archive with a GeoPackage: unpack it first")
		}
	}
	switch len(found) {
	case 0:
		return nil, errors.New("is an archive without a file that can be read")
	case 1:
		return found[0], nil
	}
	return nil, fmt.Errorf("is an archive with %d files that could be meant (%s, %s …): unpack it and give one", len(found), found[0].Name, found[1].Name)
}
