//go:build unix

package cluster

import (
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"strconv"
	"syscall"
)

// PostgreSQL refuses to run as root; then it runs as the user that its packages make for it.
const postgres = "postgres"

func ids() (uid, gid int, err error) {
	u, err := user.Lookup(postgres)
	if err != nil {
		return 0, 0, fmt.Errorf("PostgreSQL does not run as root, and there is no other user for it: %w", err)
	}
	uid, err = strconv.Atoi(u.Uid)
	if err == nil {
		gid, err = strconv.Atoi(u.Gid)
	}
	return uid, gid, err
}

// own gives a folder to whoever the server runs as.
func own(dir string) error {
	if os.Getuid() != 0 {
		return nil
	}
	uid, gid, err := ids()
	if err == nil {
		err = os.Chown(dir, uid, gid)
	}
	if err == nil {
		err = os.Chmod(dir, 0o755)
	}
	return err
}

// drop lets a program run as whoever may run a server.
func drop(cmd *exec.Cmd) error {
	if os.Getuid() != 0 {
		return nil
	}
	uid, gid, err := ids()
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}}
	return err
}
