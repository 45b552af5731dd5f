package ledger

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
)

// wantedSuffix ends the name of the file that asks for a draft.
const wantedSuffix = ".wanted"

// longestWho is the most bytes that are read of who asks.
const longestWho = 200

func (l *Ledger) wantedPath(id string) string {
	return filepath.Join(l.dir, strings.TrimSuffix(filepath.Base(l.draftPath(id)), ".jsonl")+wantedSuffix)
}

// Want asks the process that has a draft to let go of it: it sees Wanted, and OpenDraft then takes it up here. who is told
// there. Nothing is recorded by it.
func (l *Ledger) Want(id, who string) error {
	if err := checkDraftID(id); err != nil {
		return fmt.Errorf("asking for draft %q: %w", id, err)
	}
	f, err := l.opt.fsys.OpenFile(l.wantedPath(id), os.O_WRONLY|os.O_CREATE|os.O_TRUNC)
	if err != nil {
		return fmt.Errorf("asking for draft %q: %w", id, err)
	}
	if len(who) > longestWho {
		who = strings.ToValidUTF8(who[:longestWho], "")
	}
	_, err = f.WriteAt([]byte(who+"\n"), 0)
	if closed := f.Close(); err == nil {
		err = closed
	}
	return err
}

// Wanted says whether another process asks for a draft, and who; it asks no more then.
func (l *Ledger) Wanted(id string) (who string, yes bool) {
	name := l.wantedPath(id)
	if _, err := l.opt.fsys.Lstat(name); err != nil {
		return "", false
	}
	f, err := l.opt.fsys.OpenFile(name, os.O_RDONLY)
	if err != nil {
		return "", false
	}
	text := make([]byte, longestWho)
	n, _ := f.ReadAt(text, 0)
	f.Close()
	if err := l.opt.fsys.Remove(name); err != nil {
		return "", false
	}
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return -1
		}
		return r
	}, strings.ToValidUTF8(strings.TrimSpace(string(text[:n])), "")), true
}
