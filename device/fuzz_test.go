package device

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"time"

	"flutelog/inspect/length"
)

// A recording that is read plays to its end: whatever its gauge says comes, in order.
func FuzzReadRecording(f *testing.F) {
	for _, s := range []string{
		recordingForm + "\nwait 0s\ngauge \"+0.0003\\r\\n\"\nbench \"?\\r\"\nunplugged\ngauge \"\\x00\\xff\"\n", recordingForm + "\nwait -1s\n", recordingForm + "\ngauge `x`\n",
		recordingForm + "\n# only\n", "", recordingForm + "\nwait 99999999999h\n", recordingForm + "\ngauge \"\"\n", recordingForm + "\ngauge\n", recordingForm + "\ngauge 'x'\n",
	} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		rec, err := ReadRecording(strings.NewReader(text))
		if err != nil {
			return
		}
		want := ""
		for i := range rec.steps {
			rec.steps[i].wait = 0
			if rec.steps[i].what == "gauge" {
				want += string(rec.steps[i].bytes)
			}
		}
		line, err := rec.Open()
		if err != nil {
			t.Fatal(err)
		}
		defer line.Close()
		go func() {
			for { // whatever is asked for
				if _, err := line.Write(nil); err != nil {
					return
				}
			}
		}()
		got := ""
		for buf := make([]byte, 7); ; {
			n, err := line.Read(buf)
			got += string(buf[:n])
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil && !errors.Is(err, errUnplugged) {
				t.Fatal(err)
			}
		}
		if got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	})
}

// A practice script that is read reads back from how its steps print.
func FuzzReadScript(f *testing.F) {
	for _, s := range []string{"0.0003\n-0.1 noise\n# c\n", "1mm unplug", "1 hiccup", "99999999999", "0.1  late ", "\x00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		steps, err := ReadScript(strings.NewReader(text), length.In)
		if err != nil {
			return
		}
		var printed strings.Builder
		for _, s := range steps {
			fmt.Fprintf(&printed, "%s %s\n", s.Value, s.Fault)
		}
		again, err := ReadScript(strings.NewReader(printed.String()), length.In)
		if err != nil || fmt.Sprint(again) != fmt.Sprint(steps) {
			t.Errorf("%v reads back as %v, %v", steps, again, err)
		}
	})
}

// A time that is read prints so that it reads back the same.
func FuzzDuration(f *testing.F) {
	for _, s := range []string{"300ms", "2s", "-1h", "1", "1e3s", "9223372036854775807ns", "µs"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		var d, again Duration
		if d.UnmarshalText([]byte(s)) != nil {
			return
		}
		if err := again.UnmarshalText([]byte(d.String())); err != nil || again != d {
			t.Errorf("%q: %s reads back as %s, %v", s, time.Duration(d), time.Duration(again), err)
		}
	})
}
