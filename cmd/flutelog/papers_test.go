package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What is printed to be acted on, of the kept ledger, held against what is worked out here by hand from its readings.
//
//	EM-1.1   wear of 0.012 at 10 degrees: 0.012 tan 10 = 0.0021, less what the circle takes back, 0.00204. The widest primary
//	         of the four flutes is that of flute 4, 0.026
//	EM-1.3   diameter 0.4920 as corrected (0.4921 was read): radius offset 0.2460; before the grind 0.4995, so the diameter
//	         is 0.4920 - 0.4995 = -0.0075 since the tool was last out. TIR: flute 3 reads 0.0002, 0.00015 as corrected
//	         and 0.0002, so 0.00055 / 3 = 0.000183 over flute 1, which reads 0. The widest share is flute 2: 0.017 / 0.056 = 0.304
//	EM-1.4   a crack: locked
//	EM-2.2   diameter 0.4921: 0.24605, and 0.4921 - 0.4995 = -0.0074; conceded for roughing only
//	MM-12.1  11.812 mm: radius 5.906 mm
//	EM-9.1   inspected here: flute 3 at 0.0008 over flute 1 at 0, diameter 0.4900
func TestKeptPapers(t *testing.T) {
	ledger := t.TempDir()
	if err := os.CopyFS(ledger, os.DirFS(keptLedger)); err != nil {
		t.Fatal(err)
	}
	readings := filepath.Join(t.TempDir(), "readings.csv")
	read := "feature,flute,from_end,repeat,value,unit\n" +
		"radial-runout,1,,,0,in\nradial-runout,2,,,0.0004,in\nradial-runout,3,,,0.0008,in\nradial-runout,4,,,0.0002,in\ndiameter,,,,0.4900,in\n"
	if err := os.WriteFile(readings, []byte(read), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		args  string
		wants []string
	}{
		{"inspect EM-9 --stage before --readings " + readings, []string{"0.00080 in", "0.49000 in"}},
		{"history EM-9", []string{"0.00080 in", "0.49000 in"}},
		{"show EM-1.1 --again", []string{"infeed: 0.00204 in from first touch", "secondary infeed: 0.00430 in from first touch on flute 4"}},
		{"show EM-1.3 --again", []string{"0.00018 in", "0.304", "0.49200 in"}},
		{"tag EM-1", []string{"Locked EM-1", "Do not use cracks seen by Person A"}},
		{"sheet EM-1.3", []string{"Locked EM-1", "Radius offset 0.2460 in", "Since it was last out −0.0075 dia.", "flute 2 0.304"}},
		{"show EM-1.3", []string{"0.00018 in", "0.304", "0.49200 in", "LOCKED", "ruling: (*) release by Person A", "was 0.49210 in, is 0.49200 in, by Person B"}},
		{"history EM-1", []string{"LOCKED", "0.00018 in 0.304 0.49200 in 0.00750 in 1"}},
		{"tag EM-2", []string{"Use on condition: roughing only EM-2", "radius offset 0.24605", "since last out −0.0074 dia."}},
		{"tag EM-4", []string{"Withdrawn EM-4", "Do not use"}},
		{"tag EM-5", []string{"Recalled EM-5", "Do not use"}},
		{"tag EM-7", []string{"Practice: invented EM-7", "Do not use", "INVENTED"}},
		{"sheet EM-7.1", []string{"Practice: invented EM-7"}},
		{"tag MM-12 --unit mm", []string{"Not signed MM-12", "Do not use no signature yet"}},
		{"sheet MM-12.1 --unit mm", []string{"Not signed MM-12", "Radius offset 5.906 mm"}},
	} {
		status, out, errs := commandLine(ledger, strings.Fields(test.args)...)
		out = strings.Join(strings.Fields(wordsOnly(t, out)), " ")
		for _, want := range test.wants {
			if !strings.Contains(out, want) {
				t.Errorf("%s: status %d, no %q in:\n%s%s", test.args, status, want, out, errs)
			}
		}
	}
}
