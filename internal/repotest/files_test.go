package repotest

import (
	"bytes"
	"crypto/sha256"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// root is the repository's folder; tests run in their package's.
const root = "../.."

// skipped are folders that hold what was built, not what is kept.
var skipped = map[string]bool{".git": true, "bin": true, "build": true, "dist": true}

// files gives every kept file by its path from the root.
func files(t *testing.T) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(root, func(path string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(root, path)
		if e.IsDir() {
			if skipped[e.Name()] || strings.HasSuffix(e.Name(), "-map") {
				return filepath.SkipDir
			}
			return nil
		}
		out = append(out, filepath.ToSlash(rel))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func content(t *testing.T, path string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(root, path))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// A file has one subject. What must be longer says why, in a comment that
// begins "Long because".
func TestFilesAreShort(t *testing.T) {
	const limit = 450
	for _, path := range files(t) {
		if !strings.HasSuffix(path, ".go") {
			continue
		}
		b := content(t, path)
		if n := bytes.Count(b, []byte("\n")); n > limit && !bytes.Contains(b, []byte("// Long because")) {
			t.Errorf("%s has %d lines, more than %d: split it by reason to change, or say why not (// Long because …)", path, n, limit)
		}
	}
}

// Logs of other people's receivers are read where they lie and never committed.
func TestNoForeignLogIsCommitted(t *testing.T) {
	shared := os.Getenv("TRACEMAP_SHARED")
	if shared == "" {
		shared = filepath.Join(root, "..", "shared")
	}
	entries, err := os.ReadDir(filepath.Join(shared, "nmea"))
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("the folder of receivers' logs is missing: %v", err)
		}
		t.Skipf("no folder of receivers' logs here: %v", err)
	}
	sums := map[[32]byte]string{}
	for _, e := range entries {
		if e.IsDir() {
			continue
		}
		b, err := os.ReadFile(filepath.Join(shared, "nmea", e.Name()))
		if err != nil {
			t.Fatal(err)
		}
		sums[sha256.Sum256(b)] = e.Name()
	}
	if len(sums) == 0 {
		t.Fatal("the folder of receivers' logs is empty")
	}
	for _, path := range files(t) {
		if name := sums[sha256.Sum256(content(t, path))]; name != "" {
			t.Errorf("%s is the foreign log %s", path, name)
		}
	}
}

// What speaks of the way the project came about, or of somebody's machine, has
// no place in it.
func TestWordsThatDoNotBelong(t *testing.T) {
	// Written apart, so that this file does not match.
	banned := regexp.MustCompile(`(?i)\b(contract|design|facts|libraries|style)\.m` + `d\b|seed (document|file)\b|transcr` + `ipt` +
		`|\bissue #?[0-9]|\bC` + `EO\b|/wor` + `k/|\.libr` + `ary\b|developer sess` + `ion`)
	for _, path := range files(t) {
		if strings.HasPrefix(path, "testdata/") || strings.Contains(path, "/vendor/") || strings.HasSuffix(path, "go.sum") || strings.HasSuffix(path, ".test") {
			continue
		}
		b := content(t, path)
		if bytes.IndexByte(b, 0) >= 0 {
			continue // a picture or a database
		}
		for _, at := range banned.FindAllIndex(b, 3) {
			line := 1 + bytes.Count(b[:at[0]], []byte("\n"))
			t.Errorf("%s:%d: %q does not belong here", path, line, b[at[0]:at[1]])
		}
	}
}

// No compiled program is kept: go build leaves one beside the sources.
func TestNoProgramIsKept(t *testing.T) {
	for _, path := range files(t) {
		b := content(t, path)
		for _, head := range []string{"\x7fELF", "MZ\x90", "\xcf\xfa\xed\xfe"} {
			if bytes.HasPrefix(b, []byte(head)) {
				t.Errorf("%s is a compiled program: take it out", path)
			}
		}
	}
}

// What reads the machine's clock, and why. Everything else gives the same for the
// same input, whatever the day, and a clock that jumps cannot spoil it.
var clockReaders = map[string]string{
	"cmd/tracemap":          "tells how long a run took, shows progress, stamps live input",
	"internal/lab/accuracy": "tells on standard error how long a day took",
	"internal/record":       "records live",
	"internal/lab/speed":    "measures speed",
	"web":                   "deadlines of connections; the store is given its clock",
}

func TestClockIsReadInFewPlaces(t *testing.T) {
	reads := regexp.MustCompile(`\btime\.(Now|Since|Until)\b`)
	found := map[string]bool{}
	for _, path := range files(t) {
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || !reads.Match(content(t, path)) {
			continue
		}
		dir := filepath.ToSlash(filepath.Dir(path))
		found[dir] = true
		if clockReaders[dir] == "" {
			t.Errorf("%s reads the machine's clock: give it the time, or say in clockReaders why it must", path)
		}
	}
	for dir := range clockReaders {
		if !found[dir] {
			t.Errorf("%s no longer reads the clock: take it out of clockReaders", dir)
		}
	}
}
