package device

import (
	"context"
	"errors"
	"math/bits"
	"strings"
	"testing"
	"time"

	"flutelog/inspect/length"
)

// withParity puts the parity bit on seven-bit characters, as a gauge set so sends them.
func withParity(text string, odd int) string {
	out := []byte(text)
	for i, c := range out {
		if bits.OnesCount8(c)%2 != odd {
			out[i] = c | 0x80
		}
	}
	return string(out)
}

// What listening suggests for a frame reads that frame, and frames like it, to the right value.
func TestSuggest(t *testing.T) {
	tests := []struct {
		raw, other string
		want       length.Length // of other
		p          Profile
	}{
		{"+0.00030inG", "-0.00120inG", tenths(-12), Profile{}},
		{"01A+00000.013", "01A-00012.345", -12_345 * length.Micrometre, Profile{Unit: length.Mm}},
		{"   0.013 mm", " -12.345 mm", -12_345 * length.Micrometre, Profile{}},
		{"-  0.013 mm", "-  2.345 mm", -2_345 * length.Micrometre, Profile{}},
		{"0,013", "-0,014", -14 * length.Micrometre, Profile{Unit: length.Mm}},
		{`H .0005"`, `H-.0005"`, tenths(-5), Profile{Pattern: `(?P<value>x)`, Unit: length.In}},
		{"D=0.0005INCH;", "D=0.0015INCH;", tenths(15), Profile{}},
		{"X1234", "X-17", -17 * length.Micrometre, Profile{Unit: length.Um}},
		// The same gauge with its unit button pressed, which the desk then says.
		{"+0.00030inG", "-0.013mmG", -13 * length.Micrometre, Profile{}},
		{"+000.013 MM", "-00.0005 IN", tenths(-5), Profile{}},
		{`H .0005"`, "H 0.01mm", 10 * length.Micrometre, Profile{Unit: length.In}},
	}
	for _, tt := range tests {
		t.Run(tt.raw, func(t *testing.T) {
			p, err := Suggest(tt.p, tt.raw)
			if err != nil {
				t.Fatal(err)
			}
			d, err := NewDecoder(p)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := d.Decode([]byte(tt.raw), time.Time{}); err != nil {
				t.Errorf("pattern %s: %v", p.Pattern, err)
			}
			if f, err := d.Decode([]byte(tt.other), time.Time{}); err != nil || f.Value != tt.want {
				t.Errorf("pattern %s, frame %q: got %s, %v, want %s", p.Pattern, tt.other, f.Value, err, tt.want)
			}
		})
	}
	if p, err := Suggest(Profile{}, "--OL--"); err == nil {
		t.Errorf("no number: got pattern %s", p.Pattern)
	}
}

// Each line of a recording, what must be advised, and the profile that comes of following the advice.
func TestListenAdvises(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, sent, want string
		p                Profile
		change           func(*Profile)
	}{
		{"a reading", "+0.0003\r\n", "", Profile{Unit: length.In}, func(*Profile) {}},
		{"pattern", "A+0.0003\r\n", "pattern = ", Profile{Unit: length.In}, func(p *Profile) {
			p.Pattern = `A(?P<sign>[+-])(?P<value>\d+\.\d{4})`
		}},
		{"unit", "+0.013mm\r\n", `unit = "mm"`, Profile{Unit: length.In}, func(p *Profile) {
			p.Unit, p.Pattern = length.Mm, `(?P<sign>[+-])(?P<value>\d+\.\d{3,5})(?P<unit>mm|in)`
			p.Units = map[string]length.Unit{"in": length.In, "mm": length.Mm}
		}},
		{"comma", "0,013\r\n", `decimal-mark = ","`, Profile{Unit: length.Mm}, func(p *Profile) {
			p.DecimalMark, p.Pattern = ",", `(?P<sign>[+-]?)(?P<value>\d+,\d{3})`
		}},
		{"parity", withParity("+0.013\r\n", 0), `parity = "even"`, Profile{Unit: length.Mm}, func(p *Profile) {
			p.DataBits, p.Parity = 7, "even"
		}},
		{"odd parity", withParity("+0.013\r\n", 1), `parity = "odd"`, Profile{Unit: length.Mm}, func(p *Profile) {
			p.DataBits, p.Parity = 7, "odd"
		}},
		{"speed", "\x80\xfe\x00\x0c", "the speed is wrong", Profile{Unit: length.Mm}, func(*Profile) {}},
		{"other end", "+0.013\r", "leave it out", Profile{Unit: length.Mm, FrameEnd: "\r\n"}, func(p *Profile) { p.FrameEnd = "" }},
		{"end of its own", "+0.013;", `frame-end = ";"`, Profile{Unit: length.Mm}, func(p *Profile) { p.FrameEnd = ";" }},
		{"no end", "+0.013", "break off", Profile{Unit: length.Mm}, func(*Profile) {}},
		{"no number", "----\r\n", "no number", Profile{Unit: length.Mm}, func(*Profile) {}},
		{"silence", "", "nothing has come", Profile{Unit: length.Mm, Timeout: Duration(100 * time.Millisecond)}, func(*Profile) {}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			plug, err := newPlug()
			if err != nil {
				t.Fatal(err)
			}
			defer plug.remove()
			p := tt.p
			p.Port = plug.name()
			if tt.sent != "" {
				soon(func() { plug.send([]byte(tt.sent)) })
			}
			var heard Heard
			err = Listen(inTime(t), OpenSerial(p), p, func(h Heard) error {
				heard = h
				return errEnough
			})
			if !errors.Is(err, errEnough) || string(heard.Raw) != tt.sent {
				t.Fatalf("heard %q, %v, want %q", heard.Raw, err, tt.sent)
			}
			advice := strings.Join(heard.Advice, "\n")
			if (tt.want == "") != (advice == "") || !strings.Contains(advice, tt.want) {
				t.Errorf("advice %q, want %q", advice, tt.want)
			}
			tt.change(&p)
			if got := heard.Profile; got.TOML() != p.TOML() {
				t.Errorf("profile to paste:\n%swant\n%s", got.TOML(), p.TOML())
			}
		})
	}
}

func TestListenShowsReadingsAndEnds(t *testing.T) {
	p := PracticeProfile(Poll, length.In)
	gauge := practice(t, p, []Step{{tenths(3), NoFault}})
	ctx, cancel := context.WithCancel(inTime(t))
	defer cancel()
	var heard Heard
	if err := Listen(ctx, gauge.Open, p, func(h Heard) error {
		heard = h
		cancel()
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if len(heard.Found) != 1 || heard.Found[0].Frame.Value != tenths(3) {
		t.Errorf("got %+v", heard.Found)
	}
	if want := "2B 30 2E 30 30 30 33 30 20 69 6E 20 6F 6B 0D 0A"; heard.Hex() != want { // +0.00030 in ok in ASCII
		t.Errorf("got %s, want %s", heard.Hex(), want)
	}
}
