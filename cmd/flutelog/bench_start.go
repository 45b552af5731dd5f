package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"sync"
	"syscall"
	"time"

	"flutelog/cmd/flutelog/internal/bench"
	"flutelog/cmd/flutelog/internal/command"
	"flutelog/cmd/flutelog/internal/terminal"
	"flutelog/device"
	"flutelog/inspect/desk"
	"flutelog/inspect/length"
)

// startListens is how long a gauge is listened for.
const startListens = 20 * time.Second

// startBench makes a bench file by questions and reads it back at once. A file that is there is not written over.
func startBench(e command.Env, path string) error {
	if _, err := os.Lstat(path); err == nil {
		return command.Usagef("%s is there already; name another file, or change it by hand", path)
	}
	ctx, cancel := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer cancel()
	c := &startConversation{ctx: ctx, start: &bench.Start{Path: filepath.Base(path)}, done: make(chan struct{}), changed: make(chan struct{}, 1)}
	t := &terminal.Terminal{In: e.Stdin, Out: e.Stderr, Now: e.Now}
	t.Open()
	t.Run(ctx, c, c.changed)
	t.Close()
	c.mu.Lock()
	defer c.mu.Unlock()
	if !c.start.Written {
		fmt.Fprintln(e.Stderr, "nothing was written")
		return command.StatusOpen
	}
	text := c.start.Text()
	if _, err := bench.Parse(path, []byte(text)); err != nil {
		return fmt.Errorf("the file that the answers come to does not read, and was not written: %w", err)
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = f.WriteString(text)
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	fmt.Fprintf(e.Stdout, "%s written and read back. Use it: flutelog inspect TOOL --bench %s, or set FLUTELOG_BENCH to it.\n", path, path)
	return checkBench(e, path)
}

// startConversation asks the questions of a start at a terminal.
type startConversation struct {
	ctx     context.Context
	mu      sync.Mutex
	start   *bench.Start
	done    chan struct{}
	changed chan struct{}
	once    sync.Once
}

func (c *startConversation) Do(e desk.Event) {
	c.mu.Lock()
	defer c.mu.Unlock()
	switch e := e.(type) {
	case desk.Line:
		c.start.Answer(e.Text)
		if c.start.Listen {
			go c.hear(c.start.Unit())
		}
	case desk.Key:
		if e.Key == desk.Backspace {
			c.start.Answer("b")
		} else {
			c.start.Answer("q")
		}
	}
	if c.start.Ended {
		c.once.Do(func() { close(c.done) })
	}
}

// hear listens on every port at once, and takes the first number that comes.
func (c *startConversation) hear(unit length.Unit) {
	p, err := firstHeard(c.ctx, unit)
	c.mu.Lock()
	c.start.Heard(p, err)
	c.mu.Unlock()
	select {
	case c.changed <- struct{}{}:
	default:
	}
}

var errHeard = errors.New("heard")

func firstHeard(ctx context.Context, unit length.Unit) (device.Profile, error) {
	ctx, cancel := context.WithTimeout(ctx, startListens)
	defer cancel()
	ports, err := device.Ports()
	if err != nil {
		return device.Profile{}, err
	}
	if len(ports) == 0 {
		return device.Profile{}, errors.New("no port is there: is the gauge plugged in?")
	}
	found := make(chan device.Profile, len(ports))
	var all sync.WaitGroup
	for _, port := range ports {
		all.Go(func() {
			p := device.Profile{Name: "indicator", Port: port.Name, Unit: unit}
			device.Listen(ctx, device.OpenSerial(p), p, func(h device.Heard) error {
				read := slices.ContainsFunc(h.Found, func(f device.Found) bool { return f.Err == nil })
				if !read && h.Profile.Pattern == "" {
					return nil
				}
				found <- h.Profile
				cancel()
				return errHeard
			})
		})
	}
	all.Wait()
	select {
	case p := <-found:
		return p, nil
	default:
		return device.Profile{}, fmt.Errorf("nothing that reads as a number came in %d s on %d ports", startListens/time.Second, len(ports))
	}
}

func (c *startConversation) Prompt() desk.Prompt {
	c.mu.Lock()
	defer c.mu.Unlock()
	lines, help, refused, label := c.start.Lines()
	return desk.Prompt{Screen: desk.PlainScreen, Tool: "SET UP THIS BENCH", Title: "Enter takes what is in [ ].  b back   q stop", Lines: lines, Ask: help,
		Refused: refused, Label: label, Settled: true}
}

func (c *startConversation) Done() <-chan struct{} { return c.done }

func (c *startConversation) Shows() []desk.Shows { return nil }
