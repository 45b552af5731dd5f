package mark

import "testing"

// By POSIX.1-2017, Base Definitions, 8.2, LC_ALL comes before LC_CTYPE, that before LANG, and an empty one counts as not set.
func TestConsoleOf(t *testing.T) {
	for _, tt := range []struct {
		env  map[string]string
		bare bool
	}{
		{map[string]string{"LANG": "en_US.UTF-8", "TERM": "xterm-256color"}, false},
		{map[string]string{"LANG": "de_DE.utf8"}, false},
		{map[string]string{"LANG": "C"}, true},
		{map[string]string{"LANG": "de_DE.ISO-8859-1"}, true},
		{map[string]string{"LANG": "C", "LC_CTYPE": "C.UTF-8"}, false},
		{map[string]string{"LANG": "en_US.UTF-8", "LC_ALL": "POSIX"}, true},
		{map[string]string{"LANG": "en_US.UTF-8", "LC_ALL": ""}, false},
		{map[string]string{"LANG": "en_US.UTF-8", "TERM": "linux"}, true},
		{map[string]string{"LANG": "en_US.UTF-8", "TERM": "dumb"}, true},
		{map[string]string{"LANG": "en_US.UTF-8", "TERM": "vt220"}, true},
		{nil, true},
	} {
		if got := ConsoleOf(func(name string) string { return tt.env[name] }); got.Bare != tt.bare {
			t.Errorf("%v: bare %v", tt.env, got.Bare)
		}
	}
}

func TestConsoleWrites(t *testing.T) {
	shown, bare := Console{}, Console{Bare: true}
	for _, tt := range []struct{ got, want string }{
		{shown.With(Released, "RELEASED"), "● RELEASED"},
		{bare.With(Released, "RELEASED"), "(*) RELEASED"},
		{shown.With(Mark{}, "advice"), "advice"},
		{shown.Cell(Accept, "accept"), "✓ accept"},
		{bare.Cell(Accept, "accept"), "ok  accept"},
		{shown.Cell(Mark{}, "advice"), "  advice"},
		{bare.Cell(Mark{}, "advice"), "    advice"},
	} {
		if tt.got != tt.want {
			t.Errorf("%q, want %q", tt.got, tt.want)
		}
	}
}

// What is worth grinding is work to do, and must not look like a figure that conforms.
func TestVerdictMarks(t *testing.T) {
	if Verdict("worth grinding") != ToGrind || Verdict("accept") != Accept || Verdict("made up").Name != "" {
		t.Error("a verdict has another's mark")
	}
}
