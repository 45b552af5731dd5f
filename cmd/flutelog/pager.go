package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"golang.org/x/term"
)

// paged runs what prints much and, at a terminal, gives what is longer than it a screen at a time; elsewhere all at
// once.
func paged(e env, print func(e env) error) error {
	if !atTerminal(e) {
		return print(e)
	}
	var all bytes.Buffer
	screen := e.stdout
	e.stdout = &all
	err := print(e)
	if wrote := givePages(e, screen, all.String()); err == nil {
		err = wrote
	}
	return err
}

func givePages(e env, screen io.Writer, all string) error {
	keyboard := terminalOf(e)
	_, height, err := term.GetSize(int(keyboard.Fd()))
	if err != nil || height < 4 {
		height = 24
	}
	lines := strings.SplitAfter(all, "\n")
	for len(lines) > height-1 {
		if _, err := io.WriteString(screen, strings.Join(lines[:height-1], "")); err != nil {
			return err
		}
		lines = lines[height-1:]
		fmt.Fprintf(e.stderr, " %d lines more: Enter, or q and Enter > ", len(lines)-1)
		typed, err := readLine(keyboard)
		if err != nil || strings.TrimSpace(typed) == "q" {
			return nil
		}
	}
	_, err = io.WriteString(screen, strings.Join(lines, ""))
	return err
}

// readLine reads up to the end of a line, and not a byte behind it.
func readLine(r io.Reader) (string, error) {
	var line []byte
	for b := make([]byte, 1); ; {
		n, err := r.Read(b)
		if n == 1 && b[0] == '\n' {
			return string(line), nil
		}
		line = append(line, b[:n]...)
		if err != nil {
			return string(line), err
		}
	}
}
