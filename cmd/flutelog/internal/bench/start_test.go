package bench

import (
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
		"name": "bench 2", "inspectors": "R. Osei, M. Ruiz", "division": ".002", "reads": "d", "feed": "30", "dial": "1 tenth", "bare-numbers": "divisions",
		"master": "1/2", "wheel": "cup 4, 4, 5000, 3600", "drop-by": "slide", "tie": "n", "turning": "n",
	})
	f, err := Parse("bench.toml", []byte(s.Text()))
	if err != nil {
		t.Fatalf("%v\n%s", err, s.Text())
	}
	if len(f.Inspectors) != 2 || f.Grinder.Division != 2*length.Thou || f.Grinder.Reads != "diameter" || f.Grinder.FeedAngle != 30*length.Degree ||
		f.BareNumbers != Divisions || f.Master != length.Inch/2 || f.DropBy != inspect.BySliding || f.Tie != inspect.TieNone || f.Turning != "forward" ||
		len(f.Gauges) != 2 || f.Gauges[0].Resolution != length.Tenth || len(f.Wheels) != 1 || f.Wheels[0].MarkedRPM != 5000 || f.Grinder.RPM != 3600 {
		t.Errorf("%+v\n%s", f, s.Text())
	}
}

func TestStartRefuses(t *testing.T) {
	s := &Start{Path: "bench.toml"}
	refuses := func(line, want string) {
		t.Helper()
		n := len(s.answers)
		s.Answer(line)
		if _, _, refused, _ := s.Lines(); !strings.Contains(refused, want) || len(s.answers) != n {
			t.Errorf("%q: refused %q, want %q", line, refused, want)
		}
	}
	refuses("b", "first question")
	refuses(`a "b"`, "without quotation marks")
	s.Answer("")
	refuses("furlong", "in or mm")
	s.Answer("mm")
	s.Answer("")
	refuses("0.0l1", "letter l")
	refuses("2t", "inch word")
	s.Answer("0,05")
	refuses("circumference", "radius or diameter")
	s.Answer("b")
	if len(s.answers) != 3 {
		t.Errorf("b went to %d answers", len(s.answers))
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
