//go:build linux

package main

import "testing"

// What the page's tests say is read as it stands; the best of the tries in the browser counts, and a miss is a miss.
func TestPageFigures(t *testing.T) {
	got := pageFigures("    browser_test.go:1: 120 readings: median 40ms, p95 140ms, longest 300ms\n    browser_test.go:1: 120 readings: median 31ms, p95 54ms, longest 90ms\n    memory_test.go:1: resident with 10 viewers: 40960 KiB at the most\n")
	if len(got) != 2 || got[0].got != "95 % within 54ms, median 31ms" || !got[0].met || got[1].got != "40.0 MiB" || got[1].met {
		t.Errorf("%+v", got)
	}
	if got := pageFigures("--- SKIP: TestReadingToPixels"); got != nil {
		t.Errorf("nothing was measured, and it says %+v", got)
	}
}
