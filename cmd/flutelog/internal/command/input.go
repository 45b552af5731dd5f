package command

import (
	"fmt"
	"io"
	"os"

	"flutelog/inspect/study"
	"flutelog/inspect/text"
)

// MostText is the most bytes of a text file that is read: some hundred thousand lines.
const MostText = 8 << 20

// ReadFile reads a file, or standard input for -. What is wrong with its content is wrong use.
func ReadFile(e Env, name string, read func(io.Reader) error) error {
	in := e.Stdin
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return err
		}
		defer f.Close()
		in = f
	}
	if err := read(text.Reader(in, MostText)); err != nil {
		return Usage(fmt.Errorf("%s: %w", name, err))
	}
	return nil
}

func ReadNumbers(e Env, name string) ([]float64, error) {
	var values []float64
	err := ReadFile(e, name, func(in io.Reader) (err error) {
		values, err = study.ReadNumbers(in)
		return err
	})
	return values, err
}
