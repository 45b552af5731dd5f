package ledger

import (
	"bufio"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// inspectUntilKilled begins drafts, fills and closes them, and appends in between, and prints each thing that was
// acknowledged.
func inspectUntilKilled(l *Ledger) error {
	said := bufio.NewWriterSize(os.Stdout, 1)
	say := func(format string, args ...any) {
		fmt.Fprintf(said, format+"\n", args...)
		said.Flush()
	}
	ids, err := l.Drafts()
	if err != nil {
		return err
	}
	for n := 0; ; n++ {
		var d *Draft
		lines := 0
		if n < len(ids) {
			var content DraftContent
			d, content, err = l.OpenDraft(ids[n])
			lines = len(content.Lines)
		} else {
			d, err = l.NewDraft(fmt.Sprintf("EM-%d.%d", os.Getpid(), n), entry("opened", "tool:EM-1", n))
		}
		if err != nil {
			return err
		}
		say("opened %s %s", d.id, d.Opened().Hash)
		for ; lines < 6; lines++ {
			if err := d.Append(fmt.Appendf(nil, "%s line %d", d.id, lines)); err != nil {
				return err
			}
			say("line %s %d .", d.id, lines)
		}
		summary := entry("summary", "tool:EM-1", n)
		summary.AboutBack = 1
		records, err := d.Close(Entry{Kind: "readings", Subject: "tool:EM-1", Body: fmt.Appendf(nil, `{"n":%d,"pad":%q}`, n, strings.Repeat("x", 500))}, summary)
		if err != nil {
			return err
		}
		say("closed %s %s %s", d.id, records[0].Hash, records[1].Hash)
	}
}

// TestKills kills processes that inspect at random moments. Whatever any of them acknowledged is there: records in the
// chain, closings whole, lines in drafts that are not closed.
func TestKills(t *testing.T) {
	kills := countCuts(250, 12)
	dir := filepath.Join(t.TempDir(), "ledger")
	if _, err := Open(dir, Options{}); err != nil {
		t.Fatal(err)
	}
	hashes, closed, lines := map[string]bool{}, map[string]bool{}, map[string]int{}
	acknowledged := 0
	for n := range kills {
		cmd, out := startTask(t, "until killed", dir)
		if n%2 == 1 { // else whatever it has come to
			out.Scan()
			acknowledged += take(out.Text(), hashes, closed, lines)
		}
		time.AfterFunc(time.Duration(rand.Int64N(int64(60*time.Millisecond))), func() { cmd.Process.Kill() })
		for out.Scan() {
			acknowledged += take(out.Text(), hashes, closed, lines)
		}
		cmd.Wait()
		if n%10 == 9 || n == kills-1 {
			checkKilled(t, dir, hashes, closed, lines)
		}
	}
	if acknowledged < 2*kills {
		t.Errorf("%d things were acknowledged in %d kills: the test tries too little", acknowledged, kills)
	}
	t.Logf("%d kills, %d records and lines acknowledged, none lost", kills, acknowledged)
}

// take notes what a process has said to be recorded, and counts it. The last line may be half.
func take(text string, hashes, closed map[string]bool, lines map[string]int) int {
	f := strings.Fields(text)
	switch {
	case len(f) == 3 && f[0] == "opened" && len(f[2]) == 64:
		hashes[f[2]] = true
	case len(f) == 4 && f[0] == "line" && f[3] == ".":
		lines[f[1]] = max(lines[f[1]], int(f[2][0]-'0')+1)
	case len(f) == 4 && f[0] == "closed" && len(f[3]) == 64:
		hashes[f[2]], hashes[f[3]], closed[f[1]] = true, true, true
	default:
		return 0
	}
	return 1
}

func checkKilled(t *testing.T, dir string, hashes, closed map[string]bool, lines map[string]int) {
	t.Helper()
	l, err := Open(dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	have, summaries, readings := map[string]bool{}, 0, 0
	err = l.Scan(func(r Record) error {
		have[r.Hash] = true
		switch r.Kind {
		case "summary":
			summaries++
		case "readings":
			readings++
		}
		if r.Closes != "" {
			closed[r.Closes] = true // and not said any more
		}
		return nil
	})
	if err != nil || summaries != readings {
		t.Fatalf("%v, %d summaries of %d readings", err, summaries, readings)
	}
	for hash := range hashes {
		if !have[hash] {
			t.Fatalf("record %s was acknowledged and is lost", hash)
		}
	}
	for id, n := range lines {
		if closed[id] {
			continue
		}
		content, err := l.ReadDraft(id)
		if err != nil || len(content.Lines) < n || len(content.Damage) > 0 {
			t.Fatalf("draft %s: %v, %d lines of %d acknowledged, damage %v", id, err, len(content.Lines), n, content.Damage)
		}
	}
	head, err := l.Head()
	if err != nil {
		t.Fatal(err)
	}
	if err := checkSound(l, head); err != nil {
		t.Fatal(err)
	}
}
