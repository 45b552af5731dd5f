package main

import (
	"os"
	"strings"
	"testing"
)

// What is printed to be acted on, of the kept ledger, held against what is worked out here by hand from its readings.
//
//	EM-1.3   diameter 0.4920 as corrected (0.4921 was read): radius offset 0.2460; before the grind 0.4995, so the offset is
//	         0.24600 - 0.24975 = -0.00375 since the machinist last had it. TIR: flute 3 reads 0.0002, 0.00015 as corrected
//	         and 0.0002, so 0.00055 / 3 = 0.000183 over flute 1, which reads 0. The widest share is flute 2: 0.017 / 0.056 = 0.304
//	EM-1.4   a crack: locked
//	EM-2.2   diameter 0.4921: 0.24605; conceded for roughing only
//	MM-12.1  11.812 mm: radius 5.906 mm
func TestKeptPapers(t *testing.T) {
	ledger := t.TempDir()
	if err := os.CopyFS(ledger, os.DirFS(keptLedger)); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		args  string
		wants []string
	}{
		{"sheet --tag EM-1.3", []string{"LOCKED", "0.24600 in (-0.00375 since last time)"}},
		{"show EM-1.3", []string{"0.00018 in", "0.304", "0.49200 in", "LOCKED", "ruling: release by Person A", "was 0.49210 in, is 0.49200 in, by Person B"}},
		{"history EM-1", []string{"LOCKED", "0.00018 in  0.304          0.49200 in  0.00750 in  1"}},
		{"sheet --tag EM-2.2", []string{"USE ONLY: roughing only", "0.24605 in"}},
		{"sheet --tag EM-4.1", []string{"WITHDRAWN"}},
		{"sheet --tag EM-5.1", []string{"RECALLED"}},
		{"sheet --tag EM-7.1", []string{"PRACTICE"}},
		{"sheet EM-7.1", []string{"PRACTICE"}},
		{"sheet --tag MM-12.1 --unit mm", []string{"NOT SIGNED", "5.9060 mm"}},
	} {
		status, out, errs := commandLine(ledger, strings.Fields(test.args)...)
		for _, want := range test.wants {
			if !strings.Contains(out, want) {
				t.Errorf("%s: status %d, no %q in:\n%s%s", test.args, status, want, out, errs)
			}
		}
	}
}
