package page

import (
	"net/url"
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

// That a tool was ground, and nothing of how, leaves it to be asked when the tool is read; what was told is not asked
// again, and stands with the inspection.
func TestHowItWasGroundIsAsked(t *testing.T) {
	for name, told := range map[string]url.Values{"nothing": {}, "divisions": {"divisions": {"2"}}} {
		r := newRecorder(t, nil)
		worn := r.take(testTool.ID, inspect.Before, "c", "0 .0001 0", ".019 .031", ".02 .03")
		if err := r.server.hub.close(worn, ""); err != nil {
			t.Fatal(err)
		}
		c := r.client()
		form := c.fields(deedLink("ground", testTool.ID, testTool.ID))
		form.Set("do", "ground")
		form.Set("id", testTool.ID)
		for k, v := range told {
			form[k] = v
		}
		if a := c.post("/deed", form); a.path != "/tool" {
			t.Fatalf("%s: ground: status %d at %s: %s", name, a.status, a.path, a.body)
		}
		s := r.sit(inspect.After)
		if asked := strings.Contains(s.shows(), "It was ground so"); asked != (len(told) == 0) {
			t.Errorf("%s told: it is asked: %v", name, asked)
		}
		if len(told) == 0 {
			s.post("/keep")
		}
		s.post("/look", "clear", "yes")
		s.takes("0 .0001 0")
		if a := s.post("/close"); a.path != "/inspection" {
			t.Fatalf("%s: closing: status %d: %s", name, a.status, a.body)
		}
		in, err := record.Find(r.config.Ledger, s.id)
		if err != nil {
			t.Fatal(err)
		}
		if fed := in.Divisions > 0 || len(in.Ground().Faces) > 0; !fed {
			t.Errorf("%s told: how it was ground is not with the inspection: %+v", name, in.Ground())
		}
	}
}
