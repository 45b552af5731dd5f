package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"flutelog/cmd/flutelog/internal/command"
)

// The kept ledger was recorded with its clock set, so its tools can be handed on as cutting-tool assets, which want a time. By
// hand: EM-2 reads 0.4921 in, which is 12.49934 mm, and is conceded for roughing only; MM-12 reads 11.812 mm and waits for a
// signature; EM-1 is locked, EM-4 withdrawn. The words are those of CutterStatus in MTConnect 1.8.
func TestAssetsOfTheKeptLedger(t *testing.T) {
	ledger, out := t.TempDir(), t.TempDir()
	if err := os.CopyFS(ledger, os.DirFS(keptLedger)); err != nil {
		t.Fatal(err)
	}
	statuses := func(words ...string) string {
		return "<Status>" + strings.Join(words, "</Status><Status>") + "</Status>"
	}
	for _, test := range []struct {
		tool  string
		flags []string
		wants []string
	}{
		{"EM-1", nil, []string{statuses("MEASURED", "TAGGED_OUT", "UNAVAILABLE"), `assetId="EM-1"`, `timestamp="2026-03-02T`}},
		{"EM-2", nil, []string{statuses("MEASURED", "UNAVAILABLE"), ">12.49934<", `condition="roughing only"`}},
		{"EM-2", []string{"--concession-available"}, []string{statuses("RECONDITIONED", "MEASURED", "AVAILABLE")}},
		{"EM-4", nil, []string{statuses("MEASURED", "EXPIRED", "UNAVAILABLE")}},
		{"MM-12", nil, []string{statuses("RECONDITIONED", "MEASURED", "UNAVAILABLE"), ">11.812<"}},
	} {
		status, said, errs := commandLine(ledger, append([]string{"export", test.tool, "--as", "mtconnect", "-o", out}, test.flags...)...)
		file := filepath.Join(out, test.tool+".mtconnect.xml")
		if status != command.StatusDone || strings.TrimSpace(said) != file {
			t.Errorf("%s: status %d, %s%s", test.tool, status, said, errs)
			continue
		}
		content, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		flat := strings.Join(strings.Fields(string(content)), " ")
		for _, want := range test.wants {
			if !strings.Contains(strings.ReplaceAll(flat, "> <", "><"), want) {
				t.Errorf("%s: no %s in\n%s", test.tool, want, content)
			}
		}
	}
	schemas := os.Getenv("FLUTELOG_SCHEMAS")
	if schemas == "" {
		t.Skip("FLUTELOG_SCHEMAS names no folder of schemas: the files were not held against that of the standard")
	}
	files, err := filepath.Glob(filepath.Join(out, "*.xml"))
	if err != nil || len(files) != 4 {
		t.Fatalf("%d files, %v", len(files), err)
	}
	if said, err := exec.Command("xmllint", append([]string{"--nonet", "--noout", "--schema", filepath.Join(schemas, "mtconnect", "MTConnectAssets_1.8_1.0.xsd")}, files...)...).CombinedOutput(); err != nil {
		t.Errorf("%v: %s", err, said)
	}
}
