package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Format is the version of the format that this package writes.
const Format = 2

// MaxLine is the most bytes that one line may have, its LF among them.
const MaxLine = 1 << 20

type digest [sha256.Size]byte

func (d digest) String() string { return hex.EncodeToString(d[:]) }

// position is where a line starts: the segment, by the first sequence number in it, and the byte.
type position struct {
	Segment uint64 `json:"segment"`
	Offset  int64  `json:"offset"`
}

// line is one line of a chain.
type line struct {
	seq      uint64
	counter  uint64
	kind     string
	previous digest
	envelope
	body json.RawMessage

	hash   digest   // of this line's bytes, without the LF
	at     position // where it starts
	end    int64    // the byte behind its LF
	number int      // in its segment, from 1
}

// envelope is what stands in a line's JSON before its body.
type envelope struct {
	UTC          string
	SinceBoot    int64 // microseconds
	Boot         string
	Synchronised bool
	Subject      string
	Earlier      *position // the subject's record before this one
	About        *Ref      // the record that this one is about
	Opens        string    // a draft that begins with this record
	Closes       *closing  // a draft that ends with this record
	More         uint64    // how many lines of the same append follow
}

// closing names a draft, how many lines of it were closed and the hash of the last: one that has more was
// closed in vain, by a record that failed and reached the medium all the same, and goes on.
type closing struct {
	Draft  string
	Lines  uint64
	SHA256 string
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

// errNewer says that a line is whole but of a later format.
var errNewer = errors.New("written by a later version of the program")

// appendLine writes one line of a chain. The format, version 2:
//
//	line     = check SP seq SP counter SP kind SP previous SP json LF
//	check    = 8 hex digits: CRC-32C (Castagnoli) of all bytes between the first SP and the LF
//	seq      = decimal, from 1, no leading zero: the place of the line in its bench's chain
//	counter  = decimal, from 1, no leading zero: more than that of every line, of whatever bench, that stood
//	           in the ledger when this one was written
//	kind     = lower-case letter, then up to 31 lower-case letters and "-"
//	previous = 64 hex digits: SHA-256 of the line before without its LF, in the chain's first line all 0
//	json     = envelope with the body in it, no space outside strings, UTF-8, these names in this order:
//	           {"format":2,"utc":T,"boot":B,"since_boot_us":N,"synchronised":true or false,
//	           "subject":S,"earlier":{"segment":N,"offset":N},"about":{"bench":B,"seq":N,"sha256":H},
//	           "opens":D,"closes":{"draft":D,"lines":N,"sha256":H},"more":N,"body":any}
//
// Hex digits are lower case. T is UTC as 2006-01-02T15:04:05.000000Z. What is empty or 0 of subject, earlier,
// about, opens, closes and more is left out; in a subject and a draft's name only " and \ are escaped. One
// line has one spelling, and the reader refuses any other. The body is what it was when it was recorded:
// checked then to be JSON, and proven by the check value and the chain from then on. A line with its LF is
// at most 1 MiB.
//
// More says how many lines of the same append follow. Lines at the end of a chain whose append is not
// whole do not count: an append is there as a whole or not at all.
//
// A line in a real ledger:
//
//	6018b283 3 5 opened 5ecc38b3b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881 {"format":2,"utc":"2026-11-12T08:15:32.000000Z","boot":"boot-1","since_boot_us":2000000,"synchronised":true,"subject":"tool:EM-0412","earlier":{"segment":1,"offset":247},"about":{"bench":"c3f17c2da90490f3","seq":2,"sha256":"5ecc38b3b726b04401627ca9fbac32f5c8530fb1903cc4db02258717921a4881"},"opens":"i-7","more":1,"body":{"stage":"before"}}
//
// A segment is a file of lines, named by its first sequence number in 12 digits. Its first line is of kind
// "segment", and that line's body is a header. The lines before the good length that the next segment's
// header gives belong to the chain; bytes behind it are void.
//
// Later versions keep the five fields before the JSON and the name "format" as the first in it, so that any
// version can check the chain of any other; what else they change, they change under the next format
// number and in a new segment.
func appendLine(dst []byte, l line) []byte {
	start := len(dst)
	dst = append(dst, "00000000 "...)
	dst = appendPrefix(dst, l)
	dst = append(dst, l.body...)
	dst = append(dst, '}')
	copy(dst[start:], fmt.Sprintf("%08x", crcOf(dst[start+9:])))
	return append(dst, '\n')
}

// appendPrefix writes what stands between the check value and the body.
func appendPrefix(dst []byte, l line) []byte {
	dst = strconv.AppendUint(dst, l.seq, 10)
	dst = append(dst, ' ')
	dst = strconv.AppendUint(dst, l.counter, 10)
	dst = append(dst, ' ')
	dst = append(dst, l.kind...)
	dst = append(dst, ' ')
	dst = hex.AppendEncode(dst, l.previous[:])
	dst = append(dst, ' ')
	return l.envelope.append(dst)
}

func (e envelope) append(dst []byte) []byte {
	dst = append(dst, `{"format":2,"utc":"`...)
	dst = append(dst, e.UTC...)
	dst = append(dst, `","boot":"`...)
	dst = append(dst, e.Boot...)
	dst = append(dst, `","since_boot_us":`...)
	dst = strconv.AppendInt(dst, e.SinceBoot, 10)
	dst = append(dst, `,"synchronised":`...)
	dst = strconv.AppendBool(dst, e.Synchronised)
	if e.Subject != "" {
		dst = append(dst, `,"subject":`...)
		dst = append(dst, quote(e.Subject)...)
	}
	if e.Earlier != nil {
		dst = append(dst, `,"earlier":{"segment":`...)
		dst = strconv.AppendUint(dst, e.Earlier.Segment, 10)
		dst = append(dst, `,"offset":`...)
		dst = strconv.AppendInt(dst, e.Earlier.Offset, 10)
		dst = append(dst, '}')
	}
	if e.About != nil {
		dst = append(dst, `,"about":{"bench":"`...)
		dst = append(dst, e.About.Bench...)
		dst = append(dst, `","seq":`...)
		dst = strconv.AppendUint(dst, e.About.Seq, 10)
		dst = append(dst, `,"sha256":"`...)
		dst = append(dst, e.About.Hash...)
		dst = append(dst, `"}`...)
	}
	if e.Opens != "" {
		dst = append(dst, `,"opens":`...)
		dst = append(dst, quote(e.Opens)...)
	}
	if e.Closes != nil {
		dst = append(dst, `,"closes":{"draft":`...)
		dst = append(dst, quote(e.Closes.Draft)...)
		dst = append(dst, `,"lines":`...)
		dst = strconv.AppendUint(dst, e.Closes.Lines, 10)
		dst = append(dst, `,"sha256":"`...)
		dst = append(dst, e.Closes.SHA256...)
		dst = append(dst, `"}`...)
	}
	if e.More > 0 {
		dst = append(dst, `,"more":`...)
		dst = strconv.AppendUint(dst, e.More, 10)
	}
	return append(dst, `,"body":`...)
}

// quote spells text as a JSON string; checkSubject refuses all that would need other escapes.
func quote(text string) string {
	if strings.ContainsAny(text, `"\`) { // seldom, and a replacer is slow to find out
		text = jsonEscape.Replace(text)
	}
	return `"` + text + `"`
}

var (
	jsonEscape   = strings.NewReplacer(`\`, `\\`, `"`, `\"`)
	jsonUnescape = strings.NewReplacer(`\\`, `\`, `\"`, `"`)
)

// withCheck returns text as a line with its check value.
func withCheck(text []byte) []byte {
	return fmt.Appendf(nil, "%08x %s\n", crcOf(text), text)
}

// checked returns what follows the check value of a line, or an error when the two do not agree.
func checked(text []byte) ([]byte, error) {
	if len(text) < 10 || text[8] != ' ' {
		return nil, fmt.Errorf("not a whole line (%d bytes)", len(text))
	}
	rest := text[9:]
	sum := binary.BigEndian.AppendUint32(nil, crcOf(rest))
	if want := hex.AppendEncode(nil, sum); !bytes.Equal(text[:8], want) {
		return nil, fmt.Errorf("check value %q, want %s", text[:8], want)
	}
	return rest, nil
}

// parseLine reads one line, given without its LF, but for its hash. The body shares memory with text.
func parseLine(text []byte) (line, error) {
	rest, err := checked(text)
	if err != nil {
		return line{}, err
	}
	c := cursor{rest: rest}
	l := line{seq: c.number()}
	c.literal(" ")
	l.counter = c.number()
	c.literal(" ")
	l.kind = c.upTo(' ')
	c.literal(" ")
	if n, err := hex.Decode(l.previous[:], c.take(2*len(l.previous))); err != nil || n < len(l.previous) {
		return line{}, errors.New("no hash of the line before")
	}
	c.literal(" ")
	if err := checkFormat(c.rest); err != nil {
		return line{}, err
	}
	l.envelope = c.envelope()
	l.body = bytes.TrimSuffix(c.rest, []byte("}"))
	read := rest[:len(rest)-len(c.rest)]
	var room [1024]byte // for most, so that none is made
	switch prefix := appendPrefix(room[:0], l); {
	case c.wrong || len(l.body)+1 != len(c.rest) || !bytes.Equal(prefix, read):
		return line{}, fmt.Errorf("not in the one spelling of format %d: %.200q", Format, rest)
	case l.seq == 0 || l.counter < l.seq || l.counter > maxCounter:
		return line{}, fmt.Errorf("number %d, counter %d", l.seq, l.counter)
	}
	return l, l.check()
}

// check refuses values that no writer gives.
func (l line) check() error {
	if err := checkKind(l.kind); err != nil {
		return err
	}
	if _, err := time.Parse(stampLayout, l.UTC); err != nil {
		return fmt.Errorf("time %q", l.UTC)
	}
	if !isBootID(l.Boot) {
		return fmt.Errorf("boot id %q", l.Boot)
	}
	if err := checkSubject(l.Subject); err != nil {
		return fmt.Errorf("subject %w", err)
	}
	if err := checkSubject(l.Opens); err != nil {
		return fmt.Errorf("draft %w", err)
	}
	if l.Closes != nil && (l.Closes.Draft == "" || checkSubject(l.Closes.Draft) != nil || !isHash(l.Closes.SHA256)) {
		return fmt.Errorf("closes %+v", *l.Closes)
	}
	if l.About != nil {
		return l.About.check()
	}
	return nil
}

// cursor reads what must stand next. It is lax in how a value is spelled: parseLine spells the line anew
// and compares.
type cursor struct {
	rest  []byte
	wrong bool
}

// literal reads just that.
func (c *cursor) literal(s string) { c.wrong = !c.optional(s) || c.wrong }

// optional says whether s stands next, and reads it.
func (c *cursor) optional(s string) bool {
	rest, ok := bytes.CutPrefix(c.rest, []byte(s))
	c.rest = rest
	return ok
}

// take reads n bytes.
func (c *cursor) take(n int) []byte {
	n = min(n, len(c.rest))
	taken := c.rest[:n]
	c.rest = c.rest[n:]
	return taken
}

// upTo reads what stands before the byte end.
func (c *cursor) upTo(end byte) string { return string(c.take(max(bytes.IndexByte(c.rest, end), 0))) }

// number reads a decimal.
func (c *cursor) number() uint64 {
	n := 0
	for n < len(c.rest) && c.rest[n] >= '0' && c.rest[n] <= '9' {
		n++
	}
	v, err := strconv.ParseUint(string(c.take(n)), 10, 64)
	c.wrong = c.wrong || err != nil
	return v
}

// text reads a string in quotes.
func (c *cursor) text() string {
	c.literal(`"`)
	end := 0
	for end < len(c.rest) && c.rest[end] != '"' {
		if c.rest[end] == '\\' {
			end++
		}
		end++
	}
	text := string(c.take(end))
	c.literal(`"`)
	if strings.Contains(text, `\`) {
		text = jsonUnescape.Replace(text)
	}
	return text
}

// envelope reads the JSON up to the body.
func (c *cursor) envelope() (e envelope) {
	c.literal(`{"format":2,"utc":`)
	e.UTC = c.text()
	c.literal(`,"boot":`)
	e.Boot = c.text()
	c.literal(`,"since_boot_us":`)
	e.SinceBoot = int64(c.number())
	c.literal(`,"synchronised":`)
	if e.Synchronised = c.optional("true"); !e.Synchronised {
		c.literal("false")
	}
	if c.optional(`,"subject":`) {
		e.Subject = c.text()
	}
	if c.optional(`,"earlier":{"segment":`) {
		e.Earlier = &position{Segment: c.number()}
		c.literal(`,"offset":`)
		e.Earlier.Offset = int64(c.number())
		c.literal("}")
	}
	if c.optional(`,"about":{"bench":`) {
		e.About = &Ref{Bench: c.text()}
		c.literal(`,"seq":`)
		e.About.Seq = c.number()
		c.literal(`,"sha256":`)
		e.About.Hash = c.text()
		c.literal("}")
	}
	if c.optional(`,"opens":`) {
		e.Opens = c.text()
	}
	if c.optional(`,"closes":{"draft":`) {
		e.Closes = &closing{Draft: c.text()}
		c.literal(`,"lines":`)
		e.Closes.Lines = c.number()
		c.literal(`,"sha256":`)
		e.Closes.SHA256 = c.text()
		c.literal("}")
	}
	if c.optional(`,"more":`) {
		e.More = c.number()
	}
	c.literal(`,"body":`)
	return e
}

// checkFormat tells a line of a later version from a wrong one.
func checkFormat(text []byte) error {
	c := cursor{rest: text}
	c.literal(`{"format":`)
	version := c.number()
	if c.wrong || version < 1 {
		return errors.New("no format version")
	}
	if version > Format {
		return fmt.Errorf("format %d, this program reads %d: %w", version, Format, errNewer)
	}
	if version < Format {
		return fmt.Errorf("format %d, this program reads %d", version, Format)
	}
	return nil
}

const (
	digits = "0123456789"
	lower  = "abcdefghijklmnopqrstuvwxyz"
	upper  = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
)

// madeOf says whether text has no other letters than those.
func madeOf(text, letters string) bool { return strings.Trim(text, letters) == "" }

func isBootID(id string) bool { return len(id) <= 64 && madeOf(id, lower+upper+digits+"-") }

// checkKind refuses what is not a word.
func checkKind(kind string) error {
	if kind == "" || len(kind) > 32 || kind[0] == '-' || !madeOf(kind, lower+"-") {
		return fmt.Errorf("kind %q: want up to 32 lower-case letters and \"-\", a letter first", kind)
	}
	return nil
}

// maxText is the most bytes of a subject, of a draft's name and of a bench's.
const maxText = 400

// maxCounter is the most that a counter can be.
const maxCounter = 1 << 62

func isHash(text string) bool { return len(text) == 2*sha256.Size && madeOf(text, digits+"abcdef") }

// check refuses what names no record.
func (r Ref) check() error {
	if !benchPattern.MatchString(r.Bench) || r.Seq == 0 || !isHash(r.Hash) {
		return fmt.Errorf("bench %q, number %d, hash %q: no record is so named", r.Bench, r.Seq, r.Hash)
	}
	return nil
}

// checkSubject refuses what would need an escape other than \" and \\ in JSON.
func checkSubject(subject string) error {
	bad := func(r rune) bool { return !unicode.IsPrint(r) }
	if len(subject) > maxText || !utf8.ValidString(subject) || strings.ContainsFunc(subject, bad) {
		return fmt.Errorf("%.220q: want at most %d bytes of printable text", subject, maxText)
	}
	return nil
}

func (e envelope) time() Time {
	utc, _ := time.Parse(stampLayout, e.UTC) // parseJSON has seen that it parses
	return Time{UTC: utc, SinceBoot: time.Duration(e.SinceBoot) * time.Microsecond, Boot: e.Boot, Synchronised: e.Synchronised}
}

func newEnvelope(t Time) (envelope, error) {
	utc := t.UTC.Format(stampLayout)
	if len(utc) != len(stampLayout) || t.SinceBoot < 0 {
		return envelope{}, fmt.Errorf("the clock says %s, %v after the start: set it", utc, t.SinceBoot)
	}
	if !isBootID(t.Boot) {
		return envelope{}, fmt.Errorf("boot id %q", t.Boot)
	}
	return envelope{UTC: utc, Boot: t.Boot, SinceBoot: t.SinceBoot.Microseconds(), Synchronised: t.Synchronised}, nil
}

func crcOf(text []byte) uint32 { return crc32.Checksum(text, castagnoli) }
