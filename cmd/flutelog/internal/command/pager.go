package command

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/term"
)

// Paged runs what prints much and, at a terminal, gives what is longer than it a screen at a time; elsewhere all at
// once.
func Paged(e Env, print func(e Env) error) error {
	if !AtTerminal(e) {
		w := bufio.NewWriter(e.Stdout) // a table comes cell by cell
		e.Stdout = w
		return errors.Join(print(e), w.Flush())
	}
	var all bytes.Buffer
	screen := e.Stdout
	e.Stdout = &all
	err := print(e)
	if wrote := givePages(e, screen, all.String()); err == nil {
		err = wrote
	}
	return err
}

func givePages(e Env, screen io.Writer, all string) error {
	keyboard := TerminalOf(e)
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
		fmt.Fprintf(e.Stderr, " %d lines more: Enter, or q and Enter > ", len(lines)-1)
		typed, err := ReadLine(keyboard)
		if err != nil || strings.TrimSpace(typed) == "q" {
			return nil
		}
	}
	_, err = io.WriteString(screen, strings.Join(lines, ""))
	return err
}
