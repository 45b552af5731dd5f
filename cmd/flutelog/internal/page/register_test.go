package page

import (
	"context"
	"net/http"
	"strings"
	"testing"
	"time"

	"flutelog/inspect/ledger"
	"flutelog/inspect/record"
	"flutelog/inspect/register"
	"flutelog/inspect/register/registertest"
)

// A tool that another bench withdrew is found here, and is withdrawn here; the page says whose word that is and how the
// sending stands, and lets nothing out without the register unless a reason is given.
func TestPageAsksTheRegister(t *testing.T) {
	shop := registertest.New(t)
	there, err := ledger.Open(t.TempDir(), ledger.Options{Bench: "the other bench"})
	if err != nil {
		t.Fatal(err)
	}
	away := testTool
	away.ID = "AWAY-1"
	if _, err := record.SaveTool(there, away); err != nil {
		t.Fatal(err)
	}
	if _, err := record.Rule(there, []string{"AWAY-1"}, record.Withdraw, record.Who{By: "P. Other", Why: "dropped", At: time.Now()}); err != nil {
		t.Fatal(err)
	}
	if _, err := register.Sync(context.Background(), there, shop.Enrolment, time.Now); err != nil {
		t.Fatal(err)
	}
	r, c := keptSigned(t)
	if err := register.Join(r.config.Ledger.Dir(), shop.Enrolment); err != nil {
		t.Fatal(err)
	}
	card := c.get("/tools?q=AWAY-1")
	for _, want := range []string{"withdrawn", "P. Other", "by the register’s word", "register&#39;s word, asked "} {
		if card.path != "/tool" || !strings.Contains(card.body, want) {
			t.Errorf("the card, at %s, does not say %q", card.path, want)
		}
	}
	if board := c.get("/").body; !strings.Contains(board, "register: nothing sent yet, ") {
		t.Error("the board does not say how the sending stands")
	}

	shop.Down(true)
	f := c.ask("release", "MM-12.1")
	f.Set("pin", "1357")
	if a := c.post("/deed", f); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "what stops it may stand at another bench") || !strings.Contains(a.body, `id="wrong-why"`) {
		t.Errorf("released without the register, status %d: %s", a.status, a.body)
	}
	if got := r.stands("MM-12").Standing; got != record.StandsToSign {
		t.Errorf("MM-12 is %s", got)
	}
	if a := c.get("/tool?id=MM-12"); !strings.Contains(a.body, "History elsewhere was never asked: the register at ") {
		t.Error("the card does not say that the register was not asked")
	}
	f.Set("why", "the network is down")
	if a := c.post("/deed", f); a.path != "/tool" {
		t.Fatalf("with a reason: %d at %s: %s", a.status, a.path, a.body)
	}
	if got := r.stands("MM-12"); got.Standing != record.StandsReleased || got.Rulings[0].Why != "the network is down" {
		t.Errorf("MM-12 is %s, %+v", got.Standing, got.Rulings)
	}
}
