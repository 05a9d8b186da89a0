package main

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// A package of others whose files the page sends to browsers. They are copied
// into web/assets/vendor, so no module graph knows of them.
type frontEndPackage struct {
	name, version string
	licence       string // SPDX
	licenceFile   string
	integrity     string // SHA-512 of the npm registry's archive, base64, as in web/assets/vendor/README.md
}

var frontEnd = []frontEndPackage{
	{"leaflet", "1.9.4", "BSD-2-Clause", "web/assets/vendor/leaflet.LICENSE", "nxS1ynzJOmOlHp+iL3FyWqK89GtNL8U8rvlMOsQdTTssxZwCXh8N2NB3GDQOL+YR3XnWyZAxwQixURb+FA74PA=="},
	{"uplot", "1.6.32", "MIT", "web/assets/vendor/uplot.LICENSE", "KIMVnG68zvu5XXUbC4LQEPnhwOxBuLyW1AHtpm6IKTXImkbLgkMy+jabjLgSLMasNuGGzQm/ep3tOkyTxpiQIw=="},
}

// billOfMaterials is a target's bill in CycloneDX's JSON: the modules that are
// linked in and the Go that links them, by cyclonedx-gomod; and what the page
// sends to browsers. It has no serial number and no time, so that the same source
// gives the same bytes.
func billOfMaterials(ctx context.Context, t target) ([]byte, error) {
	temp, err := os.MkdirTemp("", "tracemap-release-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(temp)
	// The tool is built for this machine; the target's constraints are for what it
	// looks at.
	tool, err := command(ctx, nil, "go", "tool", "-n", "-modfile=tools/go.mod", "cyclonedx-gomod")
	if err != nil {
		return nil, err
	}
	path := filepath.Join(temp, "bill.json")
	_, err = command(ctx, t.env(), string(bytes.TrimSpace(tool)), "app", "-json", "-noserial", "-notimestamp", "-std", "-licenses", "-assert-licenses",
		"-main", "cmd/tracemap", "-output", path, ".")
	if err != nil {
		return nil, err
	}
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return complete(b)
}

// complete adds to a bill what the tool cannot know: the front end's packages and
// the licence of Go's standard library. The hashes of the tool itself, which hang
// on how this machine built it, are taken out.
func complete(bill []byte) ([]byte, error) {
	var all map[string]any
	if err := json.Unmarshal(bill, &all); err != nil {
		return nil, err
	}
	components, ok := all["components"].([]any)
	metadata, ok2 := all["metadata"].(map[string]any)
	if !ok || !ok2 {
		return nil, errors.New("the bill of materials has no components or no metadata")
	}
	if tools, ok := metadata["tools"].([]any); ok {
		for _, t := range tools {
			if tool, ok := t.(map[string]any); ok {
				delete(tool, "hashes")
			}
		}
	}
	for _, c := range components {
		if std, ok := c.(map[string]any); ok && std["name"] == "std" {
			std["licenses"] = licensed("BSD-3-Clause")
		}
	}
	for _, f := range frontEnd {
		sum, err := base64.StdEncoding.DecodeString(f.integrity)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", f.name, err)
		}
		url := fmt.Sprintf("pkg:npm/%s@%s", f.name, f.version)
		components = append(components, map[string]any{
			"bom-ref": url, "type": "library", "name": f.name, "version": f.version, "scope": "required", "purl": url,
			"hashes":   []any{map[string]any{"alg": "SHA-512", "content": hex.EncodeToString(sum)}},
			"licenses": licensed(f.licence),
		})
	}
	all["components"] = components
	out, err := json.MarshalIndent(all, "", "  ")
	return append(out, '\n'), err
}

// licensed is a licence as CycloneDX writes it.
func licensed(spdx string) []any {
	return []any{map[string]any{"license": map[string]any{"id": spdx}}}
}
