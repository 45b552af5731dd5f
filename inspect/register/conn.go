package register

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"time"

	"flutelog/inspect/ledger"
)

// NoAnswer says that a register could not be reached, or broke off: nothing is known of what it did with the last
// question. Asking again is always safe.
type NoAnswer struct {
	Address string
	Err     error
}

func (n *NoAnswer) Error() string {
	return fmt.Sprintf("the register at %s does not answer: %v", n.Address, n.Err)
}
func (n *NoAnswer) Unwrap() error { return n.Err }

// ErrKey says that whoever answers at the register's address has another key than the one that the bench was enrolled with.
var ErrKey = errors.New("who answers there has another key than the register that this bench was enrolled at: nothing is sent. Where the register was set up anew, enrol this bench again")

// Timeouts of one question, unless the context ends before.
const (
	dialTimeout = 10 * time.Second
	askTimeout  = 2 * time.Minute
)

// mostAnswer is the most bytes of an answer that is not a stream.
const mostAnswer = 1 << 20

// Conn is a connection to a register. It is made at the first question and kept for the next ones; one that broke is made
// anew. One goroutine uses it.
type Conn struct {
	Enrolment
	Now   func() time.Time  // this bench's clock, which the register is told; nil: the machine's
	names map[string]string // what the register calls benches, as far as it has told that
	known ledger.Head       // the last common line of a fork that was found before; the zero Head for none
	conn  net.Conn
	read  *bufio.Reader
}

// Close ends the connection.
func (c *Conn) Close() error {
	if c.conn == nil {
		return nil
	}
	err := c.conn.Close()
	c.conn = nil
	return err
}

// open makes the connection.
func (c *Conn) open(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, dialTimeout)
	defer cancel()
	d := tls.Dialer{Config: &tls.Config{MinVersion: tls.VersionTLS13, InsecureSkipVerify: true, VerifyConnection: c.pinned}}
	conn, err := d.DialContext(ctx, "tcp", c.Address)
	if err != nil {
		return err
	}
	c.conn, c.read = conn, bufio.NewReaderSize(conn, 32<<10)
	return nil
}

// pinned holds the register's key against the one that the bench was given, which stands in place of an authority that
// would vouch for its name.
func (c *Conn) pinned(s tls.ConnectionState) error {
	sum := sha256.Sum256(s.PeerCertificates[0].RawSubjectPublicKeyInfo)
	if hex.EncodeToString(sum[:]) != c.Key {
		return ErrKey
	}
	return nil
}

// ask asks one question and returns its answer, of status 200; the caller reads its body to the end. A body is sent as it
// is given, compressed. All else comes as an error: a Refusal, ErrKey or a *NoAnswer.
func (c *Conn) ask(ctx context.Context, method, path string, compressed []byte) (*http.Response, error) {
	kept := c.conn != nil
	answer, err := c.once(ctx, method, path, compressed)
	if err != nil && kept && ctx.Err() == nil { // the register may have ended a connection that was idle
		answer, err = c.once(ctx, method, path, compressed)
	}
	switch {
	case errors.Is(err, ErrKey):
		return nil, fmt.Errorf("register %s: %w", c.Address, ErrKey)
	case err != nil:
		return nil, &NoAnswer{c.Address, err}
	case answer.StatusCode == http.StatusOK:
		return answer, nil
	}
	text, err := io.ReadAll(io.LimitReader(answer.Body, mostAnswer))
	if err != nil {
		c.Close()
		return nil, &NoAnswer{c.Address, err}
	}
	var r Refusal
	if json.Unmarshal(text, &r) != nil || r.Text == "" {
		c.Close()
		return nil, &NoAnswer{c.Address, fmt.Errorf("status %s, and not as a register answers", answer.Status)}
	}
	return nil, r
}

func (c *Conn) once(ctx context.Context, method, path string, compressed []byte) (_ *http.Response, err error) {
	defer func() {
		if err != nil {
			c.Close()
		}
	}()
	if c.conn == nil {
		if err := c.open(ctx); err != nil {
			return nil, err
		}
	}
	end, ok := ctx.Deadline()
	if most := time.Now().Add(askTimeout); !ok || end.After(most) {
		end = most
	}
	conn := c.conn
	if err := conn.SetDeadline(end); err != nil {
		return nil, err
	}
	stop := context.AfterFunc(ctx, func() { conn.SetDeadline(time.Unix(1, 0)) })
	defer stop()
	r, err := http.NewRequestWithContext(ctx, method, "https://"+c.Address+path, bytes.NewReader(compressed))
	if err != nil {
		return nil, err
	}
	r.Header.Set("Authorization", "Bearer "+c.Token)
	r.Header.Set("User-Agent", "flutelog")
	now := time.Now
	if c.Now != nil {
		now = c.Now
	}
	r.Header.Set(HeaderClock, now().UTC().Format(time.RFC3339))
	if compressed != nil {
		r.Header.Set("Content-Type", "text/plain; charset=utf-8")
		r.Header.Set("Content-Encoding", "gzip")
	} else {
		r.Header.Set("Accept-Encoding", "gzip")
	}
	if err := r.Write(conn); err != nil {
		return nil, err
	}
	answer, err := http.ReadResponse(c.read, r)
	if err != nil {
		return nil, err
	}
	if answer.Header.Get("Content-Encoding") == "gzip" {
		plain, err := gzip.NewReader(answer.Body)
		if err != nil {
			return nil, err
		}
		answer.Body = readCloser{plain, answer.Body}
	}
	return answer, nil
}

type readCloser struct {
	io.Reader
	io.Closer
}

// head asks a question whose answer is a Head.
func (c *Conn) head(ctx context.Context, method, path string, compressed []byte) (Head, error) {
	answer, err := c.ask(ctx, method, path, compressed)
	if err != nil {
		return Head{}, err
	}
	var h Head
	text, err := io.ReadAll(io.LimitReader(answer.Body, mostAnswer))
	if err == nil {
		err = json.Unmarshal(text, &h)
	}
	if err != nil {
		c.Close()
		return Head{}, &NoAnswer{c.Address, err}
	}
	if answer.Close {
		c.Close()
	}
	return h, nil
}

// Head asks what the register has of a bench, and of the line that own names there.
func (c *Conn) Head(ctx context.Context, bench string, own ledger.Head) (Head, error) {
	return c.head(ctx, http.MethodGet, HeadPath(bench, own), nil)
}

// pack compresses bodies, in memory that it keeps: of two, so that one can be sent while the next is made.
type pack struct {
	buf   [2]bytes.Buffer
	in    int // which is written to
	zip   *gzip.Writer
	plain int // bytes before compression
}

func (p *pack) add(text []byte) error {
	if p.zip == nil {
		p.zip, _ = gzip.NewWriterLevel(&p.buf[p.in], gzip.BestSpeed)
	}
	p.plain += len(text)
	_, err := p.zip.Write(text)
	return err
}

// take returns what was added, and begins anew: it is valid until the next take.
func (p *pack) take() ([]byte, error) {
	if err := p.zip.Close(); err != nil {
		return nil, err
	}
	data := p.buf[p.in].Bytes()
	p.in = 1 - p.in
	p.buf[p.in].Reset()
	p.zip.Reset(&p.buf[p.in])
	p.plain = 0
	return data, nil
}
