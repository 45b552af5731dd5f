package ledger

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash/crc32"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Format is the version of the format that this package writes.
const Format = 1

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
	Format       int       `json:"format"`
	UTC          string    `json:"utc"`
	Boot         string    `json:"boot"`
	SinceBoot    int64     `json:"since_boot_us"`
	Synchronised bool      `json:"synchronised"`
	Subject      string    `json:"subject,omitempty"`
	Earlier      *position `json:"earlier,omitempty"` // the subject's record before this one
	Opens        string    `json:"opens,omitempty"`   // a draft that begins with this record
	Closes       string    `json:"closes,omitempty"`  // a draft that ends with this record
}

var castagnoli = crc32.MakeTable(crc32.Castagnoli)

var (
	kindPattern = regexp.MustCompile(`^[a-z][a-z-]{0,31}$`)
	bootPattern = regexp.MustCompile(`^[0-9A-Za-z-]{0,64}$`)
	idPattern   = regexp.MustCompile(`^[0-9A-Za-z][0-9A-Za-z._-]{0,99}$`)
)

// errNewer says that a line is whole but of a later format.
var errNewer = errors.New("written by a later version of the program")

// appendLine writes one line of a chain. The format, version 1:
//
//	line     = check SP seq SP kind SP previous SP json LF
//	check    = 8 hex digits: CRC-32C (Castagnoli) of all bytes between the first SP and the LF
//	seq      = decimal, from 1, no leading zero: the place of the line in its bench's chain
//	kind     = lower-case letter, then up to 31 lower-case letters and "-"
//	previous = 64 hex digits: SHA-256 of the line before without its LF, in the chain's first line all 0
//	json     = envelope with the body in it, no space outside strings, UTF-8, these names in this order:
//	           {"format":1,"utc":T,"boot":B,"since_boot_us":N,"synchronised":true or false,
//	           "subject":S,"earlier":{"segment":N,"offset":N},"opens":D,"closes":D,"body":any}
//
// Hex digits are lower case. T is UTC as 2006-01-02T15:04:05.000000Z. subject, earlier, opens and closes
// are left out when empty; in a subject only " and \ are escaped. One line has one spelling, and the
// reader refuses any other. A line with its LF is at most 1 MiB.
//
// A line in a real ledger:
//
//	4be44b50 3 tool 51aefc4f0b2b06d5c2a3e4b41fdfb56ae1e3b1b4cf2b4e2f1a6e7f3f8f2f7b11 {"format":1}
//
// A segment is a file of lines, named by its first sequence number in 12 digits. Its first line is of kind
// "segment", and that line's body is a header. The lines before the good length that the next segment's
// header gives belong to the chain; bytes behind it are void.
//
// Later versions keep the four fields before the JSON and the name "format" as the first in it, so that any
// version can check the chain of any other; what else they change, they change under the next format
// number and in a new segment.
func appendLine(dst []byte, l line) []byte {
	start := len(dst)
	dst = append(dst, "00000000 "...)
	dst = appendPrefix(dst, l)
	dst = append(dst, l.body...)
	dst = append(dst, '}')
	setCheck(dst[start:])
	return append(dst, '\n')
}

// appendPrefix writes what stands between the check value and the body.
func appendPrefix(dst []byte, l line) []byte {
	dst = strconv.AppendUint(dst, l.seq, 10)
	dst = append(dst, ' ')
	dst = append(dst, l.kind...)
	dst = append(dst, ' ')
	dst = hex.AppendEncode(dst, l.previous[:])
	dst = append(dst, ' ')
	var buf bytes.Buffer
	enc := json.NewEncoder(&buf)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(l.envelope); err != nil {
		panic(err) // strings, numbers and bools always encode
	}
	dst = append(dst, bytes.TrimSuffix(buf.Bytes(), []byte("}\n"))...)
	return append(dst, bodyName...)
}

const bodyName = `,"body":`

// setCheck puts the check value of text in its first eight bytes.
func setCheck(text []byte) {
	copy(text, fmt.Sprintf("%08x", crcOf(text[9:])))
}

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
	want := fmt.Sprintf("%08x", crcOf(rest))
	if string(text[:8]) != want {
		return nil, fmt.Errorf("check value %q, want %s", text[:8], want)
	}
	return rest, nil
}

// parseLine reads one line, given without its LF. The body shares memory with text.
func parseLine(text []byte) (line, error) {
	rest, err := checked(text)
	if err != nil {
		return line{}, err
	}
	fields := bytes.SplitN(rest, []byte(" "), 4)
	if len(fields) != 4 {
		return line{}, fmt.Errorf("%d fields, want 5", len(fields)+1)
	}
	l := line{kind: string(fields[1]), hash: sha256.Sum256(text)}
	if l.seq, err = strconv.ParseUint(string(fields[0]), 10, 64); err != nil || l.seq == 0 {
		return line{}, fmt.Errorf("sequence number %q", fields[0])
	}
	if !kindPattern.Match(fields[1]) {
		return line{}, fmt.Errorf("kind %q", fields[1])
	}
	if n, err := hex.Decode(l.previous[:], fields[2][:min(len(fields[2]), 2*sha256.Size)]); err != nil || n != sha256.Size {
		return line{}, fmt.Errorf("previous hash %q", fields[2])
	}
	if err := l.parseJSON(fields[3]); err != nil {
		return line{}, err
	}
	if head := appendPrefix(nil, l); !bytes.Equal(head, rest[:len(rest)-len(l.body)-1]) {
		return line{}, fmt.Errorf("not in the one spelling of format %d: %.200q", Format, rest)
	}
	return l, nil
}

func (l *line) parseJSON(text []byte) error {
	if err := checkFormat(text); err != nil {
		return err
	}
	at := bytes.Index(text, []byte(bodyName)) // a quote inside a string is escaped, so this is the name itself
	if at < 0 || text[len(text)-1] != '}' {
		return errors.New("no body")
	}
	if err := json.Unmarshal(append(bytes.Clone(text[:at]), '}'), &l.envelope); err != nil {
		return fmt.Errorf("envelope: %v", err)
	}
	if _, err := time.Parse(stampLayout, l.UTC); err != nil {
		return fmt.Errorf("time %q", l.UTC)
	}
	if err := checkSubject(l.Subject); err != nil {
		return err
	}
	l.body = text[at+len(bodyName) : len(text)-1]
	compact, err := compactJSON(l.body)
	if err != nil {
		return fmt.Errorf("body: %v", err)
	}
	if !bytes.Equal(compact, l.body) {
		return errors.New("body: not in the one spelling, without spaces")
	}
	return nil
}

// checkFormat tells a line of a later version from a wrong one.
func checkFormat(text []byte) error {
	number, ok := bytes.CutPrefix(text, []byte(`{"format":`))
	if !ok {
		return errors.New("no format version")
	}
	end := bytes.IndexAny(number, ",}")
	if end < 0 {
		return errors.New("no format version")
	}
	version, err := strconv.Atoi(string(number[:end]))
	if err != nil || version < 1 {
		return fmt.Errorf("format version %q", number[:end])
	}
	if version > Format {
		return fmt.Errorf("format %d, this program reads %d: %w", version, Format, errNewer)
	}
	return nil
}

// compactJSON returns one JSON value without the spaces outside its strings.
func compactJSON(body []byte) ([]byte, error) {
	if !utf8.Valid(body) {
		return nil, errors.New("not UTF-8")
	}
	var buf bytes.Buffer
	buf.Grow(len(body))
	err := json.Compact(&buf, body)
	return buf.Bytes(), err
}

// checkSubject refuses what would need an escape other than \" and \\ in JSON.
func checkSubject(subject string) error {
	bad := func(r rune) bool { return !unicode.IsPrint(r) }
	if len(subject) > 200 || !utf8.ValidString(subject) || strings.ContainsFunc(subject, bad) {
		return fmt.Errorf("subject %.220q: at most 200 bytes of printable text", subject)
	}
	return nil
}

func (e envelope) time() Time {
	utc, _ := time.Parse(stampLayout, e.UTC) // parseJSON has seen that it parses
	return Time{UTC: utc, SinceBoot: time.Duration(e.SinceBoot) * time.Microsecond, Boot: e.Boot, Synchronised: e.Synchronised}
}

func newEnvelope(t Time) (envelope, error) {
	utc := t.UTC.Format(stampLayout)
	if len(utc) != len(stampLayout) {
		return envelope{}, fmt.Errorf("the clock says %s: set it", utc)
	}
	if !bootPattern.MatchString(t.Boot) {
		return envelope{}, fmt.Errorf("boot id %q", t.Boot)
	}
	return envelope{
		Format: Format, UTC: utc, Boot: t.Boot,
		SinceBoot: t.SinceBoot.Microseconds(), Synchronised: t.Synchronised,
	}, nil
}

func crcOf(text []byte) uint32 { return crc32.Checksum(text, castagnoli) }
