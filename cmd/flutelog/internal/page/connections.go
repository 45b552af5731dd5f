package page

import (
	"crypto/tls"
	"net"
	"net/http"
	"net/netip"
	"sync"
	"time"
)

// Bounds of the connections that are open at once. All of them stay well under 1024 file descriptors, from which on the
// serial library cannot wait for a gauge any more.
const (
	mostConnections = 64
	mostByAddress   = 8  // a browser opens six
	mostByStrangers = 32 // together, of all addresses that no device in use has come from
)

// firstWithin is how long a connection may take to its first request before it gives way to another.
const firstWithin = time.Second

// connections accepts connections within the bounds, so that no host can use up what others need. What is over a bound
// takes the place of the connection within it that has waited longest for a request; where none waits it is refused as
// it is accepted.
type connections struct {
	net.Listener
	known func(address string) bool // a device in use has come from it

	mu   sync.Mutex
	open map[*connection]struct{}
}

func boundConnections(l net.Listener, known func(address string) bool) *connections {
	return &connections{Listener: l, known: known, open: map[*connection]struct{}{}}
}

// connection is one that was accepted.
type connection struct {
	net.Conn
	of       *connections
	from     string
	stranger bool
	waits    time.Time // since when it gives way; zero while a request is at work
	closed   sync.Once
}

// addressOf names who is at the other end: an IPv4 address, or the 64 bits of an IPv6 address that one host has to itself.
func addressOf(remote string) string {
	at, err := netip.ParseAddrPort(remote)
	if err != nil {
		return remote
	}
	ip := at.Addr().Unmap().WithZone("")
	if ip.Is6() && !ip.IsLoopback() {
		if of, err := ip.Prefix(64); err == nil {
			return of.String()
		}
	}
	return ip.String()
}

// Accept returns the next connection within the bounds.
func (l *connections) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		if kept := l.admit(c); kept != nil {
			return kept, nil
		}
		drop(c)
	}
}

// drop ends a connection at once, so that nothing of it stays behind in the system.
func drop(c net.Conn) {
	if c, ok := c.(*net.TCPConn); ok {
		c.SetLinger(0)
	}
	c.Close()
}

// admit keeps a connection, in the place of one that waits where it must be; nil for no room.
func (l *connections) admit(c net.Conn) *connection {
	from := addressOf(c.RemoteAddr().String())
	kept := &connection{Conn: c, of: l, from: from, stranger: !l.known(from)}
	l.mu.Lock()
	defer l.mu.Unlock()
	now := time.Now()
	for _, bound := range []struct {
		most int
		of   func(*connection) bool
	}{
		{mostByAddress, func(o *connection) bool { return o.from == from }},
		{mostByStrangers, func(o *connection) bool { return kept.stranger && o.stranger }},
		{mostConnections, func(*connection) bool { return true }},
	} {
		n, longest := 0, (*connection)(nil)
		for o := range l.open {
			if !bound.of(o) {
				continue
			}
			n++
			if !o.waits.IsZero() && !o.waits.After(now) && (longest == nil || o.waits.Before(longest.waits)) {
				longest = o
			}
		}
		switch {
		case n < bound.most:
		case longest == nil:
			return nil
		default:
			delete(l.open, longest)
			drop(longest.Conn)
		}
	}
	kept.waits = now.Add(firstWithin)
	l.open[kept] = struct{}{}
	return kept
}

// Close frees the place.
func (c *connection) Close() error {
	c.closed.Do(func() {
		c.of.mu.Lock()
		defer c.of.mu.Unlock()
		delete(c.of.open, c)
	})
	return c.Conn.Close()
}

// state is told how connections stand: one that waits for its next request gives way.
func (l *connections) state(c net.Conn, state http.ConnState) {
	if over, ok := c.(*tls.Conn); ok {
		c = over.NetConn()
	}
	kept, ok := c.(*connection)
	if !ok {
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	switch state {
	case http.StateActive:
		kept.waits = time.Time{}
	case http.StateIdle:
		kept.waits = time.Now()
	}
}
