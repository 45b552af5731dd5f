package device

import (
	"bytes"
	"errors"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"flutelog/inspect/length"
)

func TestDecode(t *testing.T) {
	tests := []struct {
		name       string
		p          Profile
		raw        string
		want       length.Length // 1 in = 25.4 mm exactly (international inch, 1959)
		unit       length.Unit
		text       string
		resolution length.Length
	}{
		{"inch", Profile{Unit: length.In}, "+0.0005", 12_700_000, length.In, "+0.0005", 2_540_000},
		{"millimetre with unit", Profile{}, " -0.013 mm", -13_000_000, length.Mm, "-0.013", 1_000_000},
		{"unit in capitals", Profile{}, "0.5MM", 500_000_000, length.Mm, "0.5", 100_000_000},
		{"no decimals", Profile{Unit: length.Um}, "12", 12_000_000, length.Um, "12", 1_000_000},
		{"tenths", Profile{Unit: length.Tenths}, "3.5", 8_890_000, length.Tenths, "3.5", 254_000},
		{"no whole digit", Profile{Unit: length.In}, "-.0005", -12_700_000, length.In, "-.0005", 2_540_000},
		{"minus nothing", Profile{Unit: length.In}, "-0.0000", 0, length.In, "-0.0000", 2_540_000},
		{"comma", Profile{Unit: length.Mm, DecimalMark: ","}, "-0,013", -13_000_000, length.Mm, "-0,013", 1_000_000},
		{"plus is out", Profile{Unit: length.Mm, Sense: PlusOut}, "+0.013", -13_000_000, length.Mm, "+0.013", 1_000_000},
		{"lever of half travel", Profile{Unit: length.Mm, Scale: "0.5"}, "-0.013", -6_500_000, length.Mm, "-0.013", 500_000},
		{"counts of two microns", Profile{Unit: length.Um, Scale: "2"}, "+7", 14_000_000, length.Um, "+7", 2_000_000},
		{"stated resolution", Profile{Unit: length.In, Resolution: length.Tenth / 2}, "0.00050", 12_700_000, length.In, "0.00050", 1_270_000},
		{"mapped unit, converted", Profile{Unit: length.In, Units: map[string]length.Unit{"M": length.Mm}}, "0.0254M", 25_400_000, length.Mm, "0.0254", 100_000},
		{"channel before the value", Profile{Unit: length.Mm, Pattern: `01A(?P<value>[+-]\d{5}\.\d{3})`}, "01A+00000.013", 13_000_000, length.Mm, "+00000.013", 1_000_000},
		{"good status", Profile{Unit: length.Mm, Pattern: `(?P<value>\d+\.\d+)(?P<status>.)`, GoodStatus: []string{"G"}}, "0.013G", 13_000_000, length.Mm, "0.013", 1_000_000},
		{"status left blank", Profile{Unit: length.Mm, Pattern: `(?P<value>\d+\.\d+)(?P<status>.)`}, "0.013 ", 13_000_000, length.Mm, "0.013", 1_000_000},
	}
	at := time.Unix(1_700_000_000, 0)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d, err := NewDecoder(tt.p)
			if err != nil {
				t.Fatal(err)
			}
			got, err := d.Decode([]byte(tt.raw), at)
			want := Frame{Raw: tt.raw, Text: tt.text, Value: tt.want, Unit: tt.unit, Resolution: tt.resolution, At: at}
			if err != nil || got != want {
				t.Errorf("got %+v, %v\nwant %+v", got, err, want)
			}
		})
	}
}

func TestDecodeRefuses(t *testing.T) {
	status := Profile{
		Unit: length.Mm, Pattern: `(?:(?P<value>\d+\.\d+)|-+)(?P<status>\w*)`,
		GoodStatus: []string{"G"}, OverRangeStatus: []string{"OL"}, LowBatteryStatus: []string{"B"},
	}
	tests := []struct {
		name string
		p    Profile
		raw  string
		want error
	}{
		{"nothing", Profile{Unit: length.In}, "", ErrNoMatch},
		{"two numbers", Profile{Unit: length.In}, "0.1 0.2", ErrNoMatch},
		{"more before", Profile{Unit: length.In, Pattern: `(?P<value>\d+)`}, "x1", ErrNoMatch},
		{"more after", Profile{Unit: length.In, Pattern: `(?P<value>\d+)`}, "1x", ErrNoMatch},
		{"alternatives are anchored too", Profile{Unit: length.In, Pattern: `(?P<value>\d+)|-`}, "1x", ErrNoMatch},
		{"line feed after", Profile{Unit: length.In, Pattern: `(?P<value>\d+)`}, "1\n", ErrNoMatch},
		{"zero byte", Profile{Unit: length.In}, "0.0\x0005", ErrNoMatch},
		{"other unit", Profile{Unit: length.In}, "0.013mm", ErrUnit},
		{"unknown unit", Profile{}, "0.013 furlongs", ErrUnit},
		{"no unit at all", Profile{}, "0.013", ErrUnit},
		{"comma where the mark is a point", Profile{Unit: length.Mm}, "0,013", ErrNumber},
		{"point where the mark is a comma", Profile{Unit: length.Mm, DecimalMark: ","}, "1.013", ErrNumber},
		{"finer than a picometre", Profile{Unit: length.Mm}, "0.0000000001", ErrNumber},
		{"step finer than a picometre", Profile{Unit: length.Mm}, "0.0000000000", ErrNumber},
		{"too large", Profile{Unit: length.Mm}, "99999999999", ErrNumber},
		{"sign twice", Profile{Unit: length.Mm, Pattern: `(?P<sign>[+-])(?P<value>[+-]?\d+)`}, "+-1", ErrNumber},
		{"sign twice, scaled", Profile{Unit: length.Mm, Scale: "2", Pattern: `(?P<sign>[+-])(?P<value>[+-]?\d+)`}, "--1", ErrNumber},
		{"exponent", Profile{Unit: length.Mm, Scale: "2", Pattern: `(?P<value>.*)`}, "1e2", ErrNumber},
		{"fraction", Profile{Unit: length.Mm, Scale: "2", Pattern: `(?P<value>.*)`}, "1/2", ErrNumber},
		{"out of range, no number", status, "--OL", ErrOverRange},
		{"out of range, a number all the same", status, "9.999OL", ErrOverRange},
		{"battery", status, "0.013B", ErrLowBattery},
		{"unknown status", status, "0.013X", ErrStatus},
		{"status missing", status, "0.013", ErrStatus},
		{"good, but no number", status, "--G", ErrNumber},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			d, err := NewDecoder(tt.p)
			if err != nil {
				t.Fatal(err)
			}
			got, err := d.Decode([]byte(tt.raw), time.Time{})
			var refused *Refused
			if !errors.Is(err, tt.want) || !errors.As(err, &refused) || refused.Raw != tt.raw || got != (Frame{}) {
				t.Errorf("got %+v, %v, want refused: %v", got, err, tt.want)
			}
		})
	}
}

// picometres is the size of each unit, from the definition of the inch, 25.4 mm.
var picometres = map[length.Unit]int64{
	length.In: 25_400_000_000, length.Mm: 1_000_000_000, length.Um: 1_000_000, length.Thous: 25_400_000, length.Tenths: 2_540_000,
}

// rational is the value of a frame's digits by math/big's own parser.
func rational(t *testing.T, text, scale string, unit length.Unit) *big.Rat {
	t.Helper()
	v, ok := new(big.Rat).SetString(strings.Replace(text, ",", ".", 1))
	factor, scaleOK := new(big.Rat).SetString(scale)
	if !ok || !scaleOK {
		t.Fatalf("%q × %q is no number", text, scale)
	}
	return v.Mul(v, factor).Mul(v, new(big.Rat).SetInt64(picometres[unit]))
}

// Whatever the decoder takes is exactly what the frame's digits say.
func FuzzDecode(f *testing.F) {
	for _, raw := range []string{"+0.0005", "-0,013 mm", "1.", ".5in", "99999999", "0.0000000001", "\x00", "−1", "0.5\"", "3tenths"} {
		f.Add([]byte(raw), false, false)
		f.Add([]byte(raw), true, true)
	}
	decoders := map[[2]bool]*Decoder{}
	for _, comma := range []bool{false, true} {
		for _, scaled := range []bool{false, true} {
			p := Profile{Units: map[string]length.Unit{"I": length.In}}
			if comma {
				p.DecimalMark = ","
			}
			if scaled {
				p.Scale, p.Sense = "2.5", PlusOut
			}
			d, err := NewDecoder(p)
			if err != nil {
				f.Fatal(err)
			}
			decoders[[2]bool{comma, scaled}] = d
		}
	}
	f.Fuzz(func(t *testing.T, raw []byte, comma, scaled bool) {
		got, err := decoders[[2]bool{comma, scaled}].Decode(raw, time.Time{})
		if err != nil {
			return
		}
		scale := "1"
		if scaled {
			scale = "-2.5"
		}
		if want := rational(t, got.Text, scale, got.Unit); want.Cmp(new(big.Rat).SetInt64(int64(got.Value))) != 0 {
			t.Errorf("%q: got %d pm, want %s", raw, got.Value, want)
		}
		if got.Resolution <= 0 || got.Raw != string(raw) {
			t.Errorf("%q: got raw %q, resolution %v", raw, got.Raw, got.Resolution)
		}
	})
}

// However the bytes are cut into reads, the frames are the same, and the buffer stays bounded.
func FuzzSplit(f *testing.F) {
	f.Add([]byte("+0.1\r\n+0.2\r\n\r\n+0.3\n"), "", uint64(1))
	f.Add([]byte("+0.1\r\n+0.2\r\n\n\r\r\n"), "\r\n", uint64(2))
	f.Add(bytes.Repeat([]byte("x"), 3*maxFrame), ";", uint64(3))
	f.Add([]byte("aabaabb"), "aab", uint64(4))
	f.Fuzz(func(t *testing.T, all []byte, end string, seed uint64) {
		if len(end) > maxFrame/2 {
			return
		}
		split := func(cut func(left int) int) (frames []string) {
			s := splitter{end: []byte(end)}
			s.emit = func(raw []byte, tail bool, err error) {
				if len(raw) > maxFrame {
					t.Errorf("frame of %d bytes", len(raw))
				}
				kind := "whole "
				if tail {
					kind = "tail "
				}
				if err != nil {
					kind = err.Error() + " "
				}
				frames = append(frames, kind+string(raw))
			}
			for rest := all; len(rest) > 0; {
				n := cut(len(rest))
				s.feed(rest[:n])
				rest = rest[n:]
			}
			if cap(s.held) > 2*maxFrame {
				t.Errorf("buffer of %d bytes", cap(s.held))
			}
			return frames
		}
		random := rand.New(rand.NewPCG(seed, 0))
		whole := split(func(left int) int { return left })
		cut := split(func(left int) int { return 1 + random.IntN(left) })
		if strings.Join(whole, "\n") != strings.Join(cut, "\n") {
			t.Errorf("in one read %q, cut %q", whole, cut)
		}
	})
}

// With no frame too long, what the splitter gives is what bytes.FieldsFunc and strings.Split give.
func TestSplit(t *testing.T) {
	const all = "\r\n+0.1\r\n+0.2\n\n+0.3\r+0.4"
	collect := func(end string) (frames []string, held string) {
		s := splitter{end: []byte(end), emit: func(raw []byte, _ bool, _ error) { frames = append(frames, string(raw)) }}
		s.feed([]byte(all))
		return frames, string(s.held)
	}
	frames, held := collect("")
	want := strings.FieldsFunc(all, func(r rune) bool { return r == '\r' || r == '\n' })
	if got := append(frames, held); strings.Join(got, "|") != strings.Join(want, "|") {
		t.Errorf("lines: got %q, want %q", got, want)
	}
	frames, held = collect("\r\n")
	want = strings.Split(all, "\r\n")[1:]
	if got := append(frames, held); strings.Join(got, "|") != strings.Join(want, "|") {
		t.Errorf("ends in CR LF: got %q, want %q", got, want)
	}
}
