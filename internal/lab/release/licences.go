package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
)

// A module is one that is linked in.
type module struct {
	Path, Version, Dir string
	Main               bool
}

// linked gives the modules of a target's program, by path.
func linked(ctx context.Context, t target) ([]module, error) {
	list, err := command(ctx, t.env(), "go", "list", "-deps", "-json=Module", "./cmd/tracemap")
	if err != nil {
		return nil, err
	}
	var out []module
	for dec := json.NewDecoder(bytes.NewReader(list)); ; {
		var p struct{ Module *module }
		switch err := dec.Decode(&p); {
		case err == io.EOF:
			slices.SortFunc(out, func(a, b module) int { return strings.Compare(a.Path, b.Path) })
			return out, nil
		case err != nil:
			return nil, err
		}
		if m := p.Module; m != nil && !m.Main && !slices.Contains(out, *m) {
			out = append(out, *m)
		}
	}
}

// thirdParty is the text that goes with the program: what is linked in on any
// system or sent to browsers, and under which terms.
func thirdParty(ctx context.Context) ([]byte, error) {
	var modules []module
	for _, t := range targets {
		list, err := linked(ctx, t)
		if err != nil {
			return nil, err
		}
		modules = append(modules, list...)
	}
	slices.SortFunc(modules, func(a, b module) int { return strings.Compare(a.Path, b.Path) })
	modules = slices.Compact(modules)
	var list, texts strings.Builder
	add := func(name, version string, files []string) error {
		var kinds []string
		for _, path := range files {
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			fmt.Fprintf(&texts, "%s\n%s %s: %s\n\n%s\n", strings.Repeat("=", 78), name, version, filepath.Base(path), bytes.TrimSpace(text))
			if kind := licence(string(text)); kind != "" && !slices.Contains(kinds, kind) {
				kinds = append(kinds, kind)
			}
		}
		if len(kinds) == 0 {
			return fmt.Errorf("%s %s: no known licence in %q; look at it before it is handed on", name, version, files)
		}
		fmt.Fprintf(&list, "%-44s %-12s %s\n", name, version, strings.Join(kinds, ", "))
		return nil
	}
	goroot, err := command(ctx, nil, "go", "env", "GOROOT")
	if err != nil {
		return nil, err
	}
	if err := add("Go's standard library", runtime.Version(), []string{filepath.Join(strings.TrimSpace(string(goroot)), "LICENSE")}); err != nil {
		return nil, err
	}
	for _, m := range modules {
		files, err := licenceFiles(m.Dir)
		if err != nil {
			return nil, err
		}
		if err := add(m.Path, m.Version, files); err != nil {
			return nil, err
		}
	}
	for _, f := range frontEnd {
		if err := add(f.name, f.version, []string{filepath.FromSlash(f.licenceFile)}); err != nil {
			return nil, err
		}
	}
	return []byte("What tracemap is made with, beside its own code, and under which terms.\n\n" + list.String() +
		"\nSQLite, which github.com/ncruces/go-sqlite3 brings, and the time zone database, which Go's\nstandard library brings, are in the public domain.\n\n" + texts.String()), nil
}

// licenceFiles are a module's own files about its terms.
func licenceFiles(dir string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, e := range entries {
		name := strings.ToLower(e.Name())
		for _, word := range []string{"licen", "copying", "notice", "patents"} {
			if e.Type().IsRegular() && strings.Contains(name, word) && !strings.HasSuffix(name, ".go") {
				out = append(out, filepath.Join(dir, e.Name()))
				break
			}
		}
	}
	return out, nil
}

// licence tells a text by a phrase that only it has, as the SPDX list names it.
func licence(text string) string {
	words := strings.Join(strings.Fields(text), " ")
	has := func(phrase string) bool { return strings.Contains(words, phrase) }
	switch {
	case has("Apache License Version 2.0"):
		return "Apache-2.0"
	case has("Mozilla Public License"):
		return "MPL-2.0"
	case has("Permission is hereby granted, free of charge"):
		return "MIT"
	case has("Redistribution and use in source and binary forms") && has("Neither the name"):
		return "BSD-3-Clause"
	case has("Redistribution and use in source and binary forms"):
		return "BSD-2-Clause"
	case has("Permission to use, copy, modify, and/or distribute"), has("Permission to use, copy, modify, and distribute"):
		return "ISC"
	}
	return ""
}
