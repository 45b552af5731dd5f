package page

import (
	"strings"
	"testing"

	"flutelog/inspect"
	"flutelog/inspect/record"
)

// The way to the grinder is open only where a step is at the wheel and the tool may be ground: not on one that is locked, on one
// that waits for a signature alone, or on one that was locked or withdrawn since.
func TestPageSendsOnlyWhatMayBeGround(t *testing.T) {
	offers := func(c *client, id string, want bool) {
		t.Helper()
		if got := strings.Contains(c.get(link("/inspection", id)).body, `id="to-grinder"`); got != want {
			t.Errorf("%s: the way to the grinder is offered: %v, want %v", id, got, want)
		}
		if got := c.get(link("/route", id)).path == "/route"; got != want {
			t.Errorf("%s: the way to the grinder is open: %v, want %v", id, got, want)
		}
	}
	r := newRecorder(t, nil)
	c := r.client()
	take := func(stage inspect.Stage, lines ...string) string {
		t.Helper()
		id := r.take(testTool.ID, stage)
		for _, line := range lines {
			r.server.hub.line(id, "", line)
		}
		if err := r.server.hub.close(id, ""); err != nil {
			t.Fatal(err)
		}
		return id
	}
	worn := take(inspect.Before, "c", "0 .0001 0", ".019 .031", ".02 .03") // a secondary is needed
	offers(c, worn, true)
	good := take(inspect.After, "", "c", "0 .0001 0")
	if in, err := record.Find(r.config.Ledger, good); err != nil || len(in.Judgement.Steps) == 0 {
		t.Fatalf("%s has no step to sign: %v", good, err)
	}
	offers(c, good, false)
	again := take(inspect.Before, "c", "0 .0001 0", ".019 .031", ".02 .03")
	offers(c, again, true)
	cracked := take(inspect.Before, "1 f2")
	offers(c, cracked, false)
	offers(c, again, false) // the tool is locked since
}
