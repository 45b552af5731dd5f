package device

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// Port is a serial port of this computer.
type Port struct {
	Name        string // what to write in a profile: the stable name if the port has one, else Device
	Device      string // what the system calls it now, such as /dev/ttyUSB0
	Description string // what the adapter says of itself, empty if nothing
}

// Ports lists the serial ports of this computer, by name. It reads what the system says of them and opens none, so
// that a gauge or a console in use is not disturbed. Only Linux says it; elsewhere it returns an error.
func Ports() ([]Port, error) { return portsUnder("/") }

// portsUnder is Ports for a system whose files stand under root.
func portsUnder(root string) ([]Port, error) {
	class := filepath.Join(root, "sys/class/tty")
	entries, err := os.ReadDir(class)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("listing serial ports: this system has no %s; take the port's name from the system's own list of devices", class)
	}
	if err != nil {
		return nil, fmt.Errorf("listing serial ports: %w", err)
	}
	var ports []Port
	for _, e := range entries {
		tty := filepath.Join(class, e.Name())
		if !isPort(tty) {
			continue
		}
		device := "/dev/" + e.Name()
		ports = append(ports, Port{
			Name:        stableName(root, device),
			Device:      device,
			Description: description(tty),
		})
	}
	slices.SortFunc(ports, func(a, b Port) int { return strings.Compare(a.Name, b.Name) })
	return ports, nil
}

// isPort says whether a terminal has a device behind it. Of the numbered ports that the system keeps ready, those
// without hardware have type 0.
func isPort(tty string) bool {
	if _, err := os.Stat(filepath.Join(tty, "device")); err != nil {
		return false
	}
	kind, err := os.ReadFile(filepath.Join(tty, "type"))
	return err != nil || strings.TrimSpace(string(kind)) != "0"
}

// stableName returns the name under dev/serial/by-id that leads to device, or device itself.
func stableName(root, device string) string {
	folder := filepath.Join(root, "dev/serial/by-id")
	links, err := os.ReadDir(folder)
	if err != nil {
		return device // no adapter with a name of its own is plugged in
	}
	for _, l := range links {
		target, err := os.Readlink(filepath.Join(folder, l.Name()))
		if err == nil && filepath.Base(target) == filepath.Base(device) {
			return "/dev/serial/by-id/" + l.Name()
		}
	}
	return device
}

// description looks for the product's name upwards from the tty's device, as far as a USB adapter's stands.
func description(tty string) string {
	dir, err := filepath.EvalSymlinks(filepath.Join(tty, "device"))
	if err != nil {
		return ""
	}
	for range 3 {
		if text, err := os.ReadFile(filepath.Join(dir, "product")); err == nil {
			return strings.TrimSpace(string(text))
		}
		dir = filepath.Dir(dir)
	}
	return ""
}
