// Package processtest lets a test binary also be another process, so that a test can kill it or have it hold a lock.
package processtest

import (
	"errors"
	"io"
	"os"
	"os/exec"
	"syscall"
	"testing"
)

// Start starts the test binary once more with variables added to its environment, by which its TestMain knows what it is to do, and
// returns it with what it prints. Its standard input stays open until the test ends.
func Start(t *testing.T, variables ...string) (*exec.Cmd, io.Reader) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), variables...)
	cmd.Stderr = os.Stderr
	if _, err := cmd.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	err = cmd.Start()
	if errors.Is(err, syscall.ENOEXEC) {
		t.Skip("an emulator runs this test binary, and the system cannot start it a second time")
	}
	if err != nil {
		t.Fatal(err)
	}
	return cmd, out
}
