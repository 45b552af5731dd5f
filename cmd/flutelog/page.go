package main

import (
	"context"
	"crypto/tls"
	"fmt"
	"net"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"syscall"

	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/page"
)

// pageMemory is what the bench page tries to stay under: it shares a small board with the recorder.
const pageMemory = 20 << 20

// pageFlags are the flags of the bench page.
type pageFlags struct {
	command.Places
	listen, cert, key, unit string
	names                   []string
	practice                bool
}

func pageCommand() command.Command {
	var p pageFlags
	return command.Command{
		Name:    "page",
		Summary: "serve the bench page: a whole inspection from a tablet",
		Example: "page --listen 127.0.0.1:8480",
		Flags:   p.flags,
		Run:     func(e command.Env, f *command.Flags) error { return p.run(e) },
	}
}

func (p *pageFlags) flags(f *command.Flags) {
	f.StringVar(&p.listen, "listen", "127.0.0.1:8480", "address to serve on; any but this machine's own asks each device for a pairing code")
	f.StringVar(&p.cert, "cert", "", "certificate file for TLS")
	f.StringVar(&p.key, "key", "", "key file of the certificate")
	f.StringSliceVar(&p.names, "name", nil, "further host names that the page is opened by")
	f.BoolVar(&p.practice, "practice", false, "a pretend gauge with a button on the page; its readings are invented")
	f.WordVar(&p.unit, "unit", "", "unit of bare numbers and of what is shown, in or mm (default: the bench file's)")
	p.Places.Flags(f)
}

func (p *pageFlags) run(e command.Env) error {
	at, err := p.OpenIn(e, &command.Units{Name: p.unit})
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
	c := page.Config{Ledger: at.Ledger, Bench: at.Bench, Unit: at.Unit, Now: e.Now, Paired: !local, Terminal: e.Stderr, Names: p.names, TLS: secure}
	if p.practice {
		if c.Practice, err = page.NewPractice(at.Unit); err != nil {
			return err
		}
		defer c.Practice.Close()
	}
	ctx, cancel := signal.NotifyContext(context.Background(), syscall.SIGTERM, os.Interrupt)
	defer cancel()
	p.sayWhere(e, listener.Addr(), local)
	e.Sender.Keep()
	debug.SetMemoryLimit(pageMemory)
	return page.New(c).Serve(ctx, listener)
}

// tls returns what TLS is spoken with; nil for plain HTTP.
func (p *pageFlags) tls() (*tls.Config, error) {
	if p.cert == "" && p.key == "" {
		return nil, nil
	}
	if p.cert == "" || p.key == "" {
		return nil, command.Usagef("--cert and --key: give both or neither")
	}
	if at, err := os.Stat(p.key); err == nil && runtime.GOOS != "windows" && at.Mode().Perm()&0o027 != 0 {
		return nil, fmt.Errorf("--key %s: its mode is %04o, so that others on this machine can read or change it; with it anybody can pretend to be this page: chmod 600 %s", p.key, at.Mode().Perm(), p.key)
	}
	pair, err := tls.LoadX509KeyPair(p.cert, p.key)
	if err != nil {
		return nil, fmt.Errorf("--cert and --key: %w", err)
	}
	return &tls.Config{Certificates: []tls.Certificate{pair}}, nil
}

func (p *pageFlags) sayWhere(e command.Env, at net.Addr, local bool) {
	scheme := "http"
	if p.cert != "" {
		scheme = "https"
	}
	if at.(*net.TCPAddr).IP.IsUnspecified() {
		fmt.Fprintf(e.Stderr, "flutelog: the page listens on ALL networks that this machine is on: whoever reaches one of its addresses can ask for it.\n")
		for _, address := range ownAddresses() {
			fmt.Fprintf(e.Stderr, "flutelog:   %s://%s/\n", scheme, net.JoinHostPort(address, fmt.Sprint(at.(*net.TCPAddr).Port)))
		}
		fmt.Fprintf(e.Stderr, "flutelog: to keep it to one of them, start it with --listen and that address\n")
	} else {
		fmt.Fprintf(e.Stderr, "flutelog: the page is at %s://%s/\n", scheme, at)
	}
	if !local && p.cert == "" {
		fmt.Fprint(e.Stderr, "flutelog: warning: without --cert and --key everything on this network can read and change what passes\n")
	}
}

// ownAddresses are the addresses of this machine that others may reach it by.
func ownAddresses() []string {
	var all []string
	addresses, _ := net.InterfaceAddrs() // without them the words do
	for _, a := range addresses {
		if ip, ok := a.(*net.IPNet); ok && !ip.IP.IsLinkLocalUnicast() {
			all = append(all, ip.IP.String())
		}
	}
	return all
}
