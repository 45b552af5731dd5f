package board

import (
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"flutelog/inspect"
	"flutelog/inspect/length"
	"flutelog/inspect/mark"
	"flutelog/inspect/record"
)

// invented is a board of invented tools with everything that one can show.
func invented() Board {
	b := Board{
		Waiting: []Waiting{
			{"EM-0388", record.StandsLocked, "cracks seen in EM-0388.1, R. Osei: at flute 2", "", ""},
			{"EM-0297", record.StandsRecalled, "EM-0297.2 was corrected after it was let out; get it back", "", ""},
			{"EM-0405", record.StandsToGrind, "grind primary and secondary", "", ""},
		},
		Jobs:   []Job{{Job: "J-118", Settled: 7, Quantity: 12, Lacks: []Lacks{{"EM-0405", "a grind"}, {"EM-0420", "a signature"}}}},
		Gauges: []Due{{"micrometer 0-1 in", "2026-12-06", 9}},
		Open:   []Open{{Inspection: "EM-0431.1", Tool: "EM-0431", Stage: inspect.Before, Answered: 3, Of: 16}},
		Week:   Week{Released: 4, ToGrind: 2},
	}
	for i := range 30 {
		b.Waiting = append(b.Waiting, Waiting{fmt.Sprintf("EM-%d", 500+i), record.StandsReceived, "not looked at yet", "", ""})
	}
	return b
}

// The board is one screen; what must not be used stands first, and what does not fit is counted and can be turned to.
func TestDraw(t *testing.T) {
	b := invented()
	h := Head{Bench: "bench 2", Now: time.Date(2026, 11, 27, 8, 14, 0, 0, time.UTC), Unit: length.In}
	lines, choices, next := b.Draw(h, 0, 80, 23)
	if len(lines) != 22 {
		t.Errorf("%d lines, want 22 with one left for what is typed", len(lines))
	}
	for _, l := range lines {
		if utf8.RuneCountInString(l) > 80 {
			t.Errorf("%d columns: %q", utf8.RuneCountInString(l), l)
		}
	}
	top := strings.Join(lines[:9], "\n")
	for _, want := range []string{
		"FLUTELOG   bench 2", "Fri 27 Nov 2026  08:14",
		" NOT TO BE USED\n   1  EM-0388    ■ LOCKED     cracks seen in EM-0388.1",
		"   2  EM-0297    ◄ RECALLED ",
		" HALF READ\n   3  EM-0431    ◐ before     EM-0431.1: 3 of 16 read",
		" NEXT ON THE BENCH\n   4  EM-0405    △ to grind   grind primary and secondary",
	} {
		if !strings.Contains(top, want) {
			t.Errorf("%q is not at the top of\n%s", want, top)
		}
	}
	// 2 stopped, 1 half read, 31 that wait, 1 job, 1 gauge; the gauge has no number.
	if len(choices) != 35 || choices[3].Tool != "EM-0405" || choices[34].Job != "J-118" {
		t.Errorf("%d choices: %v", len(choices), choices)
	}
	shown := 0
	for _, l := range lines {
		if strings.Contains(l, "EM-") && !strings.Contains(l, "J-118") {
			shown++
		}
	}
	if shown != next || !strings.Contains(strings.Join(lines, "\n"), fmt.Sprintf("and %d more", 36-shown)) {
		t.Errorf("%d entries of 36 shown, the next screen skips %d:\n%s", shown, next, strings.Join(lines, "\n"))
	}
	// Turned to the end, the rest is seen, and nothing stands behind.
	seen := map[string]bool{}
	for skip, turns := 0, 0; ; turns++ {
		lines, _, next := b.Draw(h, skip, 80, 23)
		for _, l := range lines {
			for i := range 30 {
				if id := fmt.Sprintf("EM-%d ", 500+i); strings.Contains(l, id) {
					seen[id] = true
				}
			}
			seen["gauge"] = seen["gauge"] || strings.Contains(l, "calibration due in 9 days")
		}
		if next == 0 {
			break
		}
		if turns > 5 {
			t.Fatal("it never ends")
		}
		skip = next
	}
	if len(seen) != 31 || !seen["gauge"] {
		t.Errorf("turned through, %d of 31 were seen", len(seen))
	}
}

// Where a console shows ASCII alone nothing else is written, and the words stand under one another all the same.
func TestDrawBare(t *testing.T) {
	lines, _, _ := invented().Draw(Head{Bench: "bench 2", Unit: length.In, Marks: mark.Console{Bare: true}}, 0, 80, 23)
	all := strings.Join(lines, "\n")
	for _, want := range []string{"EM-0388    [#] LOCKED     cracks", "EM-0297    <<  RECALLED   EM", "EM-0431    (|  before     EM", "EM-0405    ^   to grind   grind"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
	for i, r := range all {
		if r > 0x7e {
			t.Errorf("%q at %d", r, i)
		}
	}
	for _, l := range lines {
		if len(l) > 80 {
			t.Errorf("%d columns: %q", len(l), l)
		}
	}
}

// As text nothing is left out.
func TestText(t *testing.T) {
	all := strings.Join(invented().Text(Head{Bench: "bench 2", Now: time.Date(2026, 11, 27, 8, 14, 0, 0, time.UTC), Unit: length.In}), "\n")
	for _, want := range []string{"EM-529", "lacks EM-0405, EM-0420", "calibration due in 9 days, 2026-12-06", "4 released"} {
		if !strings.Contains(all, want) {
			t.Errorf("%q is not in\n%s", want, all)
		}
	}
}

// Enter opens the half-read inspection first, and never a tool that is locked or recalled.
func TestFirst(t *testing.T) {
	b := invented()
	_, choices, _ := b.Draw(Head{}, 0, 80, 23)
	if got := b.First(choices); got.Tool != "EM-0431" {
		t.Errorf("Enter opens %q, want the half-read EM-0431", got.Tool)
	}
	b.Open = nil
	if got := b.First(choices); got.Tool != "EM-0405" {
		t.Errorf("Enter opens %q, want EM-0405: what is stopped is passed over", got.Tool)
	}
}
