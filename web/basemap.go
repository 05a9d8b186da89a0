package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"tracemap/internal/store"
	"tracemap/internal/tiles"
)

// A BaseMap is what an office lays under its maps.
type BaseMap struct {
	// Source is a file of tiles (PMTiles, MBTiles), an address with {z}, {x} and
	// {y} in it, or the address of a WMS; none when empty.
	Source string
	Layers string // of a WMS
	Credit string // whose map it is
}

// A base is an open base map. Only a file needs nobody else; an address has the
// browser ask its host, which learns where the site is.
type base struct {
	Kind    string      `json:"kind"` // none, file, xyz, wms
	URL     string      `json:"url,omitempty"`
	Layers  string      `json:"layers,omitempty"`
	Credit  string      `json:"credit,omitempty"`
	MinZoom int         `json:"min_zoom"`
	MaxZoom int         `json:"max_zoom"`
	Bounds  *[4]float64 `json:"bounds,omitempty"` // west, south, east, north

	origin string // which the page may have pictures from
	set    *tiles.Set
}

// openBase opens the base map that the office set.
func openBase(m BaseMap) (*base, error) {
	b := &base{Kind: "none", Credit: shortText(m.Credit, 200), Layers: m.Layers}
	switch {
	case m.Source == "":
		return b, nil
	case strings.Contains(m.Source, "://"):
		return b, b.address(m.Source)
	}
	set, err := tiles.Open(m.Source)
	if err != nil {
		return nil, fmt.Errorf("base map: %w", err)
	}
	b.Kind, b.URL, b.set = "file", "/api/v1/basemap/{z}/{x}/{y}", set
	b.MinZoom, b.MaxZoom, b.Bounds = set.MinZoom, set.MaxZoom, &set.Bounds
	if b.Credit == "" {
		b.Credit = set.Credit
	}
	return b, nil
}

// address sets a base map that other hosts serve.
func (b *base) address(text string) error {
	u, err := url.Parse(strings.NewReplacer("{z}", "0", "{x}", "0", "{y}", "0").Replace(text))
	switch {
	case err != nil:
		return fmt.Errorf("base map: %w", err)
	case u.Scheme != "https" && u.Scheme != "http" || u.Host == "" || u.User != nil || strings.ContainsAny(u.Host, "{}*,;' "):
		return fmt.Errorf("base map: %s is no address of a web server", text)
	}
	b.URL, b.MaxZoom, b.origin = text, 19, u.Scheme+"://"+u.Host
	switch tiled := strings.Contains(text, "{z}") && strings.Contains(text, "{x}") && strings.Contains(text, "{y}"); {
	case tiled:
		b.Kind = "xyz"
	case strings.ContainsAny(text, "{}"):
		return fmt.Errorf("base map: %s lacks one of {z}, {x} and {y}", text)
	case b.Layers == "":
		return fmt.Errorf("base map: %s is taken for a WMS, which needs the names of its layers, or lacks {z}, {x} and {y}", text)
	default:
		b.Kind, b.MaxZoom = "wms", 27
	}
	return nil
}

func (b *base) close() error {
	if b.set == nil {
		return nil
	}
	return b.set.Close()
}

func (s *Server) getBaseMap(r *http.Request, w http.ResponseWriter) error {
	return answer(w, http.StatusOK, s.base)
}

// getTile gives one tile of the office's file. There being none is common: files
// end where the office's area ends.
func (s *Server) getTile(r *http.Request, w http.ResponseWriter) error {
	var at [3]int
	for i, name := range []string{"z", "x", "y"} {
		n, err := strconv.Atoi(r.PathValue(name))
		if err != nil {
			return store.ErrNotFound
		}
		at[i] = n
	}
	if s.base.set == nil {
		return store.ErrNotFound
	}
	b, err := s.base.set.Tile(r.Context(), at[0], at[1], at[2])
	w.Header().Set("Cache-Control", "private, max-age=3600")
	if errors.Is(err, tiles.ErrNone) {
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	if err != nil {
		return err
	}
	h := w.Header()
	h.Set("Content-Type", s.base.set.Kind)
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; sandbox") // a stranger's picture
	_, err = w.Write(b)
	return ignoreGone(err)
}
