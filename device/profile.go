package device

import (
	"fmt"
	"math/big"
	"regexp"
	"slices"
	"strings"
	"time"

	"flutelog/inspect/length"
)

// Mode is how a reading is taken from a gauge.
type Mode string

const (
	Button Mode = "button" // the gauge's own button sends a frame
	Stream Mode = "stream" // the gauge sends all the time; a key takes the next frame
	Poll   Mode = "poll"   // a key sends the request; the gauge answers
)

// Sense says which way of the contact the gauge shows as plus.
type Sense string

const (
	PlusIn  Sense = "in"  // plus is contact pushed in, a high surface: taken as it is shown
	PlusOut Sense = "out" // plus is contact let out: the sign is turned round
)

// Duration is a time such as 300ms or 2s, written so in the bench file.
type Duration time.Duration

// UnmarshalText reads a duration with its unit.
func (d *Duration) UnmarshalText(text []byte) error {
	v, err := time.ParseDuration(string(text))
	if err != nil {
		return fmt.Errorf("time %q: write it with its unit, as in 300ms or 2s", text)
	}
	*d = Duration(v)
	return nil
}

// MarshalText writes d as UnmarshalText reads it.
func (d Duration) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// String returns d as time.Duration prints it.
func (d Duration) String() string { return time.Duration(d).String() }

// Profile describes a gauge that speaks in frames of text: how its line is set, what a frame looks like
// and how a reading is taken. Every key may be left out except unit, which may be left out only where the
// frame itself says the unit.
type Profile struct {
	// Name is what the person calls the gauge. Default: the port.
	Name string `toml:"name"`
	// Practice says that it plays invented readings: what is read with it stands for nothing.
	Practice bool `toml:"practice"`
	// Port is the serial port, best by a name that stays the same when the plug is moved, as Ports lists
	// it. No default; keyboard and replay need none.
	Port string `toml:"port"`
	// Baud is the speed of the line. Default 9600.
	Baud int `toml:"baud"`
	// DataBits is 5, 6, 7 or 8. Default 8.
	DataBits int `toml:"data-bits"`
	// Parity is none, odd, even, mark or space. Default none. Where the gauge can send parity, use it: it is
	// the only thing that shows a digit changed by noise.
	Parity string `toml:"parity"`
	// StopBits is 1 or 2. Default 1.
	StopBits int `toml:"stop-bits"`
	// DTR and RTS are "on" or "off" for gauges that live on these modem lines. Default: as the system
	// leaves them. A port without modem lines ignores them.
	DTR string `toml:"dtr"`
	RTS string `toml:"rts"`

	// FrameEnd is the bytes that end a frame. Default: a carriage return, a line feed, or both.
	FrameEnd string `toml:"frame-end"`
	// Take is button, stream or poll. Default poll where there is a request, else button.
	Take Mode `toml:"take"`
	// Request is the bytes that ask for a reading, with their own ending. Poll needs it.
	Request string `toml:"request"`
	// Pattern is the regular expression a whole frame must match, with the named groups value and,
	// where the frame has them, sign, unit and status. A pattern with a fixed number of digits also
	// catches lost characters. Default: any one number with an optional sign and unit.
	Pattern string `toml:"pattern"`

	// Unit is the unit of a frame that does not say its own: in, mm, um, thou or tenths. A frame that says
	// another unit is refused, unless Units maps it.
	Unit length.Unit `toml:"unit"`
	// Units maps what the unit group matches to a unit, as in { I = "in", M = "mm" }. A frame in
	// any mapped unit is converted exactly. Default: only the unit's own name.
	Units map[string]length.Unit `toml:"units"`
	// Scale is what the gauge's number is multiplied with, a decimal number. Default 1.
	Scale string `toml:"scale"`
	// DecimalMark is "." or ",". Default ".".
	DecimalMark string `toml:"decimal-mark"`
	// Sense is in or out: which way of the contact shows as plus. Default in.
	Sense Sense `toml:"sense"`

	// GoodStatus lists what the status group may match in a good frame. Default: nothing or spaces.
	GoodStatus []string `toml:"good-status"`
	// OverRangeStatus lists what the status group matches when the gauge is out of its range. Default none.
	OverRangeStatus []string `toml:"over-range-status"`
	// LowBatteryStatus lists what the status group matches when the battery is low. Default none. Any
	// status in no list is refused too, and shown.
	LowBatteryStatus []string `toml:"low-battery-status"`

	// QuietTime is, in button mode, how long after a frame an identical one is taken for a bounce of the
	// button and dropped, and a different one refused. Default 300ms.
	QuietTime Duration `toml:"quiet-time"`
	// Timeout is how long a stream or an answer may stay away; in button mode, how long until the
	// silence is told. An answer that is up to twice as late is known to be late; one later still cannot be told
	// from the answer to the next request. Default 2s; 30s in button mode.
	Timeout Duration `toml:"timeout"`
	// StuckAfter is the number of equal readings, with no other value seen between, at which the person is
	// asked whether the gauge is stuck. Default 5; 2 in stream mode, where the digits are seen to move
	// when the tool is turned.
	StuckAfter int `toml:"stuck-after"`

	// Resolution is the smallest step of the gauge. Default: one step of the last decimal seen.
	Resolution length.Length `toml:"resolution"`
	// PermissibleError is the maximum permissible error, from the gauge's certificate or data sheet; it is
	// carried for the uncertainty of a reading. Default 0: not stated.
	PermissibleError length.Length `toml:"permissible-error"`
}

// defaultPattern takes one number with an optional sign and unit, and nothing else.
const defaultPattern = `\s*(?P<sign>[+-]?)\s*(?P<value>\d+[.,]?\d*|[.,]\d+)\s*(?P<unit>[A-Za-z]*)\s*`

// WithDefaults returns p with each key that was left out at the default its comment gives.
func (p Profile) WithDefaults() Profile {
	setString(&p.Name, p.Port)
	setString(&p.Name, "gauge")
	setInt(&p.Baud, 9600)
	setInt(&p.DataBits, 8)
	setString(&p.Parity, "none")
	setInt(&p.StopBits, 1)
	if p.Take == "" {
		p.Take = Button
		if p.Request != "" {
			p.Take = Poll
		}
	}
	setString(&p.Pattern, defaultPattern)
	setString(&p.Scale, "1")
	setString(&p.DecimalMark, ".")
	if p.Sense == "" {
		p.Sense = PlusIn
	}
	if p.GoodStatus == nil {
		p.GoodStatus = []string{""}
	}
	if p.QuietTime == 0 {
		p.QuietTime = Duration(300 * time.Millisecond)
	}
	if p.Timeout == 0 {
		p.Timeout = Duration(2 * time.Second)
		if p.Take == Button {
			p.Timeout = Duration(30 * time.Second)
		}
	}
	if p.Take == Stream {
		setInt(&p.StuckAfter, 2)
	}
	setInt(&p.StuckAfter, 5)
	return p
}

func setString(s *string, def string) {
	if *s == "" {
		*s = def
	}
}

func setInt(n *int, def int) {
	if *n == 0 {
		*n = def
	}
}

// Check says which key of p is impossible, and what to write instead.
func (p Profile) Check() error {
	p = p.WithDefaults()
	for _, check := range []func(Profile) error{checkLine, checkTaking, checkPattern, checkValue} {
		if err := check(p); err != nil {
			return fmt.Errorf("gauge %q: %w", p.Name, err)
		}
	}
	return nil
}

func checkLine(p Profile) error {
	switch {
	case p.Baud < 50 || p.Baud > 4_000_000:
		return fmt.Errorf("baud %d: want 50 to 4000000, as the gauge's manual says", p.Baud)
	case p.DataBits < 5 || p.DataBits > 8:
		return fmt.Errorf("data-bits %d: want 5, 6, 7 or 8", p.DataBits)
	case p.StopBits < 1 || p.StopBits > 2:
		return fmt.Errorf("stop-bits %d: want 1 or 2", p.StopBits)
	}
	if _, ok := parities[p.Parity]; !ok {
		return fmt.Errorf("parity %q: want none, odd, even, mark or space", p.Parity)
	}
	for key, v := range map[string]string{"dtr": p.DTR, "rts": p.RTS} {
		if v != "" && v != "on" && v != "off" {
			return fmt.Errorf("%s %q: want on or off", key, v)
		}
	}
	return nil
}

func checkTaking(p Profile) error {
	switch {
	case p.Take != Button && p.Take != Stream && p.Take != Poll:
		return fmt.Errorf("take %q: want button, stream or poll", p.Take)
	case p.Take == Poll && p.Request == "":
		return fmt.Errorf("take %q: write the bytes that ask for a reading as request", p.Take)
	case len(p.FrameEnd) > maxFrame/2:
		return fmt.Errorf("frame-end of %d bytes: want at most %d", len(p.FrameEnd), maxFrame/2)
	case p.QuietTime < 0:
		return fmt.Errorf("quiet-time %v: want a time such as 300ms", p.QuietTime)
	case p.Timeout < 0:
		return fmt.Errorf("timeout %v: want a time such as 2s", p.Timeout)
	case p.StuckAfter < 2:
		return fmt.Errorf("stuck-after %d: want 2 or more equal readings", p.StuckAfter)
	}
	return nil
}

var groupNames = []string{"value", "sign", "unit", "status"}

func checkPattern(p Profile) error {
	re, err := compile(p.Pattern)
	if err != nil {
		return fmt.Errorf("pattern %q: %w", p.Pattern, err)
	}
	for _, name := range re.SubexpNames() {
		if name != "" && !slices.Contains(groupNames, name) {
			return fmt.Errorf("pattern %q: group %q: want value, sign, unit or status", p.Pattern, name)
		}
	}
	if re.SubexpIndex("value") < 0 {
		return fmt.Errorf("pattern %q: no group for the number; write (?P<value>...) round it", p.Pattern)
	}
	if p.Unit == length.None && re.SubexpIndex("unit") < 0 {
		return fmt.Errorf("no unit: the pattern has no unit group, so write under unit what the gauge shows, as in or mm")
	}
	return nil
}

// compile anchors a pattern, so that a frame matches as a whole or not at all.
func compile(pattern string) (*regexp.Regexp, error) {
	if _, err := regexp.Compile(pattern); err != nil {
		return nil, err
	}
	return regexp.Compile(`^(?:` + pattern + `)$`)
}

func checkValue(p Profile) error {
	if p.Unit != length.None {
		if _, err := length.ParseUnit(string(p.Unit)); err != nil {
			return err
		}
	}
	for text, u := range p.Units {
		if _, err := length.ParseUnit(string(u)); err != nil {
			return fmt.Errorf("units: %q: %w", text, err)
		}
	}
	if scale, ok := decimal(p.Scale); !ok || scale.Sign() <= 0 {
		return fmt.Errorf("scale %q: want a decimal number above 0, such as 0.5", p.Scale)
	}
	switch {
	case p.DecimalMark != "." && p.DecimalMark != ",":
		return fmt.Errorf("decimal-mark %q: want . or ,", p.DecimalMark)
	case p.Sense != PlusIn && p.Sense != PlusOut:
		return fmt.Errorf("sense %q: want in or out", p.Sense)
	case p.Resolution < 0:
		return fmt.Errorf("resolution %v: want a length above 0", p.Resolution)
	case p.PermissibleError < 0:
		return fmt.Errorf("permissible-error %v: want a length above 0", p.PermissibleError)
	}
	return nil
}

var decimalNumber = regexp.MustCompile(`^(\d{1,20}\.?\d{0,20}|\.\d{1,20})$`)

// decimal reads a plain decimal number without a sign, exactly.
func decimal(s string) (*big.Rat, bool) {
	if !decimalNumber.MatchString(s) {
		return nil, false
	}
	return new(big.Rat).SetString(s)
}

// TOML returns the keys of p that were set, as text to paste into the bench file.
func (p Profile) TOML() string {
	var b strings.Builder
	text := func(key, v string) {
		if v != "" {
			fmt.Fprintf(&b, "%s = %s\n", key, tomlString(v))
		}
	}
	number := func(key string, n int) {
		if n != 0 {
			fmt.Fprintf(&b, "%s = %d\n", key, n)
		}
	}
	list := func(key string, vs []string) {
		if vs != nil {
			quoted := make([]string, len(vs))
			for i, v := range vs {
				quoted[i] = tomlString(v)
			}
			fmt.Fprintf(&b, "%s = [%s]\n", key, strings.Join(quoted, ", "))
		}
	}
	text("name", p.Name)
	if p.Practice {
		b.WriteString("practice = true\n")
	}
	text("port", p.Port)
	number("baud", p.Baud)
	number("data-bits", p.DataBits)
	text("parity", p.Parity)
	number("stop-bits", p.StopBits)
	text("dtr", p.DTR)
	text("rts", p.RTS)
	text("frame-end", p.FrameEnd)
	text("take", string(p.Take))
	text("request", p.Request)
	text("pattern", p.Pattern)
	text("unit", string(p.Unit))
	if len(p.Units) > 0 {
		fmt.Fprintf(&b, "units = %s\n", tomlUnits(p.Units))
	}
	text("scale", p.Scale)
	text("decimal-mark", p.DecimalMark)
	text("sense", string(p.Sense))
	list("good-status", p.GoodStatus)
	list("over-range-status", p.OverRangeStatus)
	list("low-battery-status", p.LowBatteryStatus)
	for _, d := range []struct {
		key string
		d   Duration
	}{{"quiet-time", p.QuietTime}, {"timeout", p.Timeout}} {
		if d.d != 0 {
			text(d.key, d.d.String())
		}
	}
	number("stuck-after", p.StuckAfter)
	for _, l := range []struct {
		key string
		l   length.Length
	}{{"resolution", p.Resolution}, {"permissible-error", p.PermissibleError}} {
		if l.l != 0 {
			text(l.key, l.l.String())
		}
	}
	return b.String()
}

func tomlUnits(units map[string]length.Unit) string {
	var pairs []string
	for text, u := range units {
		pairs = append(pairs, tomlString(text)+" = "+tomlString(string(u)))
	}
	slices.Sort(pairs)
	return "{ " + strings.Join(pairs, ", ") + " }"
}

// tomlString quotes s for a TOML file: as a literal string where it has a backslash and nothing that
// needs one, so that a pattern stays readable.
func tomlString(s string) string {
	plain := !strings.ContainsFunc(s, func(r rune) bool { return r < ' ' || r == '\'' || r == 0x7f })
	if plain && strings.ContainsAny(s, `\"`) {
		return "'" + s + "'"
	}
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		switch {
		case r == '"' || r == '\\':
			b.WriteByte('\\')
			b.WriteRune(r)
		case r == '\r':
			b.WriteString(`\r`)
		case r == '\n':
			b.WriteString(`\n`)
		case r == '\t':
			b.WriteString(`\t`)
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, `\u%04X`, r)
		default:
			b.WriteRune(r)
		}
	}
	b.WriteByte('"')
	return b.String()
}
