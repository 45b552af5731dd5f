package bench

import (
	"os"
	"path/filepath"
	"testing"

	"flutelog/device"
	"flutelog/inspect/length"
)

// A gauge on the port of a practice gauge is one, whatever the bench file says of it and by whichever name of the port; another
// gauge is not.
func TestInventedReadingsAreKnownByTheirPort(t *testing.T) {
	p := device.PracticeProfile(device.Button, length.In)
	gauge, err := device.StartPractice(p, nil)
	if err != nil {
		t.Fatal(err)
	}
	defer gauge.Close()
	if gauge.Port() == "" {
		t.Skip("this system has no pseudo-terminals that another program could open")
	}
	real, err := filepath.EvalSymlinks(gauge.Port())
	if err != nil {
		t.Fatal(err)
	}
	for port, want := range map[string]bool{gauge.Port(): true, real: true, "/dev/null": false, filepath.Join(t.TempDir(), "none"): false} {
		p.Name, p.Port, p.Practice = "dial", port, false
		file := filepath.Join(t.TempDir(), "bench.toml")
		if err := os.WriteFile(file, []byte("[[gauge]]\n"+p.TOML()), 0o600); err != nil {
			t.Fatal(err)
		}
		f, err := Read(file)
		if err != nil {
			t.Fatal(err)
		}
		if f.Gauges[0].Practice != want {
			t.Errorf("%s: practice is %v, want %v", port, f.Gauges[0].Practice, want)
		}
	}
}
