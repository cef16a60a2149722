package cli

import "golang.org/x/sys/windows"

// diskOf tells how many bytes are free where a folder lies, and names a disk
// that is no good place for a database.
func diskOf(folder string) (free int64, kind string, err error) {
	path, err := windows.UTF16PtrFromString(folder)
	if err != nil {
		return 0, "", err
	}
	var mine uint64
	err = windows.GetDiskFreeSpaceEx(path, &mine, nil, nil)
	return int64(mine), "", err
}
