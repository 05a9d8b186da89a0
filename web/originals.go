package web

import (
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"os"
	"path"
	"strings"
	"time"
	"unicode"

	"tracemap/internal/store"
	"tracemap/internal/survey"
)

func (s *Server) getOriginals(r *http.Request, w http.ResponseWriter) error {
	list, err := s.store.Loose(r.Context())
	if err != nil {
		return err
	}
	return answer(w, http.StatusOK, map[string]any{"originals": list})
}

// postOriginal keeps one file, sent as it is. It is acknowledged once it is on
// the disk.
func (s *Server) postOriginal(r *http.Request, w http.ResponseWriter) error {
	gone, err := s.room(r, r.ContentLength)
	if err != nil {
		return err
	}
	defer gone()
	name := plainName(r.URL.Query().Get("name"))
	o, known, err := s.store.Put(r.Context(), r.Body, name, who(r), func(open func() (io.ReadCloser, error), size int64) (store.Look, error) {
		return s.look(r.Context(), who(r), name, open, size)
	})
	var p *problem
	switch {
	case errors.As(tooLarge(err), &p):
		return p
	case errors.Is(err, io.ErrUnexpectedEOF) || errors.Is(err, os.ErrDeadlineExceeded):
		return &problem{http.StatusBadRequest, name + " was cut off on its way", "Send it again; nothing of it was kept."}
	case s.store.Full(err):
		return &problem{http.StatusInsufficientStorage, "the disk filled up on the way", "Make room on the disk of the data folder, then send it again; nothing of it was kept."}
	case err != nil:
		return err
	}
	status := http.StatusCreated
	if known {
		status = http.StatusOK
	}
	return answer(w, status, map[string]any{"original": o, "known": known})
}

// look finds out what a new file is and which time it spans.
func (s *Server) look(ctx context.Context, by, name string, open func() (io.ReadCloser, error), size int64) (store.Look, error) {
	ctx, leave, err := s.looking.enter(ctx, by)
	if err != nil {
		return store.Look{}, err
	}
	defer leave()
	if err := s.unpacksWithin(name, open); err != nil {
		return store.Look{}, err
	}
	in, err := survey.Open(ctx, []survey.Source{{Name: name, Open: open, Size: size}})
	if err != nil {
		return store.Look{}, tookTooLong(ctx, err)
	}
	told := in.Kinds()[0]
	l := store.Look{Kind: string(told.Kind), What: told.What}
	if told.Kind == survey.Unknown {
		return l, nil
	}
	day, err := survey.Inspect(ctx, in, survey.DefaultOptions())
	if err != nil && !errors.Is(err, survey.ErrNoMap) {
		return l, tookTooLong(ctx, err)
	}
	if day == nil {
		return l, nil
	}
	if day.NMEA != nil {
		l.From, l.To, l.Rows = stamp(day.NMEA.Stats.From), stamp(day.NMEA.Stats.To), day.NMEA.Stats.Epochs
	} else if day.Readings != nil {
		from, to := day.ReadingSpan()
		l.From, l.To, l.Rows = stamp(from), stamp(to), day.Readings.Rows
	}
	return l, nil
}

func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339)
}

// unpacksWithin refuses a gzip file that swells beyond the bound.
func (s *Server) unpacksWithin(name string, open func() (io.ReadCloser, error)) error {
	f, err := open()
	if err != nil {
		return err
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil // not gzip
	}
	n, _ := io.Copy(io.Discard, io.LimitReader(z, s.opt.MaxUnpacked+1)) // damage is survey's to judge
	if n > s.opt.MaxUnpacked {
		return &problem{http.StatusRequestEntityTooLarge, name + " unpacks to more than " + bytesText(s.opt.MaxUnpacked), "Cut the log into parts."}
	}
	return nil
}

// plainName makes a name to show out of one that a stranger gave: its last part,
// printable, not long. It never becomes a path.
func plainName(given string) string {
	name := path.Base(strings.ReplaceAll(given, "\\", "/"))
	name = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, strings.ToValidUTF8(name, ""))
	if runes := []rune(name); len(runes) > 120 {
		name = string(runes[:60]) + "…" + string(runes[len(runes)-59:])
	}
	if name == "" || name == "." || name == ".." || name == "/" {
		return "unnamed"
	}
	return name
}

// getOriginal gives an original back, byte for byte, to be saved and never to be
// shown: it is a stranger's.
func (s *Server) getOriginal(r *http.Request, w http.ResponseWriter) error {
	f, o, err := s.store.OpenOriginal(r.Context(), r.PathValue("sha256"))
	if err != nil {
		return err
	}
	defer f.Close()
	if err := s.noteTaken(r, o.SHA256, o.Name, fmt.Sprintf("%q", o.SHA256), o.Added); err != nil {
		return err
	}
	attach(w, o.Name, "application/octet-stream")
	w.Header().Set("ETag", fmt.Sprintf("%q", o.SHA256))
	http.ServeContent(w, r, "", o.Added, f)
	return nil
}

// attach says that what follows is to be saved under a name.
func attach(w http.ResponseWriter, name, kind string) {
	w.Header().Set("Content-Type", kind)
	w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": name}))
}
