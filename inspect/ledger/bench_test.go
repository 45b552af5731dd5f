package ledger

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// reading is about what one reading takes in a record. Invented.
func reading(i int) string {
	return fmt.Sprintf(`{"feature":"primary-land","flute":%d,"place":%d,"raw":"+0.%05d","unit":"in","pm":%d,"at":"2026-11-12T08:%02d:%02d.%06dZ"}`,
		i%4+1, i/4%3+1, 1250+i%97, 31_750_000+254_000*(i%97), i/60%60, i%60, i%1_000_000)
}

// inspection returns the records of one inspection with n readings. Invented.
func inspection(tool string, n int) []Entry {
	var readings []string
	for i := range n {
		readings = append(readings, reading(i))
	}
	opened := `{"stage":"after","inspector":"A. Person"}`
	summary := `{"stage":"after","verdicts":[` + strings.Repeat(`{"feature":"primary-land","verdict":"accept","worst_pm":31750000},`, 5) + `null],"work":"none"}`
	return []Entry{
		{Kind: "opened", Subject: tool, Body: json.RawMessage(opened)},
		{Kind: "readings", Subject: tool, Body: json.RawMessage(`{"readings":[` + strings.Join(readings, ",") + `]}`)},
		{Kind: "summary", Subject: tool, Body: json.RawMessage(summary)},
	}
}

// fill records inspections of tools in turn, a thousand for each sync.
func fill(tb testing.TB, dir string, inspections, tools, readings int) {
	tb.Helper()
	l, err := Open(dir, Options{Bench: "bench 1"})
	if err != nil {
		tb.Fatal(err)
	}
	for i := 0; i < inspections; {
		var entries []Entry
		for end := min(i+1000, inspections); i < end; i++ {
			entries = append(entries, inspection(fmt.Sprintf("tool:EM-%06d", i%tools), readings)...)
		}
		if _, err := l.Append(entries...); err != nil {
			tb.Fatal(err)
		}
	}
}

func median(values []float64) float64 {
	slices.Sort(values)
	return values[len(values)/2]
}

// timed returns how many seconds what took.
func timed(b *testing.B, what func() error) float64 {
	b.Helper()
	start := time.Now()
	if err := what(); err != nil {
		b.Fatal(err)
	}
	return time.Since(start).Seconds()
}

// BenchmarkDurableReading compares the recording of one reading with a bare write and sync of the same
// bytes, in pairs. "x/bare" is the median of the ratios; the bar is 1.25.
func BenchmarkDurableReading(b *testing.B) {
	dir := b.TempDir()
	l, err := Open(filepath.Join(dir, "ledger"), Options{})
	if err != nil {
		b.Fatal(err)
	}
	d, err := l.NewDraft("i-1", Entry{Kind: "opened", Body: json.RawMessage("{}")})
	if err != nil {
		b.Fatal(err)
	}
	bare, err := disk{}.OpenFile(filepath.Join(dir, "bare"), os.O_CREATE|os.O_WRONLY|os.O_APPEND)
	if err != nil {
		b.Fatal(err)
	}
	defer bare.Close()
	var ratios, micros []float64
	for i := 0; b.Loop(); i++ {
		text := []byte(reading(i))
		same := appendDraftLine(nil, d.next, '+', d.hash, text)
		var ours, theirs float64
		record := func() { ours = timed(b, func() error { return d.Append(text) }) }
		write := func() { theirs = timed(b, func() error { return writeSynced(bare, same) }) }
		if i%2 == 0 {
			record()
			write()
		} else {
			write()
			record()
		}
		ratios, micros = append(ratios, ours/theirs), append(micros, ours*1e6)
	}
	b.ReportMetric(median(ratios), "x/bare")
	b.ReportMetric(median(micros), "us/reading")
}

// BenchmarkVerify compares the verification of a ledger with the SHA-256 program of the system over the
// same files, in pairs. "x/sha256sum" is the median of the ratios; the bar is 2.
func BenchmarkVerify(b *testing.B) {
	program, err := exec.LookPath("sha256sum")
	if err != nil {
		b.Skip("no sha256sum to compare with")
	}
	total := 1_000_000
	if testing.Short() {
		total = 50_000
	}
	for _, each := range []int{12, 100} {
		b.Run(fmt.Sprintf("%d readings, %d a record", total, each), func(b *testing.B) {
			dir := filepath.Join(b.TempDir(), "ledger")
			fill(b, dir, total/each, 1000, each)
			files, err := filepath.Glob(dir + "/*/*.jsonl")
			if err != nil {
				b.Fatal(err)
			}
			var ratios, rates []float64
			for b.Loop() {
				bytes := int64(0)
				ours := timed(b, func() error {
					report, err := Verify(dir, nil, func(_, total int64) { bytes = total })
					if len(report.Damage) > 0 {
						err = fmt.Errorf("damage %v", report.Damage)
					}
					return err
				})
				theirs := timed(b, func() error { return exec.Command(program, files...).Run() })
				ratios, rates = append(ratios, ours/theirs), append(rates, float64(bytes)/1e6/ours)
			}
			b.ReportMetric(median(ratios), "x/sha256sum")
			b.ReportMetric(median(rates), "MB/s")
		})
	}
}

// BenchmarkHistory opens a ledger and reads the history of one tool of 100 inspections, as a new program
// does. The bar is 15 ms among 100,000 inspections, and the same time in a small ledger and a large one.
func BenchmarkHistory(b *testing.B) {
	sizes := []int{1000, 10_000, 100_000}
	if testing.Short() {
		sizes = sizes[:2]
	}
	for _, inspections := range sizes {
		b.Run(fmt.Sprintf("%d inspections", inspections), func(b *testing.B) {
			dir := filepath.Join(b.TempDir(), "ledger")
			fill(b, dir, inspections, inspections/100, 12)
			benchmarkHistory(b, dir, 300)
		})
	}
	b.Run(fmt.Sprintf("%d tools", sizes[len(sizes)-1]), func(b *testing.B) {
		dir := filepath.Join(b.TempDir(), "ledger")
		fill(b, dir, sizes[len(sizes)-1], sizes[len(sizes)-1], 12)
		benchmarkHistory(b, dir, 3)
	})
}

func benchmarkHistory(b *testing.B, dir string, want int) {
	b.Helper()
	var millis []float64
	for b.Loop() {
		millis = append(millis, 1000*timed(b, func() error {
			l, err := Open(dir, Options{})
			if err != nil {
				return err
			}
			n := 0
			for _, err := range l.History("tool:EM-000000") {
				if err != nil {
					return err
				}
				n++
			}
			if n != want {
				return fmt.Errorf("%d records, want %d", n, want)
			}
			return nil
		}))
	}
	b.ReportMetric(median(millis), "ms/history")
}
