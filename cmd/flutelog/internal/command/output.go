package command

import (
	"bufio"
	"errors"
	"io"
	"os"
	"strings"
	"unicode/utf8"
)

// WriteWhole writes to a file, which then stands whole or not at all; an empty path is standard output. What is
// there and no file, a pipe or a device, is written to as it is.
func WriteWhole(e Env, path string, write func(io.Writer) error) error {
	if path == "" {
		return write(e.Stdout)
	}
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() && !info.IsDir() {
		return writeTo(path, os.O_WRONLY, write)
	}
	part := path + ".part"
	err := writeTo(part, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, write)
	if err == nil {
		err = os.Rename(part, path)
	}
	if err != nil {
		os.Remove(part)
	}
	return err
}

func writeTo(path string, flag int, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, flag, 0o600)
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	return errors.Join(write(w), w.Flush(), f.Close())
}

// LineWidth is what a terminal surely holds beside each other.
const LineWidth = 80

// Wrapped breaks text between words into lines of at most width columns, each but the first begun with indent.
func Wrapped(text string, width int, indent string) string {
	var b strings.Builder
	column := 0
	for i, word := range strings.Fields(text) {
		wide := utf8.RuneCountInString(word)
		switch {
		case i > 0 && column+1+wide > width:
			b.WriteString("\n" + indent)
			column = utf8.RuneCountInString(indent)
		case i > 0:
			b.WriteByte(' ')
			column++
		}
		b.WriteString(word)
		column += wide
	}
	return b.String()
}
