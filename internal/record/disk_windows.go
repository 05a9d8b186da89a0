package record

import "golang.org/x/sys/windows"

// freeBytes is what this user may still write.
func freeBytes(dir string) (int64, error) {
	name, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return 0, err
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(name, &free, nil, nil); err != nil {
		return 0, err
	}
	return int64(free), nil
}

// syncParent has nothing to do: the file system keeps names in a journal.
func syncParent(string) {}
