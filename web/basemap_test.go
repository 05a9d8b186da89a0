package web_test

import (
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tracemap/internal/store"
	"tracemap/web"
)

// ground is a base map of the demo's site.
const ground = "../internal/tiles/testdata/vector.pmtiles"

func TestBaseMapFromFile(t *testing.T) {
	o := newOffice(t, t.TempDir(), false, func(opt *web.Options) { opt.BaseMap.Source = ground })
	var b struct {
		Kind, URL string
		Min       int        `json:"min_zoom"`
		Bounds    [4]float64 `json:"bounds"`
	}
	if code := o.ask("GET", "/api/v1/basemap", nil, &b); code != 200 || b.Kind != "file" || b.Min != 13 || math.Abs(b.Bounds[1]-47.4986511) > 1e-6 {
		t.Errorf("base map: %d %+v", code, b)
	}
	var tile []byte
	if code := o.ask("GET", "/api/v1/basemap/13/3692/2864", nil, &tile); code != 200 || !strings.HasPrefix(string(tile), "<svg") {
		t.Errorf("tile: %d %.80s", code, tile)
	}
	for path, want := range map[string]int{"/api/v1/basemap/13/0/0": 204, "/api/v1/basemap/13/x/0": 404, "/api/v1/basemap/99/1/1": 204, "/api/v1/basemap/13/-1/0": 204} {
		if code := o.ask("GET", path, nil, &tile); code != want {
			t.Errorf("%s: status %d, want %d", path, code, want)
		}
	}
}

// The page may fetch pictures from the address that the office set, and from
// nowhere else; without one from nowhere at all.
func TestBaseMapOpensThePolicyByOneHost(t *testing.T) {
	for _, c := range []struct {
		base         web.BaseMap
		kind, images string
	}{
		{web.BaseMap{}, "none", "img-src 'self' data:;"},
		{web.BaseMap{Source: "https://tiles.example:8443/{z}/{x}/{y}.png?key=a"}, "xyz", "img-src 'self' data: https://tiles.example:8443;"},
		{web.BaseMap{Source: "https://maps.example/wms", Layers: "streets"}, "wms", "img-src 'self' data: https://maps.example;"},
	} {
		o := newOffice(t, t.TempDir(), false, func(opt *web.Options) { opt.BaseMap = c.base })
		res, err := http.Get(o.srv.URL + "/")
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
		if csp := res.Header.Get("Content-Security-Policy"); !strings.Contains(csp, c.images) {
			t.Errorf("%+v: policy %s", c.base, csp)
		}
		var b struct{ Kind string }
		if o.ask("GET", "/api/v1/basemap", nil, &b); b.Kind != c.kind {
			t.Errorf("%+v: kind %s", c.base, b.Kind)
		}
	}
	for source, want := range map[string]string{
		"https://tiles.example/{z}/{x}.png": "lacks one of", "ftp://tiles.example/{z}/{x}/{y}": "no address", "https:///{z}/{x}/{y}": "no address",
		"https://a.example; script-src *": "base map", "https://u:p@tiles.example/{z}/{x}/{y}": "no address", "https://maps.example/wms": "names of its layers", "nothing.pmtiles": "no such file", "basemap_test.go": "neither PMTiles nor MBTiles",
	} {
		st, err := store.Open(t.Context(), t.TempDir(), time.Now)
		if err != nil {
			t.Fatal(err)
		}
		opt := web.DefaultOptions()
		opt.BaseMap.Source = source
		if _, err := web.New(st, opt); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", source, err, want)
		}
		st.Close()
	}
}

// The map with the office's file under it, with a grid of degrees, in feet; no
// request leaves for elsewhere. Then from an address that the office set: only
// there the page asks, and only when it is shown.
func TestReadersChoicesOnTheMap(t *testing.T) {
	t.Parallel()
	var asked atomic.Int64
	elsewhere := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked.Add(1)
		w.Header().Set("Content-Type", "image/svg+xml")
		w.Write([]byte(`<svg xmlns="http://www.w3.org/2000/svg" width="256" height="256"><rect width="256" height="256" fill="#cde"/></svg>`))
	}))
	defer elsewhere.Close()
	dir := t.TempDir()
	t.Run("file", func(t *testing.T) {
		o := newOffice(t, dir, true, func(opt *web.Options) {
			opt.BaseMap = web.BaseMap{Source: ground, Credit: "Quellmar land office"}
		})
		o.demoDay()
		o.settled("/api/v1/days/1")
		b := openTab(t, o, 1360, 850, false)
		b.choose("imperial", "degrees")
		b.open("1", "1")
		b.wait("the base map", `[...document.querySelectorAll('.base img')].some(i => i.complete && i.naturalWidth > 0)`)
		for what, want := range map[string]string{".credit": "Quellmar land office", ".scale": " ft", ".reads": " ft", ".panel": " ft"} {
			if got := b.js(`document.querySelector('` + what + `').innerText`); !strings.Contains(got, want) || strings.Contains(got, " m,") {
				t.Errorf("%s in feet: %.200s", what, got)
			}
		}
		// 5 m along the line are 16.4 ft.
		b.js(`document.querySelector('.plots').dispatchEvent(new KeyboardEvent('keydown', {key: 'ArrowRight', shiftKey: true}))`)
		if got := b.js(`document.querySelector('.reads').innerText`); !strings.HasPrefix(got, "station 16.4 ft: depth ") {
			t.Errorf("after the arrow key: %s", got)
		}
		b.shot("basemap-feet-degrees")
		b.click("[role=tab]", "Settings")
		if got := b.js(`document.querySelector('#panel form input').value`); got != "5.906" { // 1.8 m
			t.Errorf("antenna height in feet: %s", got)
		}
		b.checkAxeHere("feet")
		b.elsewhere("")
		b.choose("metric", "metres")
		b.js(`document.querySelector('input[name=look][value=dark]').click()`)
		b.open("1", "1")
		b.wait("the base map", `[...document.querySelectorAll('.base img')].some(i => i.complete && i.naturalWidth > 0)`)
		b.shot("basemap-dark")
		b.checkAxeHere("dark")
	})
	t.Run("address", func(t *testing.T) {
		o := newOffice(t, dir, true, func(opt *web.Options) { opt.BaseMap.Source = elsewhere.URL + "/{z}/{x}/{y}" })
		b := openTab(t, o, 1360, 850, false)
		b.choose("metric", "none")
		b.js(`document.querySelector('input[name=base][value=off]').click()`)
		b.open("1", "1")
		b.elsewhere("")
		if asked.Load() != 0 {
			t.Error("the other host was asked though the base map is switched off")
		}
		b.wait("the switch of the base map", `document.querySelector('#underlay')?.closest('label').hidden === false`)
		b.js(`document.querySelector('#underlay').click()`)
		b.wait("the base map", `[...document.querySelectorAll('.base img')].some(i => i.complete && i.naturalWidth > 0)`)
		b.wait("who is asked", `document.querySelector('.credit').innerText.includes('learns what part')`)
		b.elsewhere(elsewhere.URL)
	})
}

// choose sets the reader's units and grid.
func (b *tab) choose(units, grid string) {
	b.t.Helper()
	b.js(`location.hash = '#/me'`)
	b.wait("the choices", `document.querySelector('input[value=imperial]') !== null`)
	b.js(`document.querySelector('input[value=` + units + `]').click()`)
	b.js(`document.querySelector('input[name=grid][value=` + grid + `]').click()`)
}

// elsewhere holds that the page asked only its own server and one other address.
func (b *tab) elsewhere(allowed string) {
	b.t.Helper()
	if got := b.js(`performance.getEntriesByType('resource').map(e => e.name).filter(n => !n.startsWith(location.origin) && !('` + allowed + `' && n.startsWith('` + allowed + `'))).join(' ')`); got != "" {
		b.t.Errorf("requests went elsewhere: %s", got)
	}
}
