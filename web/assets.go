package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"fmt"
	"net/http"
	"path"
	"strings"
)

//go:embed assets
var assets embed.FS

//go:embed openapi.json
var openAPI []byte

// assetKinds are the media types of the page's own files; others are not served.
var assetKinds = map[string]string{
	".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8",
	".svg": "image/svg+xml", ".LICENSE": "text/plain; charset=utf-8", ".json": "application/json",
}

// asset gives a file of the page itself. It holds no data of anybody.
func (s *Server) asset(w http.ResponseWriter, r *http.Request) {
	name := strings.TrimPrefix(path.Clean(r.URL.Path), "/")
	if name == "" || name == "." {
		name = "index.html"
	}
	kind := assetKinds[path.Ext(name)]
	b, err := assets.ReadFile("assets/" + name)
	if err != nil || kind == "" {
		s.refuse(w, r, &problem{http.StatusNotFound, "there is no such page", ""})
		return
	}
	tag := fmt.Sprintf(`"%x"`, sha256.Sum256(b))
	w.Header().Set("ETag", tag)
	w.Header().Set("Cache-Control", "no-cache") // asked each time, sent when changed
	if r.Header.Get("If-None-Match") == tag {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	packed(w, r, kind, bytes.NewReader(b)) // the reader may be gone
}

func (s *Server) getOpenAPI(r *http.Request, w http.ResponseWriter) error {
	return packed(w, r, "application/json", bytes.NewReader(openAPI))
}
