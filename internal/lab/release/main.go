// Command release makes what is handed out: for each system an archive with the
// static program, the manual page, completion scripts and the licences of all
// that is linked in, a bill of materials beside it, and SHA256SUMS over all.
//
//	go run ./internal/lab/release -o dist
//	go run ./internal/lab/release -sbom tracemap.cdx.json
//
// The same commit and the same Go give the same bytes: no path, time or user of
// the machine gets in. docs/release.md tells how that is checked.
package main

import (
	"context"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"time"

	"tracemap/internal/survey"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:], os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string, out io.Writer) error {
	fs := flag.NewFlagSet("release", flag.ContinueOnError)
	dir := fs.String("o", "dist", "folder for the archives; must not exist or be empty")
	bill := fs.String("sbom", "", "write this system's bill of materials into this file, and nothing else")
	only := fs.String("targets", "", "some of the systems, as linux/amd64,windows/arm64; all without")
	switch err := fs.Parse(args); {
	case errors.Is(err, flag.ErrHelp):
		return nil
	case err != nil:
		return err
	case fs.NArg() > 0:
		return fmt.Errorf("unexpected %q", fs.Arg(0))
	}
	if *bill != "" {
		b, err := billOfMaterials(ctx, host())
		if err != nil {
			return err
		}
		return os.WriteFile(*bill, b, 0o666)
	}
	list, err := chosen(*only)
	if err != nil {
		return err
	}
	r := release{dir: *dir, version: survey.Version, revision: revision(ctx), made: madeAt(ctx)}
	return r.make(ctx, list, out)
}

// A release is one version for several systems.
type release struct {
	dir      string
	version  string
	revision string    // of the source
	made     time.Time // of the source, and of every file in the archives
}

// make writes all files of the release, in the order of the targets.
func (r *release) make(ctx context.Context, list []target, out io.Writer) error {
	if there, _ := os.ReadDir(r.dir); len(there) > 0 {
		return fmt.Errorf("%s is not empty", r.dir)
	}
	if err := os.MkdirAll(r.dir, 0o777); err != nil {
		return err
	}
	common, err := r.commonFiles(ctx)
	if err != nil {
		return err
	}
	for _, t := range list {
		program, err := r.build(ctx, t)
		if err != nil {
			return err
		}
		files := append([]file{{t.program(), 0o755, program}}, common...)
		name := r.name(t)
		archive, err := t.pack(name, files, r.made)
		if err != nil {
			return err
		}
		bill, err := billOfMaterials(ctx, t)
		if err != nil {
			return err
		}
		for _, f := range []file{{name + t.suffix(), 0o666, archive}, {name + ".cdx.json", 0o666, bill}} {
			if err := os.WriteFile(filepath.Join(r.dir, f.name), f.data, f.mode); err != nil {
				return err
			}
			fmt.Fprintf(out, "%s, %d bytes\n", filepath.Join(r.dir, f.name), len(f.data))
		}
	}
	return sums(r.dir)
}

// name is that of a target's files, without the ending.
func (r *release) name(t target) string {
	return fmt.Sprintf("tracemap-%s-%s-%s", r.version, t.os, t.arch)
}

// commonFiles are those that all archives hold.
func (r *release) commonFiles(ctx context.Context) ([]file, error) {
	licences, err := thirdParty(ctx)
	if err != nil {
		return nil, err
	}
	files := []file{{"THIRD-PARTY.txt", 0o644, licences}}
	for _, name := range []string{"LICENSE", "README.md", "CHANGELOG.md", "docs/tracemap.1"} {
		b, err := os.ReadFile(filepath.FromSlash(name))
		if err != nil {
			return nil, err
		}
		files = append(files, file{filepath.Base(name), 0o644, b})
	}
	for _, c := range []struct{ shell, name string }{
		{"bash", "tracemap.bash"}, {"zsh", "_tracemap"}, {"fish", "tracemap.fish"}, {"powershell", "tracemap.ps1"},
	} {
		script, err := command(ctx, nil, "go", "run", "./cmd/tracemap", "completion", c.shell)
		if err != nil {
			return nil, err
		}
		files = append(files, file{"completion/" + c.name, 0o644, script})
	}
	return files, nil
}

// sums writes SHA256SUMS, as sha256sum -c reads it.
func sums(dir string) error {
	entries, err := os.ReadDir(dir) // sorted by name
	if err != nil {
		return err
	}
	var b strings.Builder
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			return err
		}
		fmt.Fprintf(&b, "%x  %s\n", sha256.Sum256(data), e.Name())
	}
	return os.WriteFile(filepath.Join(dir, "SHA256SUMS"), []byte(b.String()), 0o666)
}
