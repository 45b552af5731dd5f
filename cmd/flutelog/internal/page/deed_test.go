package page

import (
	"html"
	"net/http"
	"net/url"
	"reflect"
	"strings"
	"testing"

	"flutelog/cmd/internal/people"
	"flutelog/inspect/record"
)

// ask opens the page of a deed and returns the form that it holds.
func (c *client) ask(do, id string) url.Values {
	c.t.Helper()
	f := c.fields(deedLink(do, id, "EM-6"))
	f.Set("do", do)
	f.Set("id", id)
	f.Set("confirmed", "yes")
	return f
}

// signedIn is the page over the kept ledger at a device where one who may sign, and has a PIN, is signed in.
func keptSigned(t *testing.T) (*recorder, *client) {
	t.Helper()
	r := kept(t)
	p, err := people.Read(r.config.Ledger.Dir())
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Add("R. Vale", "1357"); err != nil {
		t.Fatal(err)
	}
	if err := p.Add("T. Reader", ""); err != nil {
		t.Fatal(err)
	}
	c := r.client()
	if a := c.signIn("R. Vale", "1357"); a.path != "/add" {
		t.Fatalf("signing in: %d at %s", a.status, a.path)
	}
	return r, c
}

func (r *recorder) stands(id string) record.Tool {
	r.t.Helper()
	t, err := record.FindTool(r.config.Ledger, id)
	if err != nil {
		r.t.Fatal(err)
	}
	return t
}

// A lock is lifted and a tool withdrawn by who is signed in, may sign, says so and gives their PIN; whatever else is
// refused leaves the ledger as it was, and the form as it was sent.
func TestGraveDeeds(t *testing.T) {
	r, c := keptSigned(t)
	for _, wrong := range []struct {
		change func(url.Values)
		want   string
	}{
		{func(f url.Values) { f.Del("confirmed") }, "tick"},
		{func(f url.Values) { f.Set("pin", "0000") }, "PIN"},
		{func(f url.Values) { f.Set("why", "") }, "reason"},
		{func(f url.Values) { f.Set("why", ".") }, `id="wrong-why"`},
	} {
		f := c.ask("unlock", "EM-3")
		f.Set("why", "a scratch: dye shows nothing")
		f.Set("pin", "1357")
		wrong.change(f)
		a := c.post("/deed", f)
		if a.status != http.StatusUnprocessableEntity || !strings.Contains(html.UnescapeString(a.body), wrong.want) {
			t.Errorf("want %q: status %d, %s", wrong.want, a.status, a.body)
		}
		if f.Get("why") == "a scratch: dye shows nothing" && !strings.Contains(a.body, `value="a scratch: dye shows nothing"`) {
			t.Errorf("%s: the reason that was typed is gone", wrong.want)
		}
	}
	if got := r.stands("EM-3").Standing; got != record.StandsLocked {
		t.Fatalf("EM-3 is %s", got)
	}
	f := c.ask("unlock", "EM-3")
	f.Set("why", "a scratch: dye shows nothing")
	f.Set("pin", "1357")
	f.Set("by", "S. Okafor") // a name in the form is nobody's
	if a := c.post("/deed", f); a.path != "/tool" {
		t.Fatalf("unlock: %d at %s: %s", a.status, a.path, a.body)
	}
	if got := r.stands("EM-3"); got.Standing == record.StandsLocked {
		t.Error("EM-3 is locked still")
	}
	f = c.ask("withdraw", "EM-7")
	f.Set("why", "dropped")
	f.Set("pin", "1357")
	if a := c.post("/deed", f); a.path != "/tool" {
		t.Fatalf("withdraw: %d at %s: %s", a.status, a.path, a.body)
	}
	got := r.stands("EM-7")
	if last := got.Rulings[len(got.Rulings)-1]; got.Standing != record.StandsWithdrawn || last.By != "R. Vale" || last.Why != "dropped" {
		t.Errorf("EM-7 is %s: %+v", got.Standing, last)
	}
	// who may not sign is told who may, and signs nothing
	d := r.client()
	d.signIn("T. Reader", "")
	f = d.ask("withdraw", "EM-6")
	f.Set("why", "x")
	if a := d.post("/deed", f); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "may not sign") {
		t.Errorf("status %d: %s", a.status, a.body)
	}
	if got := r.stands("EM-6").Standing; got != record.StandsToGrind {
		t.Errorf("EM-6 is %s", got)
	}
}

// What cannot be done is refused with the reason before anything is asked: no form, no PIN, and no word that it conforms.
func TestWhatCannotBeDoneIsNotAsked(t *testing.T) {
	_, c := keptSigned(t)
	for _, x := range []struct{ do, id, want string }{
		{"release", "EM-3.1", "the tool is locked"},
		{"concession", "EM-3.1", "lift the lock"},
		{"release", "EM-6.1", "a tool is released by one after the grind"},
		{"unlock", "EM-6", "is not locked"},
	} {
		a := c.get(deedLink(x.do, x.id, "EM-7"))
		body := html.UnescapeString(a.body)
		if a.status != http.StatusUnprocessableEntity || !strings.Contains(body, x.want) || strings.Contains(body, `action="/deed"`) || strings.Contains(body, "you sign for it") || strings.Contains(body, "tool unlock") {
			t.Errorf("%s of %s: status %d: %s", x.do, x.id, a.status, body)
		}
		if tool, _, _ := strings.Cut(x.id, "."); !strings.Contains(body, `href="/tool?id=`+tool+`">Back`) {
			t.Errorf("%s of %s does not lead back to its tool: %s", x.do, x.id, body)
		}
	}
	if a := c.get(deedLink("withdraw", "EM-6.1", "EM-6")); a.status != http.StatusOK || !strings.Contains(a.body, `action="/deed"`) {
		t.Errorf("what can be withdrawn is not asked: %d: %s", a.status, a.body)
	}
}

// What is told of a tool is kept with who told it: that it was ground and how, sent out, back, a note, that it is out of
// use.
func TestToldDeeds(t *testing.T) {
	r, c := keptSigned(t)
	f := c.ask("ground", "EM-6")
	for name, value := range map[string]string{"divisions": "three", "order": "1, 4, 3, 2", "wheel": "cup"} {
		f.Set(name, value)
	}
	if a := c.post("/deed", f); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, `id="wrong-divisions"`) || !strings.Contains(a.body, `value="1, 4, 3, 2"`) {
		t.Errorf("divisions in words: status %d: %s", a.status, a.body)
	}
	f.Set("divisions", "3")
	c.post("/deed", f)
	got := r.stands("EM-6")
	if g := got.Grounds[len(got.Grounds)-1]; got.Standing != record.StandsToInspect || g.Divisions != 3 || len(g.Order) != 4 || g.Order[1] != 4 || g.By != "R. Vale" {
		t.Errorf("EM-6 is %s: %+v", got.Standing, g)
	}
	f = c.ask("away", "EM-6")
	f.Set("where", "coating")
	c.post("/deed", f)
	if a := r.stands("EM-6").Away; a == nil || a.Where != "coating" || a.By != "R. Vale" {
		t.Errorf("EM-6 is away: %+v", a)
	}
	c.post("/deed", c.ask("back", "EM-6"))
	if a := r.stands("EM-6").Away; a != nil {
		t.Errorf("EM-6 is away still: %+v", a)
	}
	f = c.ask("note", "EM-6")
	if a := c.post("/deed", f); a.status != http.StatusUnprocessableEntity {
		t.Errorf("an empty note: status %d", a.status)
	}
	f.Set("text", "mill 3 was told")
	c.post("/deed", f)
	if n := r.stands("EM-6").Notes; len(n) == 0 || n[len(n)-1].Text != "mill 3 was told" || n[len(n)-1].By != "R. Vale" {
		t.Errorf("notes: %+v", n)
	}
	f = c.ask("retire", "EM-6")
	f.Set("why", "too short")
	f.Del("confirmed")
	if a := c.post("/deed", f); a.status != http.StatusUnprocessableEntity || r.stands("EM-6").Retired != "" {
		t.Errorf("retired without being confirmed: status %d", a.status)
	}
	f.Set("confirmed", "yes")
	c.post("/deed", f)
	if got := r.stands("EM-6"); got.Standing != record.StandsRetired || got.Retired != "too short" {
		t.Errorf("EM-6 is %s: %q", got.Standing, got.Retired)
	}
	f = c.ask("succeed", "EM-6")
	f.Set("as", "EM-6B")
	f.Set("pin", "1357")
	c.post("/deed", f)
	if got := r.stands("EM-6B"); got.Standing != record.StandsReceived || got.Flutes != r.stands("EM-6").Flutes {
		t.Errorf("EM-6B: %+v", got)
	}
}

// A job is added with its tools, its releasable ones are released together with one PIN, and then the job itself; the
// page says what each tool lacks and why there is no certificate yet.
func TestJob(t *testing.T) {
	r, c := keptSigned(t)
	f := c.fields("/job/add")
	for name, value := range map[string]string{"id": "J-9", "customer": "Harrow <Hire>", "tools": "MM-12, EM-77", "authority": "R. Vale"} {
		f.Set(name, value)
	}
	if a := c.post("/job/add", f); a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, `id="wrong-tools"`) || !strings.Contains(a.body, "Harrow &lt;Hire&gt;") {
		t.Errorf("a tool that is not there: status %d: %s", a.status, a.body)
	}
	f.Set("tools", "MM-12")
	a := c.post("/job/add", f)
	if a.path != "/job" {
		t.Fatalf("adding: %d at %s: %s", a.status, a.path, a.body)
	}
	// it came anew with the job: it is to be inspected first
	for _, want := range []string{"MM-12", "received", "No certificate yet: MM-12: an inspection"} {
		if !strings.Contains(a.body, want) {
			t.Errorf("the job does not say %q", want)
		}
	}
	job := c.get("/job?id=J-1").body
	for _, want := range []string{"EM-1</bdi> is locked: an unlocking", "On a condition", "Withdrawn", "No certificate yet"} {
		if !strings.Contains(job, want) {
			t.Errorf("J-1 does not say %q", want)
		}
	}
	// what it lacks is said before it is asked for, and nothing is asked
	f = c.fields("/job/add")
	for name, value := range map[string]string{"id": "J-11", "tools": "EM-1, EM-2"} {
		f.Set(name, value)
	}
	c.post("/job/add", f)
	a = c.get(deedLink("job", "J-11", ""))
	if a.status != http.StatusUnprocessableEntity || !strings.Contains(a.body, "EM-1 is locked, it lacks an unlocking") || !strings.Contains(a.body, "EM-2 is received, it lacks an inspection") || strings.Contains(a.body, "Every tool of it is settled") || strings.Contains(a.body, `action="/deed"`) {
		t.Errorf("releasing J-11: status %d: %s", a.status, a.body)
	}
	if a := c.get("/deed?do=release&job=J-1"); !strings.Contains(a.body, "tick at least one") || !strings.Contains(a.body, `href="/job?id=J-1">Back`) {
		t.Errorf("nothing ticked: status %d: %s", a.status, a.body)
	}
	if a := c.get("/certificate?id=J-1"); a.status != http.StatusOK || !strings.Contains(a.body, "No certificate yet") {
		t.Errorf("certificate: status %d", a.status)
	}
	if a := c.get("/tags?id=J-1"); a.status != http.StatusOK || strings.Count(a.body, "EM-") < 3 {
		t.Errorf("tags: status %d", a.status)
	}
	// one person alone releases it
	if _, err := record.SaveJob(r.config.Ledger, record.Job{ID: "J-10", Quantity: 1, Sample: 1, Tools: []string{"EM-10"}, Authority: "S. Okafor"}, r.clock.Now()); err != nil {
		t.Fatal(err)
	}
	if a := c.get(deedLink("job", "J-10", "")); !strings.Contains(a.body, "released by S. Okafor alone; R. Vale is signed in here") || strings.Contains(a.body, `action="/deed"`) {
		t.Errorf("releasing J-10: status %d: %s", a.status, a.body)
	}
	if a := c.get("/job?id=J-77"); a.status != http.StatusNotFound {
		t.Errorf("no such job: status %d", a.status)
	}
}

// Several tools are released together, all or none, with one PIN.
func TestReleaseOfMany(t *testing.T) {
	r, c := keptSigned(t)
	f := c.ask("release", "MM-12.1")
	f.Add("id", "EM-6.3") // does not conform: then none is released
	f.Set("pin", "1357")
	if a := c.post("/deed", f); a.status != http.StatusUnprocessableEntity || r.stands("MM-12").Standing != record.StandsToSign {
		t.Errorf("one that does not conform: status %d, MM-12 is %s", a.status, r.stands("MM-12").Standing)
	}
	if a := c.get("/deed?do=release&id=MM-12.1&id=EM-6.3"); !strings.Contains(a.body, "EM-6.3: it does not conform") || !strings.Contains(a.body, `do=release&amp;id=MM-12.1&amp;job=&amp;tool=">Release the other one`) {
		t.Errorf("which of them can be released is not said: %s", a.body)
	}
	f["id"] = []string{"MM-12.1"}
	if a := c.post("/deed", f); a.path != "/tool" {
		t.Fatalf("release: %d at %s: %s", a.status, a.path, a.body)
	}
	if got := r.stands("MM-12"); got.Standing != record.StandsReleased || got.Rulings[0].By != "R. Vale" {
		t.Errorf("MM-12 is %s", got.Standing)
	}
}

// What is known of a tool is changed by the form that describes one; a refused change comes back and changes nothing.
func TestChange(t *testing.T) {
	r, c := keptSigned(t)
	f := c.fields("/change?id=EM-6")
	for name, value := range r.server.toolForm(r.stands("EM-6").Tool) {
		f[name] = value
	}
	f.Set("note", "from cell 4")
	f.Set("diameter", "half")
	if a := c.post("/change", f); a.status == http.StatusOK || r.stands("EM-6").Note != "invented" {
		t.Errorf("a diameter in words: status %d, note %q", a.status, r.stands("EM-6").Note)
	}
	was := r.stands("EM-6").Tool
	f.Set("diameter", was.Diameter.In(r.config.Unit))
	if a := c.post("/change", f); a.path != "/tool" {
		t.Fatalf("change: %d at %s: %s", a.status, a.path, a.body)
	}
	is := r.stands("EM-6").Tool
	if is.Note != "from cell 4" {
		t.Errorf("note %q", is.Note)
	}
	was.Cut = "" // right, which is the usual, and left out
	if is.Note = was.Note; !reflect.DeepEqual(is, was) {
		t.Errorf("changed more than the note: %+v, was %+v", is, was)
	}
}

// The card of a conceded tool begins with its condition, that of a released one with who signed; and a history says of a lock
// that was lifted by whom, and how they knew.
func TestCardSaysWhoLetItOut(t *testing.T) {
	r, c := keptSigned(t)
	if body := c.get("/tool?id=EM-2").body; !strings.Contains(body, `<p class="reason">Use `) || strings.Index(body, `<p class="reason">Use `) > strings.Index(body, `id="h-life"`) {
		t.Errorf("the condition of EM-2 does not stand before all else: %s", body)
	}
	f := c.ask("release", "MM-12.1")
	f.Set("pin", "1357")
	if a := c.post("/deed", f); a.path != "/tool" {
		t.Fatalf("release: %d at %s: %s", a.status, a.path, a.body)
	}
	if body := c.get("/tool?id=MM-12").body; !strings.Contains(body, "<p>Released, by R. Vale, ") {
		t.Errorf("who signed for MM-12 is not said: %s", body)
	}
	// a second tablet, whose page was open before, is told once
	a := c.post("/deed", f)
	if n := strings.Count(a.body, "release was ruled by R. Vale"); a.status != http.StatusUnprocessableEntity || n != 1 {
		t.Errorf("released twice: status %d, it is said %d times", a.status, n)
	}
	lock := r.stands("EM-1").Locks[0]
	f = c.ask("unlock", "EM-1")
	f.Set("why", "a coolant line, wiped off")
	f.Set("pin", "1357")
	if a := c.post("/deed", f); a.path != "/tool" || !strings.Contains(a.body, "Lock for "+lock.What()+" lifted by R. Vale") || !strings.Contains(a.body, "a coolant line, wiped off") {
		t.Errorf("who lifted the lock of EM-1 is not said: %d at %s: %s", a.status, a.path, a.body)
	}
	if body := c.get("/tag?id=EM-1").body; !strings.Contains(body, "lock was lifted by R. Vale") {
		t.Errorf("the tag of EM-1 does not say that the lock was lifted: %s", body)
	}
	// what an inspection called for is not to be done once the tool is let out by it
	in := r.stands("EM-2").State.Inspection
	body := c.get("/inspection?id=" + in).body
	if ruling, headline := strings.Index(body, "Ruling: concession by"), strings.Index(body, "RESEAT FIRST"); ruling < 0 || headline < ruling || strings.Contains(body, "Step by step") {
		t.Errorf("%s: the ruling at %d, the headline at %d, and what to grind: %s", in, ruling, headline, body)
	}
}
