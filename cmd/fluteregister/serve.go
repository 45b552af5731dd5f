package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"time"

	"github.com/spf13/pflag"

	"flutelog/cmd/fluteregister/internal/api"
	"flutelog/cmd/fluteregister/internal/book"
	"flutelog/cmd/fluteregister/internal/store"
	"flutelog/inspect/length"
	"flutelog/inspect/text"
)

// defaultPort is where a register listens.
const defaultPort = "8423"

// witnessEvery is how often the heads of the benches are recorded in the register's own ledger; where a person has ruled at a
// bench it is done soonWitness later.
const (
	witnessEvery = time.Hour
	soonWitness  = 5 * time.Second
)

func serveCommand() command {
	var x serveFlags
	return command{
		name: "serve", summary: "take what benches send, answer them, and show people what stands",
		example: "serve --database postgres://fluteregister@localhost/fluteregister",
		flags: func(f *pflag.FlagSet) {
			x.places.flags(f)
			f.StringVar(&x.listen, "listen", ":"+defaultPort, "address to listen at")
			f.StringVar(&x.address, "address", "", "host:port at which benches reach this register, for those that are enrolled (default: where it listens, by this machine's name unless --listen says which address)")
			f.StringVar(&x.unit, "unit", string(length.In), "unit that lengths are shown in on its pages: in, mm")
		},
		run: func(e env, _ []string) error { return serve(e, &x) },
	}
}

type serveFlags struct {
	places
	listen, address, unit string
}

func serve(e env, x *serveFlags) error {
	unit, err := length.ParseUnit(x.unit)
	if err != nil {
		return usagef("--unit: %w", err)
	}
	if _, err := reachedAt(x.address, ""); err != nil {
		return err
	}
	s, b, dir, err := x.await(e)
	if err != nil {
		return err
	}
	defer s.Close()
	end, err := s.Serve(e)
	if errors.Is(err, store.ErrServed) {
		return hinted{err, "end that one first; a register that takes its place is given its --folder too, since benches know it by the key there"}
	} else if err != nil {
		return err
	}
	defer end()
	certificate, key, err := registerKey(dir, e.now())
	if err != nil {
		return err
	}
	if unsafe, err := s.Unsafe(e); err != nil {
		return err
	} else if unsafe != "" {
		fmt.Fprintln(e.stderr, "fluteregister: "+unsafe)
	}
	if err := b.Apply(e, s); err != nil {
		return err
	}
	listener, err := net.Listen("tcp", x.listen)
	if errors.Is(err, syscall.EADDRINUSE) {
		return hinted{err, "another program listens there: end it, or give another address with --listen"}
	} else if err != nil {
		return hinted{err, "give an address of this machine and a port with --listen, such as 127.0.0.1:8423, or :8423 for all of its addresses"}
	}
	address := x.address
	if host, port, err := net.SplitHostPort(listener.Addr().String()); address == "" && err == nil {
		if address = listener.Addr().String(); net.ParseIP(host).IsUnspecified() {
			if host, err = os.Hostname(); err != nil {
				return err
			}
			address = net.JoinHostPort(host, port)
		}
	}
	if address, err = reachedAt(address, ""); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, addressName), []byte(address), 0o600); err != nil {
		return err
	}
	fmt.Fprintf(e.stderr, "listening at %s; this register's key is %s\n", listener.Addr(), key)
	return serveOn(e, listener, certificate, s, b, pages(e, s, b, dir, address, key, unit))
}

// sayer returns what says what a person at the register should know.
func sayer(e env) func(format string, args ...any) {
	var mu sync.Mutex
	return func(format string, args ...any) {
		mu.Lock()
		defer mu.Unlock()
		fmt.Fprintf(e.stderr, "%s %s\n", e.now().UTC().Format(time.RFC3339), text.ShowLines(fmt.Sprintf(format, args...)))
	}
}

// serveOn serves until the context ends. The pages, and tests, put themselves around its answers.
func serveOn(e env, listener net.Listener, certificate tls.Certificate, s *store.Store, b *book.Book, around ...func(http.Handler) http.Handler) error {
	say := sayer(e)
	ruled := make(chan struct{}, 1)
	answers := api.New(s, b, e.now, say, func() {
		select {
		case ruled <- struct{}{}:
		default:
		}
	})
	var handler http.Handler = answers
	for _, a := range around {
		handler = a(handler)
	}
	server := &http.Server{
		Handler: handler, ReadHeaderTimeout: 20 * time.Second, ReadTimeout: 2 * time.Minute, WriteTimeout: time.Hour, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 16 << 10,
		ErrorLog:  log.New(discarded{}, "", 0),
		TLSConfig: &tls.Config{MinVersion: tls.VersionTLS13, Certificates: []tls.Certificate{certificate}, NextProtos: []string{"http/1.1"}},
	}
	ctx, stop := context.WithCancel(e)
	var works sync.WaitGroup
	works.Go(func() { s.Settling(ctx, func(err error) { say("%v; it is tried again", err) }) })
	works.Go(func() { witnessing(ctx, s, b, ruled, say) })
	works.Go(func() {
		<-ctx.Done()
		soon, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		defer cancel()
		if server.Shutdown(soon) != nil {
			server.Close()
		}
	})
	err := server.ServeTLS(limited(listener), "", "")
	stop()
	works.Wait()
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// discarded drops what the server says of connections that break off.
type discarded struct{}

func (discarded) Write(p []byte) (int, error) { return len(p), nil }

// witnessing records the heads of the benches.
func witnessing(ctx context.Context, s *store.Store, b *book.Book, ruled <-chan struct{}, say func(string, ...any)) {
	next := time.NewTimer(0)
	defer next.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-ruled:
			next.Reset(soonWitness)
		case <-next.C:
			if _, err := b.Witness(ctx, s); err != nil && ctx.Err() == nil {
				say("no witness was recorded: %v", err)
			}
			next.Reset(witnessEvery)
		}
	}
}

// connectionsAtMost is how many connections are open at a time: twice as many as a large shop has benches.
const connectionsAtMost = 1024

// limited lets so many connections be open at a time.
func limited(l net.Listener) net.Listener {
	return &limitedListener{l, make(chan struct{}, connectionsAtMost)}
}

type limitedListener struct {
	net.Listener
	free chan struct{}
}

func (l *limitedListener) Accept() (net.Conn, error) {
	l.free <- struct{}{}
	c, err := l.Listener.Accept()
	if err != nil {
		<-l.free
		return nil, err
	}
	return &limitedConn{Conn: c, done: sync.OnceFunc(func() { <-l.free })}, nil
}

type limitedConn struct {
	net.Conn
	done func()
}

func (c *limitedConn) Close() error {
	err := c.Conn.Close()
	c.done()
	return err
}
