//go:build unix

package cli

import (
	"runtime"

	"golang.org/x/sys/unix"
)

// networkDisks are file systems without locks that can be relied on, by the
// numbers of statfs(2) on Linux.
var networkDisks = map[int64]string{0x6969: "an NFS share", 0xff534d42: "a Windows share (CIFS)", 0xfe534d42: "a Windows share (SMB)", 0x01021997: "a 9p share", 0x65735546: "a FUSE file system"}

// diskOf tells how many bytes are free where a folder lies, and names a disk
// that is no good place for a database.
func diskOf(folder string) (free int64, kind string, err error) {
	var s unix.Statfs_t
	if err := unix.Statfs(folder, &s); err != nil {
		return 0, "", err
	}
	if runtime.GOOS == "linux" {
		kind = networkDisks[int64(s.Type)&0xffffffff]
	}
	return int64(s.Bavail) * int64(s.Bsize), kind, nil
}
