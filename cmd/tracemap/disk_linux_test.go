package main

import (
	"os"
	"testing"

	"golang.org/x/sys/unix"
)

// mountSmall mounts a file system of 64 KiB on dir. Where nobody may mount, the
// same failure is made by a file system quota's nearest relative: the test with
// the limited file size, which always runs.
func mountSmall(t *testing.T, dir string) string {
	if err := unix.Mount("tmpfs", dir, "tmpfs", 0, "size=64k"); err != nil {
		if os.Getuid() == 0 && os.Getenv("CI") == "true" {
			t.Logf("may not mount here even as root (%v): only the limit on file sizes is tested", err)
		}
		t.SkipNow()
	}
	t.Cleanup(func() {
		if err := unix.Unmount(dir, unix.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	return ""
}
