package bench

import (
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"

	"flutelog/device"
	"flutelog/inspect"
	"flutelog/inspect/length"
)

func answerAll(t *testing.T, answers map[string]string) *Start {
	t.Helper()
	s := &Start{Path: "bench.toml"}
	for _, q := range startQuestions() {
		s.Answer(answers[q.name])
		if _, _, refused, _ := s.Lines(); refused != "" {
			t.Fatalf("%s: %q refused: %s", q.name, answers[q.name], refused)
		}
	}
	return s
}

// Enter at every question gives a file that reads, with what stands in the brackets; what has no default stays unsaid.
func TestStartByEnter(t *testing.T) {
	s := answerAll(t, nil)
	s.Answer("")
	if s.Ended {
		t.Fatal("Enter alone wrote the file")
	}
	s.Answer("y")
	if !s.Ended || !s.Written {
		t.Fatal("y did not end it")
	}
	f, err := Parse("bench.toml", []byte(s.Text()))
	if err != nil {
		t.Fatalf("%v\n%s", err, s.Text())
	}
	if f.Tie != inspect.TieShank || f.Unit != length.In || f.Turning != "backward" || len(f.Gauges) != 1 || f.Gauges[0].Resolution != length.Thou {
		t.Errorf("%+v", f)
	}
	if strings.Contains(s.Text(), "division =") || strings.Contains(s.Text(), "dial indicator") {
		t.Errorf("a division was made up:\n%s", s.Text())
	}
}

func TestStartAnswered(t *testing.T) {
	s := answerAll(t, map[string]string{
		"name": "bench 2", "inspectors": "R. Osei, M. Ruiz", "ledger": "/home/bench/records", "grinder": "grinder 1", "last-round": "first", "sends-out": "form, gash", "dial-error": ".0001",
		"dial-due": "2027-03-31", "micrometer": ".0001", "division": ".002", "reads": "d", "feed": "30", "dial": "1 tenth", "bare-numbers": "divisions",
		"master": "1/2", "wheel": "cup 4, 4, 5000, 3600; dish 6, 6, 4200, hss, cobalt, off the edge, aluminium oxide, vitrified", "drop-by": "slide", "tie": "n", "turning": "n",
	})
	for range 2 {
		if lines, _, _, _ := s.Lines(); len([]rune(strings.Join(lines, ""))) > shownAtOnce*80+44 {
			t.Errorf("more than a screen holds:\n%s", strings.Join(lines, "\n"))
		}
		s.Answer("b")
		s.Answer("b")
	}
	f, err := Parse("bench.toml", []byte(s.Text()))
	if err != nil {
		t.Fatalf("%v\n%s", err, s.Text())
	}
	if len(f.Inspectors) != 2 || f.Grinder.Division != 2*length.Thou || f.Grinder.Reads != "diameter" || f.Grinder.FeedAngle != 30*length.Degree ||
		f.BareNumbers != Divisions || f.Master != length.Inch/2 || f.DropBy != inspect.BySliding || f.Tie != inspect.TieNone || f.Turning != "forward" ||
		len(f.Gauges) != 3 || f.Gauges[0].Resolution != length.Tenth || f.Grinder.RPM != 3600 {
		t.Errorf("%+v\n%s", f, s.Text())
	}
	if f.Ledger != "/home/bench/records" || f.Grinder.Name != "grinder 1" || f.LastRound != "first" || !slices.Equal(f.Grinder.SendsOut, []inspect.Do{inspect.DoForm, inspect.DoGash}) ||
		f.Gauges[0].PermissibleError != length.Tenth || f.Gauges[0].CalibrationDue != "2027-03-31" || !f.Gauges[2].Reads(inspect.Diameter) || f.Gauges[2].Resolution != length.Tenth {
		t.Errorf("%+v\n%s", f, s.Text())
	}
	want := []Wheel{{Name: "cup 4", Diameter: 4 * length.Inch, MarkedRPM: 5000}, {Name: "dish 6", Diameter: 6 * length.Inch, MarkedRPM: 4200, Abrasive: "aluminium oxide", Bond: "vitrified",
		Materials: []inspect.Material{inspect.HSS, inspect.Cobalt}, Rotation: "off the edge"}}
	if !reflect.DeepEqual(f.Wheels, want) {
		t.Errorf("wheels %+v, want %+v", f.Wheels, want)
	}
}

func TestStartRefuses(t *testing.T) {
	s := &Start{Path: "bench.toml"}
	refuses := func(line, want string) {
		t.Helper()
		at := s.at
		s.Answer(line)
		if _, _, refused, _ := s.Lines(); !strings.Contains(refused, want) || s.at != at {
			t.Errorf("%q: refused %q, want %q", line, refused, want)
		}
	}
	refuses("b", "first question")
	refuses(`a "b"`, "without quotation marks")
	s.Answer("")
	refuses("furlong", "in or mm")
	s.Answer("mm")
	s.Answer("") // the folder
	s.Answer("") // who signs
	s.Answer("") // the grinder
	refuses("0.0l1", "letter l")
	refuses("2t", "inch word")
	s.Answer("0,05")
	refuses("circumference", "radius or diameter")
	s.Answer("diameter")
	s.Answer("b")
	s.Answer("b")
	if lines, _, _, _ := s.Lines(); s.at != 5 || !strings.Contains(lines[5], "[0.05mm]") || !strings.Contains(lines[6], "[diameter]") {
		t.Errorf("b went to question %d, of\n%s", s.at+1, strings.Join(lines, "\n"))
	}
	s.Answer("") // what was answered stands
	s.Answer("radius")
	if got := s.answers; s.at != 7 || got[5] != "0.05mm" || got[6] != "radius" {
		t.Errorf("after b: %q, question %d", got, s.at+1)
	}
	s.Answer("q")
	if !s.Ended || s.Written {
		t.Error("q did not stop it unwritten")
	}
}

// A gauge that was heard stands in the file with the division told for it.
func TestStartHears(t *testing.T) {
	s := &Start{Path: "bench.toml"}
	for _, q := range startQuestions()[:len(startQuestions())-1] {
		s.Answer(map[string]string{"dial": ".0001"}[q.name])
	}
	s.Answer("listen")
	if !s.Listen {
		t.Fatal("it does not listen")
	}
	p, err := device.Suggest(device.Profile{Name: "indicator", Port: "/dev/example"}, "+0.0003in")
	if err != nil {
		t.Fatal(err)
	}
	s.Heard(p, nil)
	f, err := Parse("bench.toml", []byte(s.Text()))
	if err != nil {
		t.Fatalf("%v\n%s", err, s.Text())
	}
	if len(f.Gauges) != 2 || f.Gauges[0].Port != "/dev/example" || f.Gauges[0].Resolution != length.Tenth || !f.Gauges[0].Reads(inspect.RadialRunout) {
		t.Errorf("%+v", f.Gauges)
	}
}

// The questions ask for every key of the bench file, but for those that have a usual that a hand seldom changes.
func TestStartAsksEveryKey(t *testing.T) {
	usual := []string{"master-within", "work-rule", "release-rule", "end-radius", "dish-distance", "distance-error", "relief-flutes", "from-end", "limits", "stage"}
	written := answerAll(t, map[string]string{
		"ledger": "records", "inspectors": "R. Osei", "grinder": "grinder 1", "division": ".002", "feed": "30", "dial": ".0001", "dial-error": ".0001", "dial-due": "2027-03-31",
		"master": ".5", "wheel": "cup 4, 4, 5000, 3600, hss, aluminium oxide, vitrified, off the edge",
	}).Text()
	for _, table := range []reflect.Type{reflect.TypeFor[File](), reflect.TypeFor[Grinder](), reflect.TypeFor[Wheel]()} {
		for i := range table.NumField() {
			key := table.Field(i).Tag.Get("toml")
			if key == "-" || slices.Contains(usual, key) {
				continue
			}
			if !strings.Contains(written, "\n"+key+" = ") && !strings.Contains(written, "["+key+"]") {
				t.Errorf("%s: nothing asks for it", key)
			}
		}
	}
}

// A metric bench is asked in millimetres: no bracket, help or refusal has an example in inches once the unit is answered.
func TestStartInMillimetres(t *testing.T) {
	inches := regexp.MustCompile(`(^|[\s\[(])\.\d|\b(thou|tenths?|inch(es)?)\b`)
	s := &Start{Path: "bench.toml"}
	s.Answer("bench")
	s.Answer("mm")
	seen := 0
	for s.at < len(startQuestions()) {
		for _, wrong := range []string{"0", "-1", "cup, 100", "cup, 900, 5000", "99999", "\"", "."} {
			at := s.at
			s.Answer(wrong)
			lines, help, refused, _ := s.Lines()
			for _, text := range append(lines[2:], help, refused) {
				if w := inches.FindString(text); w != "" {
					t.Errorf("%s: %q has %q", startQuestions()[at].name, text, w)
				}
			}
			if s.at > at {
				s.Answer("b")
			}
			if refused != "" {
				seen++
			}
		}
		s.Answer("")
		if s.Listen {
			t.Fatal("it listens")
		}
	}
	if seen < 20 || s.answer("loupe") != "0.02mm" {
		t.Errorf("%d refusals, a loupe of %s", seen, s.answer("loupe"))
	}
}

// However long the answers are, each question is one line of 78 columns, and the one that is asked is among them.
func TestStartKeepsToItsLines(t *testing.T) {
	s := &Start{Path: "bench.toml"}
	long := map[string]string{
		"name": strings.Repeat("bench ", 20), "ledger": "/home/bench/" + strings.Repeat("x", 150), "inspectors": strings.Repeat("R. Osei, ", 20) + "M. Ruiz",
		"grinder": strings.Repeat("g", 100), "sends-out": "cut back, gash, face, corner, form", "wheel": strings.Repeat("cup 4, 4, 5000, hss, aluminium oxide, vitrified; ", 6),
	}
	for back := range 2 {
		for s.at < len(startQuestions()) {
			at := s.at
			lines, _, refused, _ := s.Lines()
			asked := 0
			for _, line := range lines {
				if n := len([]rune(line)); n > 78 || strings.Contains(line, "\n") {
					t.Errorf("%d columns: %q", n, line)
				}
				if strings.HasSuffix(line, " _") {
					asked++
				}
			}
			if asked != 1 || len(lines) != shownAtOnce || refused != "" {
				t.Fatalf("%d asked on %d lines, refused %q", asked, len(lines), refused)
			}
			if s.Answer(long[startQuestions()[at].name]); s.at != at+1 {
				_, _, refused, _ := s.Lines()
				t.Fatalf("%s: %s", startQuestions()[at].name, refused)
			}
		}
		if back == 0 {
			for s.at > 0 {
				s.Answer("b")
			}
			long = nil
		}
	}
}
