package export_test

import (
	"context"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"

	"tracemap/export"
	"tracemap/internal/lab/invented"
)

// A weigher is a context that weighs the heap now and then when a writer asks
// whether to go on, which it does for every row, and keeps the most that was in use.
type weigher struct {
	context.Context
	asked int
	most  uint64
}

func (w *weigher) Err() error {
	if w.asked++; w.asked%2048 == 0 {
		w.most = max(w.most, inUse())
	}
	return nil
}

// inUse is what is in use after everything else was thrown away, bytes.
func inUse() uint64 {
	var s runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&s)
	return s.HeapAlloc
}

// The GeoPackage's writer keeps nothing of what it wrote: eight times as many
// readings take no more memory beside the map, and what it throws away is so little
// that half a million readings take about as much as fifty thousand.
func TestGPKGMemoryIsFlat(t *testing.T) {
	weigh := func(lines int) (kept, thrown float64, readings int) {
		m := invented.Many(lines, 250)
		before := inUse()
		var start, end runtime.MemStats
		w := &weigher{Context: context.Background()}
		dir := t.TempDir()
		if err := export.Write(w, dir, m, []export.Format{format(t, "gpkg")}, export.Options{CRS: lookup(t, 32626)}); err != nil {
			t.Fatal(err)
		}
		if w.asked < len(m.Readings) || w.most == 0 {
			t.Fatalf("the writer of %d readings asked %d times whether to go on", len(m.Readings), w.asked)
		}
		if got := query(t, filepath.Join(dir, "map.gpkg"), "SELECT count(*) FROM readings"); got != strconv.Itoa(lines*250) {
			t.Fatalf("%s readings, want %d", got, lines*250)
		}
		runtime.ReadMemStats(&start)
		if err := export.Write(context.Background(), t.TempDir(), m, []export.Format{format(t, "gpkg")}, export.Options{CRS: lookup(t, 32626)}); err != nil {
			t.Fatal(err)
		}
		runtime.ReadMemStats(&end)
		runtime.KeepAlive(m)
		return float64(w.most) - float64(before), float64(end.TotalAlloc - start.TotalAlloc), len(m.Readings)
	}
	lines := 20
	if testing.Short() {
		lines = 4 // the race detector makes every step ten times as long
	}
	few, fewThrown, n := weigh(lines)
	many, manyThrown, n8 := weigh(8 * lines)
	t.Logf("%d readings: at most %.2f MB beside the map, %.1f MB in all; %d: %.2f MB, %.1f MB", n, few/1e6, fewThrown/1e6, n8, many/1e6, manyThrown/1e6)
	if many-few > 0.5e6 {
		t.Errorf("%.2f MB beside the map for %d readings, %.2f MB for %d", few/1e6, n, many/1e6, n8)
	}
	if each := (manyThrown - fewThrown) / float64(n8-n); each > 100 {
		t.Errorf("%.0f bytes thrown away a reading, want at most 100", each)
	}
}
