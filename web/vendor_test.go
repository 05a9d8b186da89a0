package web_test

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// Files of others are as they came, and none is there without its hash.
func TestVendoredFilesAreUnchanged(t *testing.T) {
	list, err := os.ReadFile(filepath.Join("testdata", "vendor.sha256"))
	if err != nil {
		t.Fatal(err)
	}
	var named []string
	for line := range strings.Lines(string(list)) {
		sum, name, _ := strings.Cut(strings.TrimSpace(line), "  ")
		named = append(named, name)
		b, err := os.ReadFile(filepath.FromSlash(name))
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprintf("%x", sha256.Sum256(b)); got != sum {
			t.Errorf("%s has the hash %s, want %s", name, got, sum)
		}
	}
	for _, pattern := range []string{"assets/vendor/*", "testdata/vendor/*"} {
		there, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range there {
			if name = filepath.ToSlash(name); !slices.Contains(named, name) && !strings.HasSuffix(name, "README.md") {
				t.Errorf("%s has no hash in testdata/vendor.sha256", name)
			}
		}
	}
}
