package device

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"math/bits"
	"regexp"
	"slices"
	"strings"
	"time"

	"flutelog/inspect/length"
)

// Heard is what came from a gauge in one go, and what its profile made of it.
type Heard struct {
	At      time.Time
	Raw     []byte   // every byte, none left out; empty when nothing has come for the profile's timeout
	Found   []Found  // the frames that ended in it
	Advice  []string // what to change or to do, when there is no reading
	Profile Profile  // the profile with those changes that the bytes show to be right
}

// Found is one frame: a reading, or why it is none.
type Found struct {
	Frame Frame
	Err   error
}

// Hex returns the bytes in hexadecimal, as in "2B 30 0D".
func (h Heard) Hex() string { return fmt.Sprintf("% X", h.Raw) }

// Listen shows all that a gauge sends, so that its profile can be written: each run of bytes with what p makes of
// it and what to change when it is no reading. A gauge with a request is asked every second. Listen goes on until
// ctx ends, and then returns what closing the line says, or until hear returns an error, or the line goes away.
func Listen(ctx context.Context, open Opener, p Profile, hear func(Heard) error) (err error) {
	decoder, err := NewDecoder(p)
	if err != nil {
		return err
	}
	rwc, err := open()
	if err != nil {
		return fmt.Errorf("listening to gauge %q: %w", p.WithDefaults().Name, err)
	}
	l := newListener(withTimeout(rwc), decoder, p)
	defer func() {
		if closeErr := l.line.Close(); err == nil {
			err = closeErr
		}
	}()
	if err := l.line.SetReadTimeout(readEvery); err != nil {
		return err
	}
	for ctx.Err() == nil {
		if err := l.ask(); err != nil {
			return err
		}
		heard, err := l.run()
		if err != nil {
			return fmt.Errorf("listening to gauge %q: %w", decoder.profile.Name, err)
		}
		if heard == nil {
			continue
		}
		if err := hear(*heard); err != nil {
			return err
		}
	}
	return nil
}

const (
	askEvery = time.Second // between two requests while listening
	runGap   = 2 * readEvery
)

type listener struct {
	line    line
	decoder *Decoder
	given   Profile
	split   splitter
	found   []Found
	asked   time.Time
	heard   time.Time // of the last byte, or when silence was last told
}

func newListener(line line, decoder *Decoder, p Profile) *listener {
	l := &listener{line: line, decoder: decoder, given: p, heard: time.Now()}
	l.split = splitter{end: []byte(decoder.profile.FrameEnd), emit: l.frame}
	return l
}

func (l *listener) frame(raw []byte, _ bool, err error) {
	f := Frame{}
	if err == nil {
		f, err = l.decoder.Decode(raw, time.Now())
	} else {
		err = &Refused{Raw: string(raw), At: time.Now(), Err: err}
	}
	l.found = append(l.found, Found{f, err})
}

func (l *listener) ask() error {
	request := l.decoder.profile.Request
	if request == "" || time.Since(l.asked) < askEvery {
		return nil
	}
	l.asked = time.Now()
	if _, err := l.line.Write([]byte(request)); err != nil {
		return fmt.Errorf("sending the request: %w", err)
	}
	return nil
}

// run reads one run of bytes: until nothing more comes for runGap, or as much as a frame may be. It returns nil if
// nothing came.
func (l *listener) run() (*Heard, error) {
	var raw []byte
	buf := make([]byte, maxFrame)
	for len(raw) < maxFrame {
		n, err := l.line.Read(buf[:maxFrame-len(raw)])
		if err != nil && n == 0 && len(raw) == 0 {
			return nil, err
		}
		now := time.Now()
		if n > 0 {
			l.heard = now
			raw = append(raw, buf[:n]...)
			l.split.feed(buf[:n])
		}
		if err != nil || now.Sub(l.heard) >= runGap {
			break
		}
	}
	if len(raw) == 0 && time.Since(l.heard) < time.Duration(l.decoder.profile.Timeout) {
		return nil, nil
	}
	l.heard = time.Now()
	h := &Heard{At: l.heard, Raw: raw, Found: l.found, Profile: l.given}
	l.found = nil
	h.advise()
	return h, nil
}

// advise says what to change, first the line, then the frame, then the pattern: each makes sense only when the one
// before is right.
func (h *Heard) advise() {
	switch {
	case len(h.Raw) == 0:
		h.say("nothing has come: press the gauge's button, see that it is on, or write its request under request; a gauge that draws its power from the port may need dtr or rts")
	case !isText(h.Raw):
		h.adviseLine()
	case len(h.Found) == 0:
		h.adviseEnd()
	default:
		for _, f := range h.Found {
			if f.Err != nil {
				h.adviseFrame(f.Err)
				return
			}
		}
	}
}

func (h *Heard) say(format string, args ...any) {
	h.Advice = append(h.Advice, fmt.Sprintf(format, args...))
}

func isText(raw []byte) bool {
	return !slices.ContainsFunc(raw, func(c byte) bool {
		return c >= 0x7f || c < ' ' && c != '\r' && c != '\n' && c != '\t'
	})
}

// adviseLine looks whether the eighth bit is a parity bit; if not, the speed must be wrong.
func (h *Heard) adviseLine() {
	masked := bytes.Clone(h.Raw)
	even, odd := true, true
	for i, c := range h.Raw {
		masked[i] = c & 0x7f
		even = even && bits.OnesCount8(c)%2 == 0
		odd = odd && bits.OnesCount8(c)%2 == 1
	}
	parity := ""
	switch {
	case isText(masked) && even:
		parity = "even"
	case isText(masked) && odd:
		parity = "odd"
	default:
		h.say("bytes that are no text: the speed is wrong, or the parity; try baud = 1200, 2400, 4800, 9600, 19200, 38400")
		return
	}
	h.say(`the eighth bit is a parity bit: set data-bits = 7 and parity = %q`, parity)
	h.Profile.DataBits, h.Profile.Parity = 7, parity
}

// adviseEnd looks for what ends a frame.
func (h *Heard) adviseEnd() {
	if len(h.Profile.FrameEnd) > 0 && bytes.ContainsAny(h.Raw, "\r\n") {
		h.say("no frame ends in frame-end = %s; leave it out: a line ends at a carriage return or a line feed", tomlString(h.Profile.FrameEnd))
		h.Profile.FrameEnd = ""
		return
	}
	last := string(h.Raw[len(h.Raw)-1:])
	if strings.ContainsAny(last, "0123456789") {
		h.say("no frame ends here: the bytes break off, or every frame has the same length and no end; have the gauge send one")
		return
	}
	h.say("no frame ends here; if each frame ends so, set frame-end = %s", tomlString(last))
	h.Profile.FrameEnd = last
}

// adviseFrame looks why a frame is no reading.
func (h *Heard) adviseFrame(err error) {
	var refused *Refused
	errors.As(err, &refused)
	garbled := errors.Is(err, ErrNoMatch) || errors.Is(err, ErrNumber) || errors.Is(err, ErrUnit)
	if !garbled {
		h.say("%v", err)
		return
	}
	better, suggestErr := Suggest(h.Profile, refused.Raw)
	if suggestErr != nil {
		h.say("%v", suggestErr)
		return
	}
	h.say("%v", refused.Err)
	h.say("set pattern = %s", tomlString(better.Pattern))
	if better.DecimalMark != h.Profile.DecimalMark {
		h.say("set decimal-mark = %q", better.DecimalMark)
	}
	switch {
	case better.Unit == length.None:
		h.say("the frame does not say its unit: write what the gauge shows under unit")
	case better.Unit != h.Profile.Unit:
		h.say("set unit = %q", better.Unit)
	}
	h.Profile = better
}

// A number in a frame, with its sign, spaces between or before, and the word after it.
var numberInFrame = regexp.MustCompile(`([+-]?)( *)(\d+(?:[.,]\d+)?|[.,]\d+)( *)([A-Za-z"]*)`)

// unitWords are what gauges write for units, a longer word before one it begins with.
var unitWords = []struct {
	word string
	unit length.Unit
}{{"inch", length.In}, {"in", length.In}, {`"`, length.In}, {"mm", length.Mm}, {"um", length.Um}, {"thou", length.Thous}}

// unitAtFront returns the unit that word begins with, as it stands there and what it means.
func unitAtFront(word string) (shown string, unit length.Unit) {
	for _, u := range unitWords {
		if len(word) >= len(u.word) && strings.EqualFold(word[:len(u.word)], u.word) {
			return word[:len(u.word)], u.unit
		}
	}
	return "", length.None
}

// Suggest returns p with a pattern for frames such as raw: the last number with a decimal mark in it, or the last
// number, is the value, and the text around it is taken to be the same in every frame. The number of decimals is
// fixed, so that a lost character is seen. It returns an error where raw has no number.
func Suggest(p Profile, raw string) (Profile, error) {
	all := numberInFrame.FindAllStringSubmatchIndex(raw, -1)
	if len(all) == 0 {
		return p, fmt.Errorf("frame %q: no number in it; if it is a status, list it under over-range-status or low-battery-status and match it by the group status", raw)
	}
	m := all[len(all)-1]
	for _, candidate := range all {
		if strings.ContainsAny(raw[candidate[6]:candidate[7]], ".,") {
			m = candidate
		}
	}
	part := func(i int) string { return raw[m[2*i]:m[2*i+1]] }
	number, word := part(3), part(5)
	if strings.Contains(number, ",") {
		p.DecimalMark = ","
	}
	rest := raw[m[7]:]
	shown, unit := unitAtFront(word)
	digits := digitsLike(number)
	other := otherUnit(shown, unit)
	if other != "" {
		digits = eitherDigits(number, unit)
	}
	p.Pattern = regexp.QuoteMeta(raw[:m[0]]) + signLike(part(1), part(2)) + "(?P<value>" + digits + ")"
	if shown != "" {
		words := regexp.QuoteMeta(shown)
		p.Unit, p.Units = unit, map[string]length.Unit{}
		if !strings.EqualFold(shown, string(unit)) {
			p.Units[shown] = unit
		}
		if other != "" {
			words += "|" + other
			p.Units[shown], p.Units[other] = unit, otherOf[unit]
		}
		if len(p.Units) == 0 {
			p.Units = nil
		}
		p.Pattern += part(4) + "(?P<unit>" + words + ")"
		rest = raw[m[10]+len(shown):]
	}
	p.Pattern += regexp.QuoteMeta(rest)
	return p, nil
}

// otherOf is the unit that a gauge's unit button changes to.
var otherOf = map[length.Unit]length.Unit{length.In: length.Mm, length.Mm: length.In}

// otherUnit is what a gauge that writes shown most likely writes when its unit button was pressed: a table takes both, so that
// the desk can say what happened. "" where nothing is likely.
func otherUnit(shown string, unit length.Unit) string {
	other := string(otherOf[unit])
	if shown != "" && shown == strings.ToUpper(shown) && shown != strings.ToLower(shown) {
		other = strings.ToUpper(other)
	}
	if shown == "" {
		return ""
	}
	return other
}

// eitherDigits matches numbers of number's form in both units: millimetres have a decimal or two fewer than inches. That the
// number of decimals stays the same within a unit is watched elsewhere.
func eitherDigits(number string, unit length.Unit) string {
	mark := strings.IndexAny(number, ".,")
	if mark < 0 {
		return digitsLike(number)
	}
	n := len(number) - mark - 1
	least, most := max(n-2, 1), n
	if unit == length.Mm {
		least, most = n, n+2
	}
	whole := `\d+`
	switch {
	case mark == 0:
		whole = `\d*`
	case mark > 1 && number[0] == '0':
		whole = fmt.Sprintf(`\d{%d,%d}`, mark-1, mark+1)
	}
	return fmt.Sprintf(`%s%s\d{%d,%d}`, whole, regexp.QuoteMeta(number[mark:mark+1]), least, most)
}

// signLike matches signs of sign's form, and the spaces that fill up a number.
func signLike(sign, gap string) string {
	group := "(?P<sign>[+-]?)"
	if sign == "+" {
		group = "(?P<sign>[+-])" // a gauge that sends a plus sends one always
	}
	if gap != "" {
		return " *" + group + " *"
	}
	return group
}

// digitsLike matches numbers of number's form: any whole digits, unless they are filled up with zeros, and as many
// decimals.
func digitsLike(number string) string {
	mark := strings.IndexAny(number, ".,")
	if mark < 0 {
		return fmt.Sprintf(`\d{1,%d}`, max(6, len(number)))
	}
	whole := `\d+`
	switch {
	case mark == 0:
		whole = ""
	case mark > 1 && number[0] == '0':
		whole = fmt.Sprintf(`\d{%d}`, mark)
	}
	return fmt.Sprintf(`%s%s\d{%d}`, whole, regexp.QuoteMeta(number[mark:mark+1]), len(number)-mark-1)
}
