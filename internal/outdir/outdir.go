// Package outdir writes a folder whole or not at all. Files are made in a
// hidden folder beside the wanted one, brought to the disk, and renamed in one
// step; until then nobody sees anything under the wanted name, and what was
// there before is untouched.
//
// A process that is killed leaves its hidden folder behind. Its name begins
// with a dot and holds ".unfinished-", so that it is never mistaken for a
// result; Leftovers finds it.
package outdir

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
)

// ErrExists says that the wanted folder is there already and may not be
// replaced.
var ErrExists = errors.New("already exists")

// ErrOnInput says that writing would destroy an input.
var ErrOnInput = errors.New("holds an input")

// Options of Check and Create.
type Options struct {
	// Overwrite allows an existing folder to be replaced.
	Overwrite bool
	// Inputs are paths that the folder must neither be nor hold.
	Inputs []string
	// Ours reports whether a file of this name, directly in the folder, is one
	// that an earlier run may have written. A replaced folder that holds anything
	// else is kept under another name (see Commit); nil means that nothing is.
	Ours func(name string) bool
}

// A Dir is a folder in the making. It must end with Commit or Discard.
type Dir struct {
	final   string // absolute, links resolved
	temp    string
	opt     Options
	parents []string // made by Create, outermost first
	done    bool
}

// Check refuses a folder that Create or Commit would refuse, and touches
// nothing: call it before the work, so that a refusal costs no time.
func Check(path string, opt Options) error {
	final, err := resolve(path)
	if err != nil {
		return err
	}
	for _, in := range opt.Inputs {
		if within(in, final) {
			return fmt.Errorf("output folder %s: %w, %s", path, ErrOnInput, in)
		}
	}
	info, err := os.Lstat(final)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return checkParent(path, final)
	case err != nil:
		return fmt.Errorf("output folder: %w", err)
	case !info.IsDir():
		return fmt.Errorf("output folder %s: %w and is not a folder", path, ErrExists)
	case !opt.Overwrite:
		return fmt.Errorf("output folder %s: %w", path, ErrExists)
	}
	return checkPrecious(path, final)
}

// checkParent refuses a path that leads through something that is no folder.
func checkParent(path, final string) error {
	for dir := filepath.Dir(final); ; dir = filepath.Dir(dir) {
		info, err := os.Stat(dir)
		if err == nil && !info.IsDir() {
			return fmt.Errorf("output folder %s: %s is not a folder", path, dir)
		}
		if err == nil || dir == filepath.Dir(dir) {
			return nil
		}
	}
}

// checkPrecious refuses to replace a folder in which the user lives or works:
// moving it aside would be as bad as deleting it.
func checkPrecious(path, final string) error {
	cwd, _ := os.Getwd()
	home, _ := os.UserHomeDir()
	for _, p := range []string{cwd, home} {
		if p != "" && within(p, final) {
			return fmt.Errorf("output folder %s: holds the working folder or the home folder %s and is never replaced", path, p)
		}
	}
	return nil
}

// Create makes the hidden folder in which to write. Missing parents of the
// wanted folder are made too, and removed again by Discard.
func Create(path string, opt Options) (*Dir, error) {
	if err := Check(path, opt); err != nil {
		return nil, err
	}
	final, err := resolve(path)
	if err != nil {
		return nil, err
	}
	d := &Dir{final: final, opt: opt}
	if err := d.makeParents(); err != nil {
		d.Discard()
		return nil, fmt.Errorf("output folder: %w", err)
	}
	d.temp = hidden(final, "unfinished")
	// Not MkdirTemp: the result should have the access rights of any new folder.
	if err := os.Mkdir(d.temp, 0o777); err != nil {
		d.temp = ""
		d.Discard()
		return nil, fmt.Errorf("output folder: %w", err)
	}
	return d, nil
}

func (d *Dir) makeParents() error {
	var missing []string
	for dir := filepath.Dir(d.final); ; dir = filepath.Dir(dir) {
		if _, err := os.Stat(dir); err == nil || dir == filepath.Dir(dir) {
			break
		}
		missing = append(missing, dir)
	}
	slices.Reverse(missing)
	for _, dir := range missing {
		if err := os.Mkdir(dir, 0o777); err != nil && !errors.Is(err, fs.ErrExist) {
			return err
		}
		d.parents = append(d.parents, dir)
	}
	return nil
}

// Path is the folder to write into until Commit.
func (d *Dir) Path() string { return d.temp }

// Discard removes all that was written. It does nothing after Commit, so that
// it may always be deferred.
func (d *Dir) Discard() {
	if d.done {
		return
	}
	d.done = true
	if d.temp != "" {
		os.RemoveAll(d.temp)
	}
	for _, dir := range slices.Backward(d.parents) {
		os.Remove(dir) // fails, as it should, when somebody put something there
	}
}

// Commit brings everything to the disk and gives the folder its name. On an
// error everything written is discarded and an older folder stays as it was.
//
// kept is "" or the path under which the replaced folder lives on because it
// held something that Options.Ours does not know.
func (d *Dir) Commit() (kept string, err error) {
	if d.done {
		return "", errors.New("output folder: already committed or discarded")
	}
	defer d.Discard()
	if err := syncTree(d.temp); err != nil {
		return "", fmt.Errorf("output folder: %w", err)
	}
	err = renameNew(d.temp, d.final)
	if err == nil {
		d.done = true
		return "", syncDir(filepath.Dir(d.final))
	}
	if !errors.Is(err, fs.ErrExist) && !errors.Is(err, syscall.ENOTEMPTY) {
		return "", fmt.Errorf("output folder: %w", err)
	}
	if err := Check(d.final, d.opt); err != nil {
		return "", err // it appeared while we were at work
	}
	return d.replace()
}

// replace swaps the new folder for the old one and gets rid of the old.
func (d *Dir) replace() (kept string, err error) {
	if info, err := os.Stat(d.final); err == nil {
		if err := os.Chmod(d.temp, info.Mode().Perm()); err != nil {
			return "", fmt.Errorf("output folder: %w", err)
		}
	}
	if err := exchange(d.temp, d.final); err != nil {
		return "", fmt.Errorf("output folder: %w", err)
	}
	d.done = true // d.temp is the old folder from here on
	if d.holdsStrange(d.temp) {
		kept = freeName(d.final)
		if err := os.Rename(d.temp, kept); err != nil {
			kept = d.temp
		}
	} else if err := os.RemoveAll(d.temp); err != nil {
		kept = d.temp
	}
	return kept, syncDir(filepath.Dir(d.final))
}

func (d *Dir) holdsStrange(dir string) bool {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return true
	}
	for _, e := range entries {
		if d.opt.Ours == nil || e.IsDir() || !d.opt.Ours(e.Name()) {
			return true
		}
	}
	return false
}

// Leftovers lists the hidden folders beside path that runs for the same path
// left behind when they were killed, or that a run is making right now.
func Leftovers(path string) []string {
	final, err := resolve(path)
	if err != nil {
		return nil
	}
	entries, err := os.ReadDir(filepath.Dir(final))
	if err != nil {
		return nil
	}
	var out []string
	for _, e := range entries {
		if e.IsDir() && strings.HasPrefix(e.Name(), "."+filepath.Base(final)+".unfinished-") {
			out = append(out, filepath.Join(filepath.Dir(final), e.Name()))
		}
	}
	return out
}

// resolve gives the absolute path with links followed as far as it exists: a
// link to a folder stays a link, and its target is what gets replaced.
func resolve(path string) (string, error) {
	if path == "" {
		return "", errors.New("output folder: no name given")
	}
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", fmt.Errorf("output folder: %w", err)
	}
	if real, err := filepath.EvalSymlinks(abs); err == nil {
		return real, nil
	}
	if info, err := os.Lstat(abs); err == nil && info.Mode()&fs.ModeSymlink != 0 {
		return "", fmt.Errorf("output folder %s: a link that leads nowhere", path)
	}
	if abs == filepath.Dir(abs) {
		return abs, nil
	}
	parent, err := resolve(filepath.Dir(abs))
	if err != nil {
		return "", err
	}
	return filepath.Join(parent, filepath.Base(abs)), nil
}

// within reports whether path is dir or lies in it, by any way leading there.
func within(path, dir string) bool {
	d, err := os.Stat(dir)
	if err != nil {
		return false
	}
	p, err := resolve(path)
	if err != nil {
		return false
	}
	for ; ; p = filepath.Dir(p) {
		if info, err := os.Stat(p); err == nil && os.SameFile(info, d) {
			return true
		}
		if p == filepath.Dir(p) {
			return false
		}
	}
}

func hidden(final, kind string) string {
	var b [6]byte
	rand.Read(b[:])
	return filepath.Join(filepath.Dir(final), "."+filepath.Base(final)+"."+kind+"-"+hex.EncodeToString(b[:]))
}

// freeName is a visible name for a folder that was replaced but is kept.
func freeName(final string) string {
	for i := 1; ; i++ {
		name := fmt.Sprintf("%s.replaced-%d", final, i)
		if _, err := os.Lstat(name); errors.Is(err, fs.ErrNotExist) {
			return name
		}
	}
}
