package outdir

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// renameNew renames a folder to a name that must not be taken. Plain rename
// would replace an empty folder in silence.
func renameNew(from, to string) error {
	err := unix.Renameat2(unix.AT_FDCWD, from, unix.AT_FDCWD, to, unix.RENAME_NOREPLACE)
	if unsupported(err) {
		return renameNewInSteps(from, to)
	}
	if err != nil {
		return &os.LinkError{Op: "rename", Old: from, New: to, Err: err}
	}
	return nil
}

// exchange swaps two folders in one step.
func exchange(a, b string) error {
	err := unix.Renameat2(unix.AT_FDCWD, a, unix.AT_FDCWD, b, unix.RENAME_EXCHANGE)
	if unsupported(err) {
		return exchangeInSteps(a, b)
	}
	if err != nil {
		return &os.LinkError{Op: "exchange", Old: a, New: b, Err: err}
	}
	return nil
}

// Old kernels do not know the call, some file systems (network shares) do not
// know the flags.
func unsupported(err error) bool {
	return errors.Is(err, unix.ENOSYS) || errors.Is(err, unix.EINVAL) || errors.Is(err, unix.ENOTSUP)
}
