package device

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"flutelog/inspect/length"

	"github.com/google/go-cmp/cmp"
	"github.com/pelletier/go-toml/v2"
)

func TestProfileDefaults(t *testing.T) {
	p := Profile{Port: "/dev/ttyX", Unit: length.In}.WithDefaults()
	want := Profile{
		Name: "/dev/ttyX", Port: "/dev/ttyX", Baud: 9600, DataBits: 8, Parity: "none", StopBits: 1, Take: Button,
		Pattern: defaultPattern, Unit: length.In, Scale: "1", DecimalMark: ".", Sense: PlusIn, GoodStatus: []string{""},
		QuietTime: Duration(300 * time.Millisecond), Timeout: Duration(30 * time.Second), StuckAfter: 5,
	}
	if diff := cmp.Diff(want, p); diff != "" {
		t.Error(diff)
	}
	poll := Profile{Request: "?\r"}.WithDefaults()
	if poll.Take != Poll || poll.Timeout != Duration(2*time.Second) {
		t.Errorf("with a request: got take %s, timeout %v, want poll, 2s", poll.Take, poll.Timeout)
	}
	if stream := (Profile{Take: Stream}).WithDefaults(); stream.StuckAfter != 2 {
		t.Errorf("stream: got stuck-after %d, want 2", stream.StuckAfter)
	}
}

func TestProfileCheck(t *testing.T) {
	tests := []struct {
		name string
		p    Profile
		want string // in the error; empty for none
	}{
		{"unit alone", Profile{Unit: length.In}, ""},
		{"unit in the frame", Profile{}, ""},
		{"speed", Profile{Unit: length.In, Baud: 10}, "baud 10"},
		{"data bits", Profile{Unit: length.In, DataBits: 9}, "data-bits 9"},
		{"stop bits", Profile{Unit: length.In, StopBits: 3}, "stop-bits 3"},
		{"parity", Profile{Unit: length.In, Parity: "straight"}, `parity "straight"`},
		{"modem line", Profile{Unit: length.In, DTR: "yes"}, `dtr "yes"`},
		{"taking", Profile{Unit: length.In, Take: "push"}, `take "push"`},
		{"poll without a request", Profile{Unit: length.In, Take: Poll}, "request"},
		{"frame end", Profile{Unit: length.In, FrameEnd: strings.Repeat("x", maxFrame)}, "frame-end"},
		{"quiet time", Profile{Unit: length.In, QuietTime: -1}, "quiet-time"},
		{"time-out", Profile{Unit: length.In, Timeout: -1}, "timeout"},
		{"stuck", Profile{Unit: length.In, StuckAfter: 1}, "stuck-after"},
		{"no pattern", Profile{Unit: length.In, Pattern: "("}, "pattern"},
		{"pattern that escapes its anchor", Profile{Unit: length.In, Pattern: `(?P<value>\d)|x)(`}, "pattern"},
		{"no value", Profile{Unit: length.In, Pattern: `\d+`}, "(?P<value>"},
		{"unknown group", Profile{Unit: length.In, Pattern: `(?P<value>\d)(?P<colour>.)`}, `"colour"`},
		{"no unit anywhere", Profile{Pattern: `(?P<value>\d)`}, "no unit"},
		{"unit", Profile{Unit: "furlong"}, `"furlong"`},
		{"mapped unit", Profile{Units: map[string]length.Unit{"F": "furlong"}}, `"F"`},
		{"scale", Profile{Unit: length.In, Scale: "1/2"}, "scale"},
		{"no scale", Profile{Unit: length.In, Scale: "0.0"}, "scale"},
		{"decimal mark", Profile{Unit: length.In, DecimalMark: "·"}, "decimal-mark"},
		{"sense", Profile{Unit: length.In, Sense: "up"}, `sense "up"`},
		{"resolution", Profile{Unit: length.In, Resolution: -1}, "resolution"},
		{"permissible error", Profile{Unit: length.In, PermissibleError: -1}, "permissible-error"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			switch err := tt.p.Check(); {
			case tt.want == "" && err != nil:
				t.Errorf("got %v, want none", err)
			case tt.want != "" && (err == nil || !strings.Contains(err.Error(), tt.want)):
				t.Errorf("got %v, want an error with %q", err, tt.want)
			}
		})
	}
}

// The text a profile is written out as is what a TOML reader takes back, every key known.
func TestProfileTOML(t *testing.T) {
	full := Profile{
		Name: "bench 2 \"left\"", Port: "/dev/serial/by-id/x", Baud: 4800, DataBits: 7, Parity: "even", StopBits: 2,
		DTR: "on", RTS: "off", FrameEnd: "\r\n", Take: Poll, Request: "\x1b?\t\\'\r", Pattern: `(?P<value>\d+\.\d{3})'(?P<unit>"|mm)`,
		Unit: length.In, Units: map[string]length.Unit{`"`: length.In, "M": length.Mm}, Scale: "0.5", DecimalMark: ",", Sense: PlusOut,
		GoodStatus: []string{"", "G"}, OverRangeStatus: []string{"OL"}, LowBatteryStatus: []string{"B"},
		QuietTime: Duration(time.Second), Timeout: Duration(1500 * time.Millisecond), StuckAfter: 9,
		Resolution: 5 * length.Tenth / 10, PermissibleError: length.Tenth,
	}
	for _, p := range []Profile{full, {}, PracticeProfile(Stream, length.Mm)} {
		reader := toml.NewDecoder(bytes.NewReader([]byte(p.TOML()))).DisallowUnknownFields()
		var got Profile
		if err := reader.Decode(&got); err != nil {
			t.Errorf("%v in\n%s", err, p.TOML())
			continue
		}
		if diff := cmp.Diff(p, got); diff != "" {
			t.Errorf("%s\nfrom\n%s", diff, p.TOML())
		}
	}
}

func TestDurationRefuses(t *testing.T) {
	for _, text := range []string{"", "300", "soon"} {
		var d Duration
		if err := d.UnmarshalText([]byte(text)); err == nil {
			t.Errorf("%q: got %v, want an error", text, d)
		}
	}
}

// Whatever keys hold, a profile that passes its check makes a decoder, and one that does not makes none.
func FuzzProfile(f *testing.F) {
	f.Add(`(?P<value>\d+)`, "in", "1", ".", "\r\n", "?")
	f.Add(defaultPattern, "", "0.5", ",", "", "")
	f.Add(`(`, "mm", "-1", "x", "\x00", "\x00")
	f.Fuzz(func(t *testing.T, pattern, unit, scale, mark, end, request string) {
		p := Profile{Pattern: pattern, Unit: length.Unit(unit), Scale: scale, DecimalMark: mark, FrameEnd: end, Request: request}
		d, err := NewDecoder(p)
		if (err == nil) != (p.Check() == nil) || (err == nil) != (d != nil) {
			t.Errorf("check says %v, the decoder %v", p.Check(), err)
		}
	})
}
