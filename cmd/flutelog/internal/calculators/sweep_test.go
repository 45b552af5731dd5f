package calculators

import (
	"os"
	"path/filepath"
	"testing"

	"flutelog/cmd/flutelog/internal/command"
)

// A sweep's file is read to at least one sample, as many as texts, or refused by the line.
func FuzzReadTrace(f *testing.F) {
	for _, s := range []string{"0.001\n0.002mm\n# c\n", "0,1\n0.5,2\n", "1,1\n1,2\n", "NaN,1", "", "\x00", "1e9", "0.1,0.2,0.3", "Inf,1\nInf,1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		name := filepath.Join(t.TempDir(), "trace")
		if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		read, err := readTrace(&command.Reader{}, name)
		if err == nil && (len(read.samples) == 0 || len(read.samples) != len(read.texts)) {
			t.Errorf("%d samples, %d texts", len(read.samples), len(read.texts))
		}
	})
}
