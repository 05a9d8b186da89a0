package outdir_test

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"tracemap/internal/outdir"
	"tracemap/internal/parallel"
)

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

// tree lists every file under dir with its content.
func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	err := filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		if err != nil {
			return err
		}
		rel, _ := filepath.Rel(dir, path)
		if info.IsDir() {
			out[rel+"/"] = ""
			return nil
		}
		b, err := os.ReadFile(path)
		out[rel] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func equal(a, b map[string]string) bool {
	if len(a) != len(b) {
		return false
	}
	for k, v := range a {
		if w, ok := b[k]; !ok || v != w {
			return false
		}
	}
	return true
}

func create(t *testing.T, path string, opt outdir.Options) *outdir.Dir {
	t.Helper()
	d, err := outdir.Create(path, opt)
	if err != nil {
		t.Fatalf("Create(%s): %v", path, err)
	}
	t.Cleanup(d.Discard)
	return d
}

func TestNothingIsSeenBeforeCommit(t *testing.T) {
	out := filepath.Join(t.TempDir(), "map")
	d := create(t, out, outdir.Options{})
	write(t, filepath.Join(d.Path(), "sub", "a.txt"), "a")
	if _, err := os.Stat(out); !errors.Is(err, os.ErrNotExist) {
		t.Fatalf("before Commit: Stat = %v, want not to exist", err)
	}
	if kept, err := d.Commit(); err != nil || kept != "" {
		t.Fatalf("Commit = %q, %v", kept, err)
	}
	d.Discard()
	want := map[string]string{"./": "", "map/": "", "map/sub/": "", "map/sub/a.txt": "a"}
	if got := tree(t, filepath.Dir(out)); !equal(got, want) {
		t.Errorf("after Commit: %v, want %v", got, want)
	}
	if _, err := d.Commit(); err == nil {
		t.Error("second Commit: no error")
	}
}

func TestDiscardLeavesNothing(t *testing.T) {
	root := t.TempDir()
	before := tree(t, root)
	d := create(t, filepath.Join(root, "new", "parents", "map"), outdir.Options{})
	write(t, filepath.Join(d.Path(), "a.txt"), "a")
	d.Discard()
	if got := tree(t, root); !equal(got, before) {
		t.Errorf("after Discard: %v, want %v", got, before)
	}
}

func TestExistingIsRefused(t *testing.T) {
	root := t.TempDir()
	out := filepath.Join(root, "map")
	write(t, filepath.Join(out, "keep.txt"), "old")
	write(t, filepath.Join(root, "file"), "x")
	before := tree(t, root)
	for _, c := range []struct {
		path string
		opt  outdir.Options
	}{
		{out, outdir.Options{}},
		{filepath.Join(root, "file"), outdir.Options{Overwrite: true}},
	} {
		if _, err := outdir.Create(c.path, c.opt); !errors.Is(err, outdir.ErrExists) {
			t.Errorf("Create(%s, %+v) = %v, want ErrExists", c.path, c.opt, err)
		}
	}
	if _, err := outdir.Create(filepath.Join(root, "file", "map"), outdir.Options{}); err == nil {
		t.Error("Create below a file: no error")
	}
	if got := tree(t, root); !equal(got, before) {
		t.Errorf("a refusal changed %v into %v", before, got)
	}
}

// A folder that appears while the work goes on is as good as one from before.
func TestExistingIsRefusedAtCommit(t *testing.T) {
	root := t.TempDir()
	out := filepath.Join(root, "map")
	for _, files := range []map[string]string{{}, {"keep.txt": "old"}} {
		os.RemoveAll(out)
		d := create(t, out, outdir.Options{})
		write(t, filepath.Join(d.Path(), "a.txt"), "a")
		if err := os.Mkdir(out, 0o777); err != nil {
			t.Fatal(err)
		}
		for name, text := range files {
			write(t, filepath.Join(out, name), text)
		}
		if _, err := d.Commit(); !errors.Is(err, outdir.ErrExists) {
			t.Errorf("Commit over %v = %v, want ErrExists", files, err)
		}
		entries, _ := os.ReadDir(root)
		if len(entries) != 1 || len(tree(t, out)) != 1+len(files) {
			t.Errorf("over %v: left %v", files, tree(t, root))
		}
	}
}

func TestOverwriteReplacesWhole(t *testing.T) {
	root := t.TempDir()
	out := filepath.Join(root, "map")
	write(t, filepath.Join(out, "old.csv"), "old")
	if err := os.Chmod(out, 0o750); err != nil {
		t.Fatal(err)
	}
	ours := func(name string) bool { return name == "old.csv" }
	d := create(t, out, outdir.Options{Overwrite: true, Ours: ours})
	write(t, filepath.Join(d.Path(), "new.csv"), "new")
	if got := tree(t, out); !equal(got, map[string]string{"./": "", "old.csv": "old"}) {
		t.Errorf("before Commit: %v", got)
	}
	if kept, err := d.Commit(); err != nil || kept != "" {
		t.Fatalf("Commit = %q, %v", kept, err)
	}
	want := map[string]string{"./": "", "map/": "", "map/new.csv": "new"}
	if got := tree(t, root); !equal(got, want) {
		t.Errorf("after Commit: %v, want %v", got, want)
	}
	if info, _ := os.Stat(out); runtime.GOOS != "windows" && info.Mode().Perm() != 0o750 {
		t.Errorf("mode = %v, want that of the old folder", info.Mode())
	}
}

// Somebody's own file in the folder must not vanish with it.
func TestOverwriteKeepsStrangeFiles(t *testing.T) {
	root := t.TempDir()
	out := filepath.Join(root, "map")
	ours := func(name string) bool { return name == "lines.csv" }
	for i, strange := range []string{"project.qgz", "photos/one.jpg"} {
		write(t, filepath.Join(out, strange), "mine")
		d := create(t, out, outdir.Options{Overwrite: true, Ours: ours})
		write(t, filepath.Join(d.Path(), "lines.csv"), "new")
		kept, err := d.Commit()
		if err != nil {
			t.Fatal(err)
		}
		if want := filepath.Join(root, []string{"map.replaced-1", "map.replaced-2"}[i]); kept != want {
			t.Errorf("kept = %q, want %q", kept, want)
		}
		if got := tree(t, kept)[strange]; got != "mine" {
			t.Errorf("%s in %s = %q", strange, kept, got)
		}
		if got := tree(t, out); !equal(got, map[string]string{"./": "", "lines.csv": "new"}) {
			t.Errorf("new folder: %v", got)
		}
	}
}

func TestOutputNeverOnInput(t *testing.T) {
	root := t.TempDir()
	day := filepath.Join(root, "day")
	in := filepath.Join(day, "logs", "day.nmea")
	write(t, in, "$GP")
	link := filepath.Join(root, "link")
	if err := os.Symlink(day, link); err != nil {
		t.Skip("no links here:", err)
	}
	for _, path := range []string{day, filepath.Join(day, "logs"), link, filepath.Join(link, "..", "day"), in} {
		for _, input := range []string{in, filepath.Join(link, "logs", "day.nmea")} {
			_, err := outdir.Create(path, outdir.Options{Overwrite: true, Inputs: []string{input}})
			if !errors.Is(err, outdir.ErrOnInput) {
				t.Errorf("Create(%s) with input %s = %v, want ErrOnInput", path, input, err)
			}
		}
	}
	if err := outdir.Check(filepath.Join(day, "map"), outdir.Options{Inputs: []string{in}}); err != nil {
		t.Errorf("beside the input: %v, want no error", err)
	}
}

func TestNeverReplacesWhereTheUserIs(t *testing.T) {
	root := t.TempDir()
	work := filepath.Join(root, "work", "here")
	if err := os.MkdirAll(work, 0o777); err != nil {
		t.Fatal(err)
	}
	t.Chdir(work)
	home := filepath.Join(root, "home", "me")
	if err := os.MkdirAll(home, 0o777); err != nil {
		t.Fatal(err)
	}
	t.Setenv("HOME", home)
	t.Setenv("USERPROFILE", home)
	for _, path := range []string{".", "..", work, home, filepath.Dir(home)} {
		if _, err := outdir.Create(path, outdir.Options{Overwrite: true}); err == nil {
			t.Errorf("Create(%s): no error", path)
		}
	}
}

func TestLinkIsFollowed(t *testing.T) {
	root := t.TempDir()
	real, link := filepath.Join(root, "real"), filepath.Join(root, "link")
	if err := os.Mkdir(real, 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(real, link); err != nil {
		t.Skip("no links here:", err)
	}
	d := create(t, link, outdir.Options{Overwrite: true})
	write(t, filepath.Join(d.Path(), "a"), "a")
	if _, err := d.Commit(); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is gone: %v, %v", info, err)
	}
	if got := tree(t, real)["a"]; got != "a" {
		t.Errorf("target holds %v", tree(t, real))
	}
	if err := os.Symlink(filepath.Join(root, "nowhere"), filepath.Join(root, "broken")); err != nil {
		t.Fatal(err)
	}
	if _, err := outdir.Create(filepath.Join(root, "broken"), outdir.Options{}); err == nil {
		t.Error("a link that leads nowhere: no error")
	}
}

func TestLeftovers(t *testing.T) {
	out := filepath.Join(t.TempDir(), "map")
	d := create(t, out, outdir.Options{}) // as a killed run leaves it
	create(t, out+"2", outdir.Options{})
	real, err := filepath.EvalSymlinks(filepath.Dir(out))
	if err != nil {
		t.Fatal(err)
	}
	want := []string{filepath.Join(real, filepath.Base(d.Path()))}
	if got := outdir.Leftovers(out); !slices.Equal(got, want) {
		t.Errorf("Leftovers = %v, want %v", got, want)
	}
	if err := outdir.Check(out, outdir.Options{}); err != nil {
		t.Errorf("a leftover is in the way: %v", err)
	}
}

// A defect while files are brought to the disk goes on to whoever called; the old
// folder stands as it was and nothing is left beside it.
func TestFaultOfCommit(t *testing.T) {
	defer parallel.Break("bringing files to the disk")()
	path := filepath.Join(t.TempDir(), "map")
	write(t, filepath.Join(path, "old.csv"), "old")
	before := tree(t, filepath.Dir(path))
	d := create(t, path, outdir.Options{Overwrite: true, Ours: func(string) bool { return true }})
	write(t, filepath.Join(d.Path(), "new.csv"), "new")
	err := parallel.Catch("a caller", func() error { _, err := d.Commit(); return err })
	var f *parallel.Fault
	if !errors.As(err, &f) || !strings.Contains(f.Part, "bringing files to the disk") {
		t.Errorf("error %v", err)
	}
	if after := tree(t, filepath.Dir(path)); !equal(before, after) {
		t.Errorf("left %v, want %v", after, before)
	}
}
