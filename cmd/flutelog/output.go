package main

import (
	"bufio"
	"io"
	"os"
)

// writeWhole writes to a file, which then stands whole or not at all; an empty path is standard output.
func writeWhole(e env, path string, write func(io.Writer) error) error {
	if path == "" {
		return write(e.stdout)
	}
	part := path + ".part"
	f, err := os.OpenFile(part, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	w := bufio.NewWriter(f)
	err = write(w)
	if flushed := w.Flush(); err == nil {
		err = flushed
	}
	if closed := f.Close(); err == nil {
		err = closed
	}
	if err != nil {
		os.Remove(part)
		return err
	}
	return os.Rename(part, path)
}
