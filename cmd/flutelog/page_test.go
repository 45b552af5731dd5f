//go:build unix

package main

import (
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"flutelog/cmd/flutelog/internal/command"
)

// Served to others than this machine, the page says on the recorder's own terminal that the line is open, and shows a
// pairing code; it ends when it is told to.
func TestPageSaysWhoMay(t *testing.T) {
	for _, test := range []struct {
		name, listen string
		open         bool
	}{
		{"this machine alone", "127.0.0.1:0", false},
		{"the network", "0.0.0.0:0", true},
	} {
		t.Run(test.name, func(t *testing.T) {
			shown, stderr := io.Pipe()
			ended := make(chan command.Status, 1)
			go func() {
				ended <- run(command.Env{Stdin: strings.NewReader(""), Stdout: io.Discard, Stderr: stderr, Getenv: func(string) string { return "" }, Now: time.Now},
					[]string{"page", "--listen", test.listen, "--ledger", t.TempDir()})
				stderr.Close()
			}()
			text := ""
			last := "page is at http://"
			if test.open {
				last = "pairing code for the next device: "
			}
			for buf := make([]byte, 512); !strings.Contains(text, last); {
				n, err := shown.Read(buf)
				if text += string(buf[:n]); err != nil {
					t.Fatalf("it ended, and says %q", text)
				}
			}
			go io.Copy(io.Discard, shown)
			if err := syscall.Kill(os.Getpid(), syscall.SIGTERM); err != nil {
				t.Fatal(err)
			}
			if status := <-ended; status != command.StatusDone {
				t.Errorf("status %d, want 0", status)
			}
			if got := strings.Contains(text, "listens on ALL networks that this machine is on"); got != test.open {
				t.Errorf("said to be open to all: %v, want %v; it says %q", got, test.open, text)
			}
			if got := strings.Contains(text, "warning: without --cert and --key"); got != test.open {
				t.Errorf("warned: %v, want %v; it says %q", got, test.open, text)
			}
		})
	}
}

func TestPageFlags(t *testing.T) {
	for _, test := range []struct {
		name   string
		args   []string
		status command.Status
		want   string
	}{
		{"a certificate without its key", []string{"--cert", "c.pem"}, command.StatusUsage, "give both or neither"},
		{"no such certificate", []string{"--cert", "c.pem", "--key", "k.pem"}, command.StatusFailed, "no such file"},
		{"no such address", []string{"--listen", "192.0.2.1:0"}, command.StatusFailed, "--listen \"192.0.2.1:0\""},
		{"no such unit", []string{"--unit", "ell"}, command.StatusUsage, "--unit"},
	} {
		t.Run(test.name, func(t *testing.T) {
			status, _, stderr := runArgs(t, append([]string{"page", "--ledger", t.TempDir()}, test.args...)...)
			if status != test.status || !strings.Contains(stderr, test.want) {
				t.Errorf("status %d, stderr %q; want %d and %q", status, stderr, test.status, test.want)
			}
		})
	}
}

// A key file that others on the machine can read is no secret: the page does not start with it.
func TestPageKeyFileIsPrivate(t *testing.T) {
	key := filepath.Join(t.TempDir(), "key.pem")
	for mode, want := range map[os.FileMode]string{0o644: "chmod 600", 0o660: "chmod 600", 0o640: "no such file", 0o600: "no such file"} {
		if err := os.WriteFile(key, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(key, mode); err != nil {
			t.Fatal(err)
		}
		status, _, stderr := runArgs(t, "page", "--ledger", t.TempDir(), "--cert", key+".none", "--key", key)
		if status != command.StatusFailed || !strings.Contains(stderr, want) {
			t.Errorf("mode %04o: status %d, stderr %q; want %q", mode, status, stderr, want)
		}
	}
}
