//go:build linux

package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"github.com/creack/pty"
)

const (
	starts     = 31
	mostStart  = 20 * time.Millisecond
	mostMemory = 16 << 10 // kB
)

// person is the program on a pseudo-terminal.
type person struct {
	cmd *exec.Cmd
	tty *os.File
	out []byte
}

// terminal measures an inspection as a person has it: how soon it asks, and what memory it takes.
func terminal(b *bench) ([]figure, error) {
	ledger := filepath.Join(b.dir, "terminal")
	if _, err := child(b.binary, "tool", "add", "EM-1", "--diameter", "0.5in", "--flutes", "4", "--material", "hss", "--ledger", ledger); err != nil {
		return nil, err
	}
	var took, bare []time.Duration
	var memory int
	for i := range starts {
		start := time.Now()
		if err := exec.Command("true").Run(); err != nil {
			return nil, err
		}
		bare = append(bare, time.Since(start))
		start = time.Now()
		p, err := begin(b.binary, "inspect", "EM-1", "--stage", "after", "--ledger", ledger)
		if err != nil {
			return nil, err
		}
		err = p.waitFor(" > ")
		took = append(took, time.Since(start))
		if err == nil && i == starts-1 {
			memory, err = p.inspectAndMeasure()
		}
		if err = errors.Join(err, p.end()); err != nil {
			return nil, err
		}
	}
	middle := median(took)
	return []figure{
		{"start to first prompt", short(middle), "starting a program that does nothing " + short(median(bare)), short(mostStart), middle <= mostStart},
		{"resident memory of an inspection, at most", fmt.Sprintf("%.1f MiB", float64(memory)/1024), "-", "16 MiB", memory <= mostMemory},
	}, nil
}

func begin(name string, args ...string) (*person, error) {
	p := &person{cmd: exec.Command(name, args...)}
	var err error
	p.tty, err = pty.Start(p.cmd)
	return p, err
}

// waitFor reads what the program prints, until it has printed text.
func (p *person) waitFor(text string) error {
	buf := make([]byte, 4096)
	for !bytes.Contains(p.out, []byte(text)) {
		n, err := p.tty.Read(buf)
		if p.out = append(p.out, buf[:n]...); err != nil {
			return fmt.Errorf("waiting for %q after %.300q: %w", text, p.out, err)
		}
	}
	return nil
}

// inspectAndMeasure answers what is looked for and reads three rounds, and returns the most memory in kB that the
// program has had.
func (p *person) inspectAndMeasure() (int, error) {
	answers := []string{"c"}
	for range 3 {
		answers = append(answers, "0.0000", "0.0001", "0.0002", "0.0001")
	}
	for _, answer := range answers {
		p.out = nil
		if _, err := p.tty.WriteString(answer + "\r"); err != nil {
			return 0, err
		}
		if err := p.waitFor(" > "); err != nil { // behind the next question's label
			return 0, err
		}
	}
	return resident(p.cmd.Process)
}

// end stops the program, which keeps what was read, and waits until it has ended.
func (p *person) end() error {
	defer p.tty.Close()
	if err := p.cmd.Process.Signal(os.Interrupt); err != nil {
		return err
	}
	go func() { // else it may wait for room on the terminal
		buf := make([]byte, 4096)
		for {
			if _, err := p.tty.Read(buf); err != nil {
				return
			}
		}
	}()
	var exit *exec.ExitError
	if err := p.cmd.Wait(); !errors.As(err, &exit) { // an inspection that is stopped is not done
		return err
	}
	return nil
}
