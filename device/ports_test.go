package device

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// system lays out files and links as Linux shows serial ports: a USB adapter with a name of its own, a gauge that is
// a modem to the system, a port on the board, one without hardware, and a console that is no port.
func system(t *testing.T) string {
	t.Helper()
	root := t.TempDir()
	usb := "sys/devices/usb1/1-1/"
	files := map[string]string{
		usb + "product":                     "Serial adapter\n",
		usb + "1-1:1.0/ttyUSB0/port_number": "0\n",
		usb + "1-1:1.1/tty/ttyACM0/dev":     "166:0\n",
		"sys/devices/serial/tty/ttyS0/type": "4\n",
		"sys/devices/serial/tty/ttyS1/type": "0\n",
		"sys/devices/virtual/tty/tty1/dev":  "4:1\n",
	}
	links := map[string]string{
		"sys/class/tty/ttyUSB0/device":                   "../../../devices/usb1/1-1/1-1:1.0/ttyUSB0",
		"sys/class/tty/ttyACM0":                          "../../devices/usb1/1-1/1-1:1.1/tty/ttyACM0",
		usb + "1-1:1.1/tty/ttyACM0/device":               "../..",
		"sys/class/tty/ttyS0":                            "../../devices/serial/tty/ttyS0",
		"sys/devices/serial/tty/ttyS0/device":            "../..",
		"sys/class/tty/ttyS1":                            "../../devices/serial/tty/ttyS1",
		"sys/devices/serial/tty/ttyS1/device":            "../..",
		"sys/class/tty/tty1":                             "../../devices/virtual/tty/tty1",
		"dev/serial/by-id/usb-Serial_adapter_0001-port0": "../../ttyUSB0",
	}
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	for name, target := range links {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(target, path); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func TestPorts(t *testing.T) {
	got, err := portsUnder(system(t))
	want := []Port{
		{Name: "/dev/serial/by-id/usb-Serial_adapter_0001-port0", Device: "/dev/ttyUSB0", Description: "Serial adapter"},
		{Name: "/dev/ttyACM0", Device: "/dev/ttyACM0", Description: "Serial adapter"},
		{Name: "/dev/ttyS0", Device: "/dev/ttyS0"},
	}
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Errorf("%v\n%s", err, diff)
	}
}

func TestPortsWithoutSysfs(t *testing.T) {
	if got, err := portsUnder(t.TempDir()); err == nil || !strings.Contains(err.Error(), "own list of devices") {
		t.Errorf("got %v, %v, want an error that says what to do", got, err)
	}
}
