package command

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"syscall"
	"testing"
)

func TestWriteWhole(t *testing.T) {
	hello := func(w io.Writer) error {
		_, err := io.WriteString(w, "hello")
		return err
	}
	t.Run("a file", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "out")
		if err := WriteWhole(Env{}, path, hello); err != nil {
			t.Fatal(err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != "hello" {
			t.Errorf("got %q, %v", got, err)
		}
	})
	t.Run("a failure leaves what was there", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "out")
		if err := os.WriteFile(path, []byte("before"), 0o600); err != nil {
			t.Fatal(err)
		}
		broken := errors.New("broken")
		if err := WriteWhole(Env{}, path, func(io.Writer) error { return broken }); !errors.Is(err, broken) {
			t.Errorf("got %v", err)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != "before" {
			t.Errorf("got %q, %v", got, err)
		}
		if _, err := os.Stat(path + ".part"); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("the part: %v", err)
		}
	})
	t.Run("a pipe stays a pipe", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "out")
		if err := syscall.Mkfifo(path, 0o600); err != nil {
			t.Fatal(err)
		}
		read := make(chan string, 1)
		go func() {
			text, err := os.ReadFile(path)
			if err != nil {
				text = []byte(err.Error())
			}
			read <- string(text)
		}()
		if err := WriteWhole(Env{}, path, hello); err != nil {
			t.Fatal(err)
		}
		if info, err := os.Stat(path); err != nil || info.Mode()&os.ModeNamedPipe == 0 {
			t.Fatalf("it is %v, %v", info.Mode(), err)
		}
		if got := <-read; got != "hello" {
			t.Errorf("got %q", got)
		}
	})
}
