package web

import (
	"archive/zip"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"tracemap/export"
	"tracemap/internal/store"
	"tracemap/internal/survey"
)

// kindOf gives the media type of an output by its ending. None is one that a
// browser runs, but the report, which is sandboxed.
var kindOf = map[string]string{
	".geojson": "application/geo+json", ".json": "application/json", ".kml": "application/vnd.google-earth.kml+xml",
	".kmz": "application/vnd.google-earth.kmz", ".csv": "text/csv; charset=utf-8", ".gpkg": "application/geopackage+sqlite3",
	".dxf": "image/vnd.dxf", ".gpx": "application/gpx+xml", ".html": "text/html; charset=utf-8", ".shp": "application/octet-stream",
	".shx": "application/octet-stream", ".dbf": "application/octet-stream", ".prj": "text/plain; charset=utf-8", ".cpg": "text/plain; charset=utf-8",
}

type fileEntry struct {
	Name   string `json:"name"`
	Size   int64  `json:"size"`
	Format string `json:"format"`
}

// outputs lists the files of a result that people may have.
func (s *Server) outputs(day int64, number int) ([]fileEntry, error) {
	infos, err := s.store.ResultFiles(day, number)
	if err != nil {
		return nil, err
	}
	out := []fileEntry{}
	for _, info := range infos {
		if ours(info.Name()) {
			out = append(out, fileEntry{info.Name(), info.Size(), formatOf(info.Name())})
		}
	}
	return out, nil
}

// ours reports whether a file of a result is one for people.
func ours(name string) bool { return name == placesFile || survey.Ours(name) }

// formatOf names the format that writes a file; the report and what is always
// written have their ending.
func formatOf(name string) string {
	for _, f := range export.Formats {
		for _, file := range f.Files {
			if file == name {
				return f.Name
			}
		}
	}
	if name == placesFile {
		return "gpx"
	}
	return strings.TrimPrefix(filepath.Ext(name), ".")
}

func (s *Server) getFiles(r *http.Request, w http.ResponseWriter) error {
	day, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	list, err := s.outputs(day, number)
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, map[string]any{"files": list})
}

// getFile gives one output.
func (s *Server) getFile(r *http.Request, w http.ResponseWriter) error {
	day, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	name := r.PathValue("name")
	if !ours(name) || strings.ContainsAny(name, `/\`) {
		return store.ErrNotFound
	}
	f, err := s.store.OpenResult(day, number, name)
	if err != nil {
		return err
	}
	return s.giveKept(r, w, f, name, fmt.Sprintf("day %d revision %d", day, number), fmt.Sprintf("day-%d-r%d-", day, number))
}

// giveKept gives a kept file and closes it. A page is shown unless it is asked for
// to be saved; all else is saved, under its name with the prefix, and written down
// as taken from what it is about.
func (s *Server) giveKept(r *http.Request, w http.ResponseWriter, f *os.File, name, about, prefix string) error {
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	ending := filepath.Ext(name)
	kind := kindOf[ending]
	if kind == "" {
		kind = "application/octet-stream"
	}
	if ending == ".html" && r.URL.Query().Get("save") == "" {
		if err := s.noteSeen(r, about, name); err != nil {
			return err
		}
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Content-Security-Policy", reportPolicy)
	} else {
		if err := s.noteTaken(r, about, name, "", info.ModTime()); err != nil {
			return err
		}
		attach(w, prefix+name, kind)
	}
	http.ServeContent(w, r, "", info.ModTime(), f)
	return nil
}

// getExport gives a ZIP of outputs: those kept with the revision, or, with a
// coordinate system or units of its own, computed anew from the originals.
func (s *Server) getExport(r *http.Request, w http.ResponseWriter) error {
	id, number, err := revisionOf(r)
	if err != nil {
		return err
	}
	rev, err := s.store.Revision(r.Context(), id, number)
	if err != nil {
		return err
	}
	if rev.State != store.Done {
		return &problem{http.StatusConflict, "this revision has no map", ""}
	}
	q := r.URL.Query()
	formats := export.Names()
	if text := q.Get("format"); text != "" {
		list, err := survey.ParseFormats(text)
		if err != nil {
			return &problem{http.StatusUnprocessableEntity, err.Error(), ""}
		}
		formats = nil
		for _, f := range list {
			formats = append(formats, f.Name)
		}
	}
	name := fmt.Sprintf("day-%d-r%d.zip", id, number)
	if err := s.noteTaken(r, fmt.Sprintf("day %d revision %d", id, number), name, "", time.Time{}); err != nil {
		return err
	}
	wish := exportWish{formats: q.Get("format"), crs: q.Get("crs"), units: q.Get("units"), scheme: q.Get("scheme")}
	if wish.asKept() {
		return s.zipKept(w, name, id, number, formats)
	}
	dir, err := s.exportAnew(r.Context(), who(r), rev, wish)
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	attach(w, name, "application/zip")
	return zipFiles(w, func(add func(string, io.Reader) error) error {
		entries, err := os.ReadDir(dir)
		if err != nil {
			return err
		}
		for _, e := range entries {
			f, err := os.Open(filepath.Join(dir, e.Name()))
			if err != nil {
				return err
			}
			if err := errors.Join(add(e.Name(), f), f.Close()); err != nil {
				return err
			}
		}
		return nil
	})
}

// zipKept packs the kept files of the asked formats, with what goes with every
// map.
func (s *Server) zipKept(w http.ResponseWriter, name string, id int64, number int, formats []string) error {
	list, err := s.outputs(id, number)
	if err != nil {
		return err
	}
	wanted := map[string]bool{"gpx": true, "json": true, "html": true}
	for _, f := range formats {
		wanted[f] = true
	}
	attach(w, name, "application/zip")
	return zipFiles(w, func(add func(string, io.Reader) error) error {
		for _, e := range list {
			if !wanted[e.Format] {
				continue
			}
			f, err := s.store.OpenResult(id, number, e.Name)
			if err != nil {
				return err
			}
			if err := errors.Join(add(e.Name, f), f.Close()); err != nil {
				return err
			}
		}
		return nil
	})
}

// zipFiles writes a ZIP whose entries fill names.
func zipFiles(w io.Writer, fill func(add func(name string, r io.Reader) error) error) error {
	z := zip.NewWriter(w)
	err := fill(func(name string, r io.Reader) error {
		to, err := z.Create(name)
		if err != nil {
			return err
		}
		_, err = io.Copy(to, r)
		return err
	})
	if err != nil {
		return err
	}
	return z.Close()
}

// An exportWish says in what a download differs from what is kept; what is empty
// is as kept.
type exportWish struct{ formats, crs, units, scheme string }

func (e *exportWish) asKept() bool { return e.crs == "" && e.units == "" && e.scheme == "" }

// exportAnew writes a revision in another coordinate system, other units or other
// accuracy classes into a folder that the caller removes. Positions are the
// revision's own: what moves them is a setting of the day.
func (s *Server) exportAnew(ctx context.Context, by string, rev store.Revision, wish exportWish) (string, error) {
	day, err := s.store.Day(ctx, rev.Day)
	if err != nil {
		return "", err
	}
	if wish.formats == "" {
		wish.formats = joinNames(export.Names())
	}
	opt, err := s.surveyOptions(day, rev, strings.Split(wish.formats, ","))
	if err != nil {
		return "", err
	}
	if wish.crs != "" {
		if opt.CRS, err = survey.ParseCRS(wish.crs); err != nil {
			return "", &problem{http.StatusUnprocessableEntity, err.Error(), ""}
		}
	}
	if wish.scheme != "" {
		opt.Scheme = wish.scheme
	}
	switch wish.units {
	case "":
	case "metric", "imperial":
		opt.Imperial = wish.units == "imperial"
	default:
		return "", &problem{http.StatusUnprocessableEntity, fmt.Sprintf("no units %q: there are metric and imperial", plainName(wish.units)), ""}
	}
	if err := opt.Check(); err != nil {
		return "", &problem{http.StatusUnprocessableEntity, inPageWords(err.Error()), ""}
	}
	ctx, leave, err := s.exporting.enter(ctx, by)
	if err != nil {
		return "", err
	}
	defer leave()
	computed, err := s.run(ctx, day, opt)
	if err != nil {
		return "", tookTooLong(ctx, err)
	}
	dir, err := s.store.Scratch()
	if err != nil {
		return "", err
	}
	if err := computed.Write(ctx, dir, computed.Map()); err != nil {
		return "", errors.Join(tookTooLong(ctx, err), os.RemoveAll(dir))
	}
	return dir, nil
}

// packed sends a stream, compressed where the reader takes it.
func packed(w http.ResponseWriter, r *http.Request, kind string, from io.Reader) error {
	w.Header().Set("Content-Type", kind)
	w.Header().Add("Vary", "Accept-Encoding")
	if !strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") {
		_, err := io.Copy(w, from)
		return ignoreGone(err)
	}
	w.Header().Set("Content-Encoding", "gzip")
	z, err := gzip.NewWriterLevel(w, gzip.BestSpeed)
	if err != nil {
		return err
	}
	_, err = io.Copy(z, from)
	return ignoreGone(errors.Join(err, z.Close()))
}
