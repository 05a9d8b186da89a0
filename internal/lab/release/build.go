package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

// A target is a system that the program is built for.
type target struct{ os, arch string }

func host() target { return target{runtime.GOOS, runtime.GOARCH} }

// targets are those of a release.
var targets = []target{
	{"linux", "amd64"}, {"linux", "arm64"},
	{"darwin", "amd64"}, {"darwin", "arm64"},
	{"windows", "amd64"}, {"windows", "arm64"},
}

// chosen gives the targets of a list with commas, all for an empty one.
func chosen(list string) ([]target, error) {
	if list == "" {
		return targets, nil
	}
	var out []target
	for word := range strings.SplitSeq(list, ",") {
		system, arch, _ := strings.Cut(word, "/")
		t := target{system, arch}
		if !slices.Contains(targets, t) {
			return nil, fmt.Errorf("no target %q", word)
		}
		out = append(out, t)
	}
	return out, nil
}

func (t target) program() string {
	if t.os == "windows" {
		return "tracemap.exe"
	}
	return "tracemap"
}

// env sets the build's constraints: no cgo, so that the program is static.
// amd64 and arm64 stay at the oldest processors that Go knows.
func (t target) env() []string {
	return []string{"CGO_ENABLED=0", "GOOS=" + t.os, "GOARCH=" + t.arch, "GOAMD64=v1", "GOARM64=v8.0", "GOFLAGS=", "GOEXPERIMENT="}
}

// build gives the program for a target. Nothing of the machine gets in: -trimpath
// takes folders out, -buildvcs=false the state of the working copy, and an empty
// build id what the linker would make of both.
func (r *release) build(ctx context.Context, t target) ([]byte, error) {
	temp, err := os.MkdirTemp("", "tracemap-release-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(temp)
	path := filepath.Join(temp, t.program())
	_, err = command(ctx, t.env(), "go", "build", "-trimpath", "-buildvcs=false",
		"-ldflags", "-s -w -buildid= -X main.revision="+r.revision, "-o", path, "./cmd/tracemap")
	if err != nil {
		return nil, err
	}
	return os.ReadFile(path)
}

// revision names the commit, and says so when files differ from it; empty where
// the source is no working copy.
func revision(ctx context.Context) string {
	commit, err := command(ctx, nil, "git", "rev-parse", "--short=12", "HEAD")
	if err != nil {
		return ""
	}
	name := strings.TrimSpace(string(commit))
	if changes, err := command(ctx, nil, "git", "status", "--porcelain"); err != nil || len(changes) > 0 {
		name += "+changes"
	}
	return name
}

// madeAt is the time of the commit, or one that archives can hold.
func madeAt(ctx context.Context) time.Time {
	text, err := command(ctx, nil, "git", "log", "-1", "--format=%ct")
	seconds, wrong := strconv.ParseInt(strings.TrimSpace(string(text)), 10, 64)
	if err != nil || wrong != nil {
		return time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	return time.Unix(seconds, 0).UTC()
}

// command runs a program in the current folder, with env added to the
// environment, and gives its standard output.
func command(ctx context.Context, env []string, name string, args ...string) ([]byte, error) {
	cmd := exec.CommandContext(ctx, name, args...)
	cmd.Env = append(os.Environ(), env...)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		return nil, fmt.Errorf("%s %s: %w\n%s", name, strings.Join(args, " "), err, errs.String())
	}
	return out.Bytes(), nil
}
