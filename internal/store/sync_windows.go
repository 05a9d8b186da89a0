package store

import (
	"math"
	"syscall"
	"unsafe"
)

// syncDir does nothing: Windows keeps names in its journal.
func syncDir(string) error { return nil }

var freeSpace = syscall.NewLazyDLL("kernel32.dll").NewProc("GetDiskFreeSpaceExW")

// Free is the room left for the data folder, bytes.
func (s *Store) Free() (int64, error) {
	dir, err := syscall.UTF16PtrFromString(s.dir)
	if err != nil {
		return 0, err
	}
	var free uint64
	if ok, _, err := freeSpace.Call(uintptr(unsafe.Pointer(dir)), uintptr(unsafe.Pointer(&free)), 0, 0); ok == 0 {
		return 0, err
	}
	return int64(min(free, math.MaxInt64)), nil
}
