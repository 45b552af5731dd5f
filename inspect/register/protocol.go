// Package register is what a bench and a register say to each other, and the bench's side of it. A register is the one
// place where the chains of many benches come together: a bench sends the lines of its own chain as they stand in its
// ledger, and the register takes those that follow what it has, or none.
//
// The protocol is HTTP/1.1 over TLS. Bodies of lines are text, as they stand in the ledger; all other answers are JSON.
// Bodies may be compressed with gzip, either way. A bench knows the register by the SHA-256 of its key and shows a token:
//
//	Authorization: Bearer TOKEN
//
//	GET  /v1/chains/BENCH/head?seq=N&sha256=H     what do you have; N and H name a line here, by which Yours goes
//	     200 Head
//	POST /v1/chains/BENCH/lines?after=N&sha256=H  whole lines from number N+1; H is the hash of line N, none for N = 0
//	     200 Head      on the medium: the acknowledgement
//	     409 Refusal   Moved: go on from the head that it names. Forked: the chains part at or before N
//	     422 Refusal   Damaged: a line does not follow, or is not as it was written; nothing of the batch is kept
//	     413, 429, 503 Refusal   TooMuch, Wait, Down
//	POST /v1/chains/BENCH/fork                    the first line that differs from the register's, as evidence
//	     200 Head
//	GET  /v1/chains/BENCH/lines?after=N           the bench's own chain back; a stream
//	GET  /v1/subjects?of=SUBJECT&of=SUBJECT       the lines of subjects, of all benches; a stream, each "BENCH SP line"
//
//	GET  /v1/tools/ID  /v1/jobs  /v1/jobs/ID  /v1/benches  /v1/report.csv?as=KIND  /v1/trend?what=WHAT
//
// A stream that cannot be given whole is cut off, so that it never looks whole. Its headers name the register's clock and
// its witness, as a Head does.
package register

import (
	"fmt"
	"net/url"
	"strconv"

	"flutelog/inspect/ledger"
)

// Bounds that both sides keep.
const (
	Batch    = 1 << 20 // bytes of lines that a bench puts into one body; a longer single line goes alone
	MostBody = 8 << 20 // bytes of lines that a register takes in one body
)

// Headers of a stream.
const (
	HeaderDate    = "Register-Date"    // RFC 3339, UTC
	HeaderWitness = "Register-Witness" // a ledger.Head in print; none where there is no witness yet
	HeaderBenches = "Register-Benches" // of subjects: what the benches of the lines are called, as ID=NAME&ID=NAME in the coding of a query
)

// HeaderClock is a header in which a bench may tell its own clock with any question: RFC 3339, UTC.
const HeaderClock = "Bench-Clock"

// Yours says what the register knows of the line that a question named.
type Yours string

// What a register knows of a line.
const (
	Same    Yours = "same"    // it has that line
	Other   Yours = "other"   // it has another line of that number: the chains part there or before
	Unknown Yours = "unknown" // it has no line of that number yet
)

// State says how a chain stands at a register.
type State string

// The states of a chain.
const (
	Open   State = "open"
	Forked State = "forked" // two copies of the bench wrote on; what extends the register's head is still taken
	Closed State = "closed" // no more is taken: the bench is gone, or goes on under another id
)

// Head is where a chain ends at a register.
type Head struct {
	Bench   string `json:"bench"`
	Seq     uint64 `json:"seq"`               // of the last line; 0 where there is none
	SHA256  string `json:"sha256"`            // of that line, 64 hex digits; "" where there is none
	Yours   Yours  `json:"yours,omitempty"`   // where the question named a line
	State   State  `json:"state"`             //
	Witness string `json:"witness,omitempty"` // the last line of the register's own ledger, a ledger.Head in print
	Date    string `json:"date"`              // by the register's clock, RFC 3339, UTC
}

// Ledger returns the head as the ledger names it.
func (h Head) Ledger() ledger.Head { return ledger.Head{Bench: h.Bench, Seq: h.Seq, Hash: h.SHA256} }

// Why says in a word why something was refused.
type Why string

// Why a register refuses.
const (
	Moved    Why = "moved"     // 409: the batch does not begin behind the register's head
	Parted   Why = "forked"    // 409: the line that the batch follows is another one at the register
	Damaged  Why = "damaged"   // 422: a line is not as it was written, or does not follow the one before
	TooMuch  Why = "too much"  // 413: the body is over MostBody
	Wait     Why = "wait"      // 429: another body of the same token is on its way, or the day's share is used up; Retry-After says when
	Down     Why = "down"      // 503: the database does not answer
	Stranger Why = "stranger"  // 401: no such token, or one that has ended
	NotYours Why = "not yours" // 403: the token is another bench's
	Shut     Why = "closed"    // 403: the chain is closed
	Unclear  Why = "unclear"   // 400: the request is no request of this protocol
	Nothing  Why = "nothing"   // 404: there is nothing of that name
)

// Refusal is the answer to what was not done.
type Refusal struct {
	Why  Why    `json:"why"`
	Text string `json:"text"`           // for a person
	Head *Head  `json:"head,omitempty"` // where the chain ends at the register
}

// Error returns the text.
func (r Refusal) Error() string { return r.Text }

// KindContinues is the kind of the second line of a chain that goes on in place of a forked one; its body is Continues.
const KindContinues = "continues"

// Continues says which chain another goes on in place of, and from where on what follows is recorded again.
type Continues struct {
	Bench  string `json:"bench"`           // the id that the bench had
	Seq    uint64 `json:"seq"`             // the last line that is common with the register's
	SHA256 string `json:"sha256"`          // of that line
	Head   string `json:"head"`            // of the forked chain, a ledger.Head in print
	First  string `json:"first,omitempty"` // the hash of the first line behind that, as this copy had it
	By     string `json:"by,omitempty"`
	Why    string `json:"why,omitempty"`
	At     string `json:"at,omitempty"` // RFC 3339, UTC
}

// HeadPath is where a register is asked what it has of a bench; a zero head names no line.
func HeadPath(bench string, own ledger.Head) string {
	return chain(bench, "head", "seq", own.Seq, own.Hash)
}

// LinesPath is where the lines of a bench behind one are sent to, and where they are asked for.
func LinesPath(bench string, after ledger.Head) string {
	return chain(bench, "lines", "after", after.Seq, after.Hash)
}

// ForkPath is where the first line that differs is left.
func ForkPath(bench string) string { return "/v1/chains/" + url.PathEscape(bench) + "/fork" }

func chain(bench, what, number string, seq uint64, hash string) string {
	q := url.Values{number: {strconv.FormatUint(seq, 10)}}
	if seq > 0 {
		q.Set("sha256", hash)
	}
	return fmt.Sprintf("/v1/chains/%s/%s?%s", url.PathEscape(bench), what, q.Encode())
}

// SubjectsPath is where the lines of subjects are asked for.
func SubjectsPath(subjects []string) string {
	return "/v1/subjects?" + url.Values{"of": subjects}.Encode()
}
