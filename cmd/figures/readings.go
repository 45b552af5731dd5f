//go:build linux

package main

import (
	"encoding/json"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sys/unix"

	"flutelog/device"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
)

// readings measures what one reading costs on its way in.
func readings(b *bench) ([]figure, error) {
	decode, err := decoding()
	if err != nil {
		return nil, err
	}
	durable, err := durable(b)
	return []figure{decode, durable}, err
}

// decoding decodes frames of the practice gauge's form.
func decoding() (figure, error) {
	const frames = 200_000
	decoder, err := device.NewDecoder(device.PracticeProfile(device.Stream, length.In))
	if err != nil {
		return figure{}, err
	}
	raw := []byte("+0.00035 in ok")
	start := processor()
	for range frames {
		if _, err := decoder.Decode(raw, time.Time{}); err != nil {
			return figure{}, err
		}
	}
	rate := frames / (processor() - start).Seconds()
	return figure{"frames decoded a second", fmt.Sprintf("%.0f", rate), "-", "100000 at least", rate >= 100_000}, nil
}

// durable records readings as an inspection does, and writes and syncs the same bytes bare, in pairs.
func durable(b *bench) (figure, error) {
	const pairs = 500
	l, err := ledger.Open(filepath.Join(b.dir, "durable"), ledger.Options{})
	if err != nil {
		return figure{}, err
	}
	draft, err := l.NewDraft("i-1", ledger.Entry{Kind: "opened", Body: json.RawMessage("{}")})
	if err != nil {
		return figure{}, err
	}
	defer draft.Release()
	bare, err := os.OpenFile(filepath.Join(b.dir, "bare"), os.O_CREATE|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return figure{}, err
	}
	defer bare.Close()
	var ratios []float64
	var ours, theirs []time.Duration
	for i := range pairs {
		text := fmt.Appendf(nil, `{"what":"read","reading":{"feature":"radial-runout","flute":%d,"repeat":%d,"value":"0.0127mm","text":"0.0005","unit":"in"}}`, i%4+1, i/4+1)
		body := fmt.Appendf(nil, "%d + %064x %s", i+2, i, text) // as the draft has it, with the hash of the line before
		line := fmt.Appendf(nil, "%08x %s\n", crc32.Checksum(body, crc32.MakeTable(crc32.Castagnoli)), body)
		start := time.Now()
		if err := draft.Append(text); err != nil {
			return figure{}, err
		}
		between := time.Now()
		if _, err := bare.Write(line); err != nil {
			return figure{}, err
		}
		if err := unix.Fdatasync(int(bare.Fd())); err != nil {
			return figure{}, err
		}
		mine, its := between.Sub(start), time.Since(between)
		ours, theirs = append(ours, mine), append(theirs, its)
		ratios = append(ratios, mine.Seconds()/its.Seconds())
	}
	ratio := median(ratios)
	return figure{
		"durable reading", fmt.Sprintf("%.2f times, %s", ratio, short(median(ours))), "bare write and fdatasync " + short(median(theirs)), "1.25 times", ratio <= 1.25,
	}, nil
}
