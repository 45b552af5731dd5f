package page

import (
	"strings"
	"testing"

	"flutelog/inspect"
)

// A caution stands where a hand goes near the machine, once a sitting; the answer is its own page, headline first, and no
// caution stands on it again that was said while reading.
func TestPageCautionsOnce(t *testing.T) {
	s := newRecorder(t, nil).sit(inspect.Before)
	s.post("/look", "clear", "yes")
	const isolated = "Wheel stopped and isolated"
	s.shows(isolated)
	s.takes("0")
	if body := s.shows("Flute 2"); strings.Contains(body, isolated) {
		t.Error("the caution is said again at the second flute")
	}
	s.takes(".0001", "0", ".008 .030", ".008 .030")
	s.post("/close")
	body := s.shows("READ ON")
	answer, read := strings.Index(body, "READ ON"), strings.Index(body, "primary share of the land")
	if answer < 0 || read >= 0 && read < answer {
		t.Errorf("the answer does not lead: at %d, a figure at %d", answer, read)
	}
	if strings.Contains(body, isolated) {
		t.Error("the caution of the readings is said again with the answer")
	}
}

// There is one way for all keys: what is typed is a line, and no letter in it acts by itself; a word of the desk does on the page
// what it does on a terminal.
func TestPageHasOneWayForKeys(t *testing.T) {
	s := newRecorder(t, nil).sit(inspect.Before)
	s.post("/look", "clear", "yes")
	for _, typed := range []string{"rb", "because", "qk", "k9", "r b ?"} {
		s.refused("/read", "", "reading", typed)
	}
	s.shows("Flute 1: how high at its highest?")
	s.takes("0", "b")
	s.shows("Flute 1: how high at its highest?", "Take back: run-out, flute 1 0")
}
