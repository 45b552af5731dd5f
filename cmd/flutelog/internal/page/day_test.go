//go:build linux

package page

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"flutelog/cmd/internal/people"
	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/ledger"
	"flutelog/inspect/length"
	"flutelog/inspect/record"
)

// shop is the built program serving a ledger at an address, with a gauge on a pseudo-terminal. The tools are invented.
type shop struct {
	t                         *testing.T
	program, at, ledger, toml string
	gauge                     *device.Practice
	cmd                       *exec.Cmd
}

// dayBench asks for little, so that a day is short; what it does not ask for is said on every paper.
const dayBench = `
name = "Tool room"
inspectors = ["Okafor"]
release-rule = "simple"
turning = "forward"
[stage.after]
features = ["radial-runout", "diameter"]
repeats = 1
required = ["cracks", "burn", "radial-runout", "diameter"]
[[gauge]]
name = "indicator 1"
port = %q
take = "button"
unit = "in"
resolution = "0.00001in"
quiet-time = "1ms"
pattern = '''(?P<sign>[+-])(?P<value>\d\.\d{5}) (?P<unit>in) (?P<status>ok|over|weak)'''
good-status = ["ok"]
features = ["radial-runout"]
`

func newShop(t *testing.T, steps ...device.Step) *shop {
	t.Helper()
	goTool, err := exec.LookPath("go")
	needed(t, err)
	dir := t.TempDir()
	s := &shop{t: t, program: filepath.Join(dir, "flutelog"), ledger: filepath.Join(dir, "ledger"), toml: filepath.Join(dir, "bench.toml")}
	if out, err := exec.Command(goTool, "build", "-o", s.program, "flutelog/cmd/flutelog").CombinedOutput(); err != nil {
		t.Fatalf("building: %v: %s", err, out)
	}
	p := device.PracticeProfile(device.Button, length.In)
	p.Practice = false // it stands for a gauge of the bench
	p.QuietTime = device.Duration(time.Nanosecond)
	if s.gauge, err = device.StartPractice(p, steps); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.gauge.Close() })
	if err := os.WriteFile(s.toml, fmt.Appendf(nil, dayBench, s.gauge.Port()), 0o600); err != nil {
		t.Fatal(err)
	}
	l, err := ledger.Open(s.ledger, ledger.Options{Bench: "Tool room"})
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"EM-1", "EM-2", "EM-3"} {
		tool := testTool
		tool.ID, tool.Flutes = id, 4
		if _, err := record.SaveTool(l, tool); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := record.SaveJob(l, record.Job{ID: "J-7", Customer: "cell 4", Quantity: 3, Sample: 3, Tools: []string{"EM-1", "EM-2", "EM-3"}}, time.Now()); err != nil {
		t.Fatal(err)
	}
	known, err := people.Read(l.Dir())
	if err != nil {
		t.Fatal(err)
	}
	for name, pin := range map[string]string{"Vale": "2468", "Ruiz": "1111", "Okafor": "1357"} {
		if err := known.Add(name, pin); err != nil {
			t.Fatal(err)
		}
	}
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s.at = free.Addr().String()
	free.Close()
	t.Cleanup(s.kill)
	return s
}

// serve starts the program, and waits until it says where the page is.
func (s *shop) serve() {
	s.t.Helper()
	s.cmd = exec.Command(s.program, "page", "--listen", s.at, "--ledger", s.ledger, "--bench", s.toml)
	stderr, err := s.cmd.StderrPipe()
	if err == nil {
		err = s.cmd.Start()
	}
	if err != nil {
		s.t.Fatal(err)
	}
	line, err := bufio.NewReader(stderr).ReadString('\n')
	if err != nil || !strings.Contains(line, "http://") {
		s.t.Fatalf("the page says %q, %v", line, err)
	}
}

// kill kills the program, without a word to it.
func (s *shop) kill() {
	if s.cmd != nil {
		s.cmd.Process.Kill()
		s.cmd.Wait()
		s.cmd = nil
	}
}

// device is a browser of its own, with its own cookies.
func (s *shop) device(browser context.Context, wide, high int64) *tab {
	s.t.Helper()
	b := newTab(s.t, browser, s.at, chromedp.WithNewBrowserContext())
	b.Do(chromedp.EmulateViewport(wide, high))
	return b
}

// inspect begins the inspection of a tool after its grind, as a person does, and finds it all clear.
func (b *tab) inspect(tool string) {
	b.T.Helper()
	b.Open("/begin?tool=" + tool)
	b.click(`input[name=stage][value=after]`)
	b.click(`form[action="/begin"] button.tooth-button`)
	b.isAt("#clear")
	b.look()
	b.shows("question", "Flute 1: how high")
}

// reads types a reading, and waits for what is asked then.
func (b *tab) reads(value, then string) {
	b.T.Helper()
	b.focus("#reading")
	b.keys(value + "\r")
	b.shows("question", then)
}

// A day at the shop: two tablets and a telephone read three tools at once, a gauge is unplugged, another is brought over, the
// recorder is killed while somebody types, a job is released, a reading turns out to be wrong and its tool is recalled. What
// the ledger holds is what was pressed and typed, by whom, each once.
func TestADayAtTheShop(t *testing.T) {
	if testing.Short() {
		t.Skip("builds the program")
	}
	s := newShop(t, heights(10, 11, 10, 12, 11, 10, 10)...)
	s.serve()
	ctx := startBrowser(t)
	one, two, phone := s.device(ctx, 1024, 768), s.device(ctx, 768, 1024), s.device(ctx, 390, 844)
	one.signedIn("Vale", "2468")
	two.signedIn("Ruiz", "1111")
	phone.signedIn("Okafor", "1357")

	one.inspect("EM-1")
	two.inspect("EM-2")
	phone.inspect("EM-3")
	one.shows("gauge", "indicator 1")
	two.shows("gauge", "serves EM-1.1")
	press := func(digits, then string) {
		t.Helper()
		one.Do(chromedp.Sleep(350 * time.Millisecond)) // as fast as a hand presses twice
		if err := s.gauge.Press(); err != nil {
			t.Fatal(err)
		}
		one.shows("question", then)
		one.shows("said", digits)
	}
	press("+0.00100", "Flute 2")
	two.reads("0.0001", "Flute 2")
	phone.reads("0", "Flute 2")
	press("+0.00110", "Flute 3")
	two.reads("0.0002", "Flute 3")

	// The gauge is unplugged in the middle of a round: nothing can be typed by mistake, and flute 1 proves its zero again.
	s.gauge.Pull()
	one.shows("entry", "UNPLUGGED")
	one.isAt("#by-eye")
	if err := s.gauge.Insert(); err != nil {
		t.Fatal(err)
	}
	one.shows("said", "is back. Flute 1 again first")
	press("+0.00100", "Flute 3")

	// The recorder is killed while the other tablet types; what was typed waits in its field, and is taken afterwards.
	two.focus("#reading")
	two.keys("0.0003")
	s.kill()
	two.shows("connection", "Do not read: it would not be kept")
	two.keys("\r")
	two.shows("refused", "What you typed stays here")
	s.serve()
	for _, b := range []*tab{one, two, phone} {
		b.Until(`document.querySelector("#connection").innerText.trim() === ""`)
	}
	two.shows("question", "Flute 3")
	two.Until(`document.querySelector("#reading").value === "0.0003"`)
	two.focus("#reading")
	two.keys("\r")
	two.shows("question", "Flute 4")
	two.shows("said", "0.0003 in")
	phone.shows("question", "Flute 2")
	phone.reads("0.0001", "Flute 3")
	phone.reads("0.0002", "Flute 4")

	// The telephone looks at what the other tablet reads, and may not touch it.
	looker := s.device(ctx, 390, 844)
	looker.signedIn("Okafor", "1357")
	looker.Open("/inspection?id=EM-2.1")
	looker.shows("watched", "Ruiz reads it")
	two.focus("#reading")
	two.keys("0.0009") // and in the middle of it another takes over
	looker.click("#take-over")
	looker.shows("question", "Flute 4")
	two.shows("watched", "Okafor reads it")
	two.shows("watched", "You had typed 0.0009: it was not recorded")
	two.click("#take-over")
	two.Until(`document.querySelector("#reading")?.value === "0.0009"`)
	two.Do(evaluate(`document.querySelector("#reading").value = ""`))
	looker.shows("watched", "Ruiz reads it")

	one.shows("question", "Flute 3")
	press("+0.00120", "Flute 4")
	press("+0.00110", "once more")
	press("+0.00100", "How big")
	one.reads("0.4954", "All is read")
	one.click("#close")
	one.isAt("main.closed")
	one.shows("main", "TO SIGN")

	// The gauge is free now, and is brought to the other tablet.
	two.shows("gauge", "is free")
	two.click(`#gauge button[formaction="/gauges-here"]`)
	two.shows("entry", "or type")
	two.reads("0.0001", "once more")
	two.reads("0.0001", "How big")
	two.reads("0.4953", "All is read")
	two.click("#close")
	two.isAt("main.closed")
	phone.reads("0.0001", "once more")
	phone.reads("0", "How big")
	phone.reads("0.4955", "All is read")
	phone.click("#close")
	phone.isAt("main.closed")

	// Nobody else signs; the one who may releases the job's tools, with one PIN.
	two.shows("main", "Ruiz may not sign")
	phone.Open("/job?id=J-7")
	phone.click(`form[action="/deed"] button.tooth-button`)
	phone.isAt(`input[name=confirmed]`)
	phone.click(`input[name=confirmed]`)
	phone.focus(`input[name=pin]`)
	phone.keys("1357\r")
	phone.Until(`document.body.innerText.toLowerCase().includes("released")`)

	// A reading was copied wrong: with it put right the tool does not conform any more, and is recalled.
	pin := filepath.Join(t.TempDir(), "pin")
	if err := os.WriteFile(pin, []byte("1357\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(s.program, "correct", "EM-2.1", "--feature", "radial-runout", "--flute", "3", "--repeat", "1", "--value", "0.0013in", "--by", "Okafor", "--pin-file", pin,
		"--why", "copied the line above", "--ledger", s.ledger, "--bench", s.toml).CombinedOutput()
	if !strings.Contains(strings.ToUpper(string(out)), "RECALL") {
		t.Fatalf("correcting: %v: %s", err, out)
	}
	one.Open("/")
	one.Until(`document.body.innerText.toLowerCase().includes("recalled")`)
	for _, b := range []*tab{one, two, phone, looker} {
		b.forgive()
		b.complaints = slices.DeleteFunc(b.complaints, func(c string) bool { return strings.Contains(c, "ERR_") }) // while the recorder was away
		b.check()
	}

	s.kill()
	l, err := ledger.Open(s.ledger, ledger.Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []struct {
		id, by    string
		standing  record.Standing
		readings  string
		byGauge   int
		corrected int
	}{
		{"EM-1.1", "Vale", record.StandsReleased, "+0.00100 +0.00110 +0.00120 +0.00110 +0.00100 0.4954", 5, 0},
		{"EM-2.1", "Ruiz", record.StandsRecalled, "0.0001 0.0002 0.0013 0.0001 0.0001 0.4953", 0, 1},
		{"EM-3.1", "Okafor", record.StandsReleased, "0 0.0001 0.0002 0.0001 0 0.4955", 0, 0},
	} {
		in, err := record.Find(l, want.id)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		byGauge := 0
		readings := slices.Clone(in.Readings)
		slices.SortStableFunc(readings, func(a, b inspect.Reading) int { return order(a) - order(b) })
		for _, r := range readings {
			got = append(got, r.Text)
			if r.Gauge == "indicator 1" {
				byGauge++
			}
		}
		if text := strings.Join(got, " "); text != want.readings || byGauge != want.byGauge || in.Inspection.Inspector != want.by || len(in.Seen) != len(inspect.Sights) || len(in.Corrections) != want.corrected {
			t.Errorf("%s: %s, %d by the gauge, read by %q, %d looked for, %d corrections; want %+v", want.id, text, byGauge, in.Inspection.Inspector, len(in.Seen), len(in.Corrections), want)
		}
		if in.Stands.Standing != want.standing {
			t.Errorf("%s stands as %s, want %s", want.id, in.Stands.Standing, want.standing)
		}
	}
	if out, err := exec.Command(s.program, "ledger", "verify", "--ledger", s.ledger).CombinedOutput(); err != nil {
		t.Errorf("verifying: %v: %s", err, out)
	}
}

// order is where a reading stands on the way: the round, its closing, the diameter.
func order(r inspect.Reading) int {
	switch {
	case r.Feature == inspect.Diameter:
		return 100
	case r.Closing:
		return 50
	}
	return r.Flute
}
