package main

import (
	"bufio"
	"io"
	"maps"
	"strings"
	"testing"

	"flutelog/cmd/flutelog/internal/command"
)

// atTheDesk is the program with its questions answered as they come, as over a serial console.
type atTheDesk struct {
	t     *testing.T
	tool  string
	says  map[string]string // what is answered, by the longest part of the question that is there
	lines []string          // all that was shown
}

// inspects runs one inspection of a tool to its answer, and returns the headline.
func (a *atTheDesk) inspects(dir, stage string) (headlines []string, status command.Status) {
	a.t.Helper()
	cmd := program(dir, "inspect", a.tool, "--stage", stage)
	in, err1 := cmd.StdinPipe()
	out, err2 := cmd.StderrPipe()
	cmd.Stdout = io.Discard
	if err := cmd.Start(); err1 != nil || err2 != nil || err != nil {
		a.t.Fatal(err1, err2, err)
	}
	defer cmd.Process.Kill()
	prompts := bufio.NewReader(out)
	var since []string
	for range 400 {
		text, err := prompts.ReadString('>')
		a.lines = append(a.lines, text)
		since = append(since, text)
		if err != nil {
			break
		}
		if !strings.HasSuffix(text, " >") && !strings.HasSuffix(text, "\n>") {
			continue
		}
		shown := strings.Join(since, "")
		since = nil
		answer := "q"
		if strings.HasSuffix(text, "next >") || strings.HasSuffix(text, "who signs >") {
			headlines = append(headlines, headline(shown))
		} else {
			answer = a.answer(shown)
		}
		if _, err := io.WriteString(in, answer+"\n"); err != nil {
			break
		}
	}
	in.Close()
	return headlines, exitOf(cmd.Wait())
}

// headline is the line of an answer that stands in capitals.
func headline(shown string) string {
	for line := range strings.Lines(shown) {
		for _, word := range []string{"GRIND", "SECONDARY", "TRUE IN", "READ ON", "RELEASE", "LOCKED", "RESEAT"} {
			if strings.Contains(line, word) {
				return strings.TrimSpace(line)
			}
		}
	}
	return shown
}

func (a *atTheDesk) answer(shown string) string {
	if strings.Contains(shown, "NOT TAKEN") {
		a.t.Errorf("%s: refused:\n%s", a.tool, shown)
		return "q"
	}
	if strings.HasSuffix(shown, "close >") || strings.HasSuffix(shown, "ground >") {
		return ""
	}
	best, text := "", "q"
	for part, answer := range a.says {
		if strings.Contains(shown, part) && len(part) > len(best) {
			best, text = part, answer
		}
	}
	if best == "" {
		a.t.Errorf("%s: nothing to answer to:\n%s", a.tool, shown)
	}
	return text
}

// Ten tools of every kind are inspected at the desk, question by question, before, between and after the grind. All are of half an
// inch and invented; each has the headlines that a master gives, and words that its route cannot be without (common practice, no source).
func TestKindsAtTheDesk(t *testing.T) {
	t.Parallel()
	worn := map[string]string{"LOOK": "c", "how high": ".0000", "how high is it": ".0000", "wide is the wear": ".009", "wide is the primary": ".013", "wide is the whole land": ".080",
		"End tooth": ".018", "wide, whole land": ".060", "ow big": ".4960"}
	with := func(says map[string]string, more ...string) map[string]string {
		all := map[string]string{}
		for part, answer := range says {
			all[part] = answer
		}
		for i := 0; i < len(more); i += 2 {
			all[more[i]] = more[i+1]
		}
		return all
	}
	// Ground by .0019: the primary is .025 wide, 10 degrees fall .0027 over .020 behind the edge, and it cuts .4954.
	ground := with(worn, "wide is the primary", ".025", "how far does it fall", ".0027", "ow big", ".4954")
	type stage struct {
		stage    string
		says     map[string]string
		headline string
		status   command.Status
		route    []string
	}
	before := func(says map[string]string, route ...string) stage {
		return stage{"before", says, "GRIND PRIMARY: flute", command.StatusDone, route}
	}
	after := func(says map[string]string, route ...string) stage {
		return stage{"after", says, "TRUE IN THE FIXTURE ONLY", command.StatusDone, route}
	}
	for _, k := range []struct {
		name, tool string
		stages     []stage
	}{
		{"two flutes", "--flutes 2 --helix 30", []stage{before(worn, "Primary of the flutes", "Flutes 1 2, every round"), after(ground)}},
		{"three flutes", "--flutes 3 --helix 30", []stage{before(with(worn, "ow big", "v .4960"), "last round 2 3 1"), after(with(ground, "ow big", "v .4954"))}},
		{"four flutes", "--flutes 4 --helix 30", []stage{before(worn, "last round 3 4 1 2"), after(ground)}},
		{"secondary", "--flutes 4 --helix 30", []stage{
			{"before", with(worn, "wide is the primary", ".036"), "SECONDARY NEEDED", command.StatusFallsShort, []string{"Primary of the flutes", "between the grinds", "Secondary of the flutes", "Stop short of the edge"}},
			{"between", with(ground, "wide is the primary", ".048"), "SECONDARY NEEDED", command.StatusFallsShort, []string{"first touch on the widest primary"}},
			after(ground),
		}},
		{"six flutes", "--flutes 6 --helix 30", []stage{before(worn, "last round 4 5 6 1 2 3"), after(ground)}},
		{"ball", "--flutes 4 --helix 30 --ends ball", []stage{
			before(worn, "Send it out", "a concession must take it"),
			{"after", ground, "READ ON", command.StatusOpen, []string{"form of the end", "one who may sign lets it out by concession"}},
		}},
		{"corner radius", "--flutes 4 --helix 30 --ends radius", []stage{
			before(worn, "Send it out", "no radius or ball fixture here"),
			{"after", ground, "READ ON", command.StatusOpen, []string{"form of the end", "one who may sign lets it out by concession"}},
		}},
		{"chip-breaker", "--flutes 4 --helix 30 --teeth chip-breaker --sharpened face --rake 10", []stage{
			{"before", worn, "GRIND THE FACE", command.StatusDone, []string{"index by the plate", "leave land, relief and crests alone"}},
		}},
		{"tapered", "--flutes 4 --taper 1 --edge-length 1in", []stage{
			before(worn, "swivelled 1.00 deg for the taper", "right in the middle of the taper", "read the drop at both"),
			after(with(ground, "how far does it fall", ".0028")),
		}},
		{"left hand", "--flutes 4 --helix 30 --cut left --hand left", []stage{before(worn, "left-hand cut", "thrust tried by hand with the wheel stopped"), after(ground)}},
		{"helix against the cut", "--flutes 4 --helix 30 --cut left --hand right", []stage{before(worn, "lock it endways"), after(ground)}},
		{"carbide", "--flutes 4 --helix 30 --material carbide", []stage{before(worn, "spark out three times")}},
		{"single flute", "--flutes 1 --helix 30", []stage{before(with(worn, "ow big", "m .4960"), "Primary of the flutes"), {"after", with(ground, "ow big", "m .4954"), "RELEASE", command.StatusDone, nil}}},
		{"centre cutting", "--flutes 4 --helix 30 --centre-cutting", []stage{
			{"before", with(worn, "LOOK", "5"), "GRIND PRIMARY ON FLUTES AND ENDS: flute", command.StatusDone,
				[]string{"Gash between the end teeth", "the long tooth over the centre", "Primary of the ends"}},
			after(ground),
		}},
	} {
		t.Run(k.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			add := program(dir, append([]string{"tool", "add", "EM-1", "--diameter", "0.5in", "--material", "hss"}, strings.Fields(k.tool)...)...)
			if out, err := add.CombinedOutput(); err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			for _, s := range k.stages {
				a := &atTheDesk{t: t, tool: "EM-1", says: s.says}
				heads, status := a.inspects(dir, s.stage)
				if len(heads) != 1 || !strings.Contains(heads[0], s.headline) || status != s.status {
					t.Fatalf("%s: %q, status %d; want %q, %d\n%s", s.stage, heads, status, s.headline, s.status, strings.Join(a.lines, ""))
				}
				shown, err := program(dir, "show", "EM-1."+map[string]string{"before": "1", "between": "2"}[s.stage]+map[bool]string{true: map[bool]string{true: "3", false: "2"}[len(k.stages) == 3]}[s.stage == "after"]).Output()
				if len(shown) == 0 {
					t.Fatal(err)
				}
				told := strings.Join(strings.Fields(string(shown)), " ")
				for _, words := range s.route {
					if !strings.Contains(told, words) {
						t.Errorf("%s: the route does not say %q:\n%s", s.stage, words, shown)
					}
				}
			}
			if n := strings.Count(records(t, dir), ` ground `); n != len(k.stages)-1 {
				t.Errorf("it was told %d times that the tool was ground, want %d", n, len(k.stages)-1)
			}
		})
	}
}

// Kinds that are asked for otherwise than a square four-flute tool, at a real terminal before, between and after the grind: each
// question stands whole on 80 x 24 and says what is of that kind. Tools and readings are invented; what is said is common practice,
// no source.
func TestKindsAtATerminal(t *testing.T) {
	t.Parallel()
	worn := map[string]string{"LOOK": "c", "how high": ".0000", "how wide is the wear": ".009", "how wide is the primary": ".013", "how wide is the whole land": ".080", "how wide, whole land": ".060", "ow big": ".4960"}
	with := func(says map[string]string, more ...string) map[string]string {
		all := maps.Clone(says)
		for i := 0; i < len(more); i += 2 {
			all[more[i]] = more[i+1]
		}
		return all
	}
	ground := with(worn, "how wide is the primary", ".025", "how far does it fall", ".0027", "ow big", ".4954")
	for _, k := range []struct {
		name, tool   string
		before, then map[string]string
		grinds       string
		says         []string // on some screen of it
		released     string
	}{
		{"tapered", "--flutes 4 --taper 1 --edge-length 1in", worn, with(ground, "how far does it fall", ".0028"), "GRIND PRIMARY",
			[]string{"swivelled 1.00 deg for the taper", ".100 from the end, at the highest", ".900 from the end, at the highest", "relief drop .900"}, "TRUE IN THE FIXTURE ONLY"},
		{"single flute", "--flutes 1 --helix 30", with(worn, "ow big", "m .4960"), with(ground, "ow big", "m .4954"), "GRIND PRIMARY",
			[]string{"one flute has no edge across from it", "m over the master"}, "RELEASE"},
		{"chip-breaker", "--flutes 4 --helix 30 --teeth chip-breaker --sharpened face --rake 10", worn, ground, "GRIND THE FACE",
			[]string{"index by the plate", "face of the flutes"}, "RELEASE"},
		{"left hand", "--flutes 4 --helix 30 --cut left --hand left", worn, ground, "GRIND PRIMARY",
			[]string{"cuts LEFT", "the rest on the"}, "TRUE IN THE FIXTURE ONLY"},
	} {
		t.Run(k.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			add := program(dir, append([]string{"tool", "add", "EM-1", "--diameter", "0.5in", "--material", "hss"}, strings.Fields(k.tool)...)...)
			if out, err := add.CombinedOutput(); err != nil {
				t.Fatalf("%v\n%s", err, out)
			}
			var shown strings.Builder
			for i, stage := range []string{"before", "between", "after"} {
				headline := []string{k.grinds, "GO ON", k.released}[i]
				term := onTerminal(t, 80, dir, "inspect", "EM-1", "--stage", stage)
				a := &atTheDesk{t: t, tool: "EM-1", says: k.then}
				if stage == "before" {
					a.says = k.before
				}
				last := term.answers(a)
				if !strings.Contains(last, headline) {
					t.Errorf("%s: no %q on the last screen:\n%s", stage, headline, last)
				}
				term.send("q\r")
				term.see("EM-1." + string(rune('1'+i)))
				term.end(command.StatusDone)
				shown.WriteString(term.shown())
			}
			told := strings.Join(strings.Fields(shown.String()), " ")
			for _, words := range k.says {
				if !strings.Contains(told, words) {
					t.Errorf("%q was not said", words)
				}
			}
		})
	}
}

// answers answers what is asked until the answer's screen, and returns that.
func (term *onTTY) answers(a *atTheDesk) string {
	term.t.Helper()
	for range 200 {
		term.prompted()
		screen := term.screen()
		if n := strings.Count(screen, "\n"); n != 23 {
			term.t.Errorf("a screen of %d lines:\n%s", n+1, screen)
		}
		if strings.HasSuffix(screen, "next > ") || strings.HasSuffix(screen, "who signs > ") {
			return screen
		}
		if strings.Contains(screen, "-> ") {
			term.t.Fatalf("refused:\n%s", screen)
		}
		if text := a.answer(strings.TrimSuffix(screen, " ")); text != "" {
			term.send(text + "\r")
			continue
		}
		term.enter()
	}
	term.t.Fatal("it asks and asks")
	return ""
}
