package main

import (
	"context"
	"crypto/tls"
	"fmt"
	"net"
	"os"
	"os/signal"
	"runtime/debug"
	"syscall"

	"flutelog/cmd/flutelog/internal/page"
)

// pageMemory is what the bench page tries to stay under: it shares a small board with the recorder.
const pageMemory = 20 << 20

// pageFlags are the flags of the bench page.
type pageFlags struct {
	places
	listen, cert, key, unit string
	names                   []string
	practice                bool
}

func pageCommand() command {
	var p pageFlags
	return command{
		name:    "page",
		summary: "serve the bench page: a whole inspection from a tablet",
		example: "page --listen 127.0.0.1:8480",
		flags:   p.flags,
		run:     func(e env, f *flags) error { return p.run(e) },
	}
}

func (p *pageFlags) flags(f *flags) {
	f.StringVar(&p.listen, "listen", "127.0.0.1:8480", "address to serve on; any but this machine's own asks each device for a pairing code")
	f.StringVar(&p.cert, "cert", "", "certificate file for TLS")
	f.StringVar(&p.key, "key", "", "key file of the certificate")
	f.StringSliceVar(&p.names, "name", nil, "further host names that the page is opened by")
	f.BoolVar(&p.practice, "practice", false, "a pretend gauge with a button on the page; its readings are invented")
	f.StringVar(&p.unit, "unit", "", "unit of bare numbers and of what is shown, in or mm (default: the bench file's)")
	p.places.flags(f)
}

func (p *pageFlags) run(e env) error {
	at, err := p.openIn(e, &units{name: p.unit})
	if err != nil {
		return err
	}
	secure, err := p.tls()
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", p.listen)
	if err != nil {
		return fmt.Errorf("--listen %q: %w", p.listen, err)
	}
	defer listener.Close()
	local := listener.Addr().(*net.TCPAddr).IP.IsLoopback()
	c := page.Config{Ledger: at.Ledger, Bench: at.bench, Unit: at.unit, Now: e.now, Paired: !local, Terminal: e.stderr, Names: p.names, TLS: secure}
	if p.practice {
		if c.Practice, err = page.NewPractice(at.unit); err != nil {
			return err
		}
		defer c.Practice.Close()
	}
	ctx, cancel := signal.NotifyContext(context.Background(), syscall.SIGTERM, os.Interrupt)
	defer cancel()
	p.sayWhere(e, listener.Addr(), local)
	debug.SetMemoryLimit(pageMemory)
	return page.New(c).Serve(ctx, listener)
}

// tls returns what TLS is spoken with; nil for plain HTTP.
func (p *pageFlags) tls() (*tls.Config, error) {
	if p.cert == "" && p.key == "" {
		return nil, nil
	}
	if p.cert == "" || p.key == "" {
		return nil, usagef("--cert and --key: give both or neither")
	}
	pair, err := tls.LoadX509KeyPair(p.cert, p.key)
	if err != nil {
		return nil, fmt.Errorf("--cert and --key: %w", err)
	}
	return &tls.Config{Certificates: []tls.Certificate{pair}}, nil
}

func (p *pageFlags) sayWhere(e env, at net.Addr, local bool) {
	scheme := "http"
	if p.cert != "" {
		scheme = "https"
	}
	fmt.Fprintf(e.stderr, "flutelog: the page is at %s://%s/\n", scheme, at)
	if !local && p.cert == "" {
		fmt.Fprint(e.stderr, "flutelog: warning: without --cert and --key everything on this network can read and change what passes\n")
	}
}
