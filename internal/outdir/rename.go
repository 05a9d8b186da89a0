package outdir

import (
	"io/fs"
	"os"
)

// renameNewInSteps is renameNew where the system has no single call for it.
func renameNewInSteps(from, to string) error {
	if _, err := os.Lstat(to); err == nil {
		return &os.LinkError{Op: "rename", Old: from, New: to, Err: fs.ErrExist}
	}
	return os.Rename(from, to)
}

// exchangeInSteps is exchange where the system has no single call for it. A
// process killed between the steps leaves the old folder whole under a hidden
// name; an error puts it back.
func exchangeInSteps(fresh, old string) error {
	aside := hidden(old, "replaced")
	if err := os.Rename(old, aside); err != nil {
		return err
	}
	if err := os.Rename(fresh, old); err != nil {
		os.Rename(aside, old)
		return err
	}
	return os.Rename(aside, fresh)
}
