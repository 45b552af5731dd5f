package paper

import (
	"slices"
	"strings"
	"testing"

	"flutelog/inspect/mark"
)

// A tag prints what to cut with on a release or a concession alone, whatever it is given.
func TestTagOfWhatMayNotBeUsed(t *testing.T) {
	for _, m := range mark.All {
		tag := Tag{Ruling: ruled(m, "Headline", ""), Tool: "EM-1", Diameter: "0.4817 in", Radius: "0.2409", Change: "\u22120.0059", Smallest: "0.4500"}
		document := tagsOf(t, tag)
		usable := m == mark.Released || m == mark.Conceded
		for _, figure := range []string{tag.Diameter, tag.Radius, tag.Change, tag.Smallest} {
			if strings.Contains(document, figure) != usable {
				t.Errorf("%s: %s stands on the tag: %v", m.Name, figure, !usable)
			}
		}
		if strings.Contains(document, "Do not use") == usable {
			t.Errorf("%s: whether it may be used is not said", m.Name)
		}
		if white := strings.Contains(document, `class="cut tag go"`); white != (m == mark.Released) {
			t.Errorf("%s: the tag looks like a release: %v", m.Name, white)
		}
		tag.Practice = true
		if document := tagsOf(t, tag); strings.Contains(document, tag.Diameter) || strings.Contains(document, `class="cut tag go"`) || !strings.Contains(document, "INVENTED") {
			t.Errorf("%s: a practice tag looks real", m.Name)
		}
	}
}

// Papers stand alone: nothing is fetched, nothing runs, and there is a way back only where there is a page.
func TestPapersStandAlone(t *testing.T) {
	sheet, c, tag := twenty[0].sheet(t, true), certificate(3), Tags{Tags: tags()}
	for name, document := range map[string]string{"sheet": sheetOf(t, sheet), "certificate": certificateOf(t, c), "tags": tagsOf(t, tag.Tags...), "charts": chartsOf(t, charts())} {
		for _, reference := range []string{"<script", "<link", "<img", " href=", "@import", "url("} {
			if strings.Contains(document, reference) {
				t.Errorf("%s has %q", name, reference)
			}
		}
	}
	sheet.Back, c.Back = "/tools/EM-0412", "/jobs/J-77"
	if !strings.Contains(sheetOf(t, sheet), `<a href="/tools/EM-0412">`) || !strings.Contains(certificateOf(t, c), `<a href="/jobs/J-77">`) {
		t.Error("no way back to the page")
	}
	sheet.Back = "javascript:alert(1)"
	if strings.Contains(sheetOf(t, sheet), "javascript:alert") {
		t.Error("the way back runs a script")
	}
}

// What stands first on a sheet is the ruling, then what was not read.
func TestSheetOrder(t *testing.T) {
	s := twenty[8].sheet(t, true)
	document := sheetOf(t, s)
	at := 0
	for _, text := range []string{"Locked</h1>", "crack, flute 2", "Not read or not looked at", "secondary drop", "LOCKED: a crack at flute 2", "Corrected", "0.0185, was 0.0158", "What decided", "Looked for by eye", "How it was read", "SHARP", "9c41 7be0"} {
		i := strings.Index(document[at:], text)
		if i < 0 {
			t.Fatalf("no %q after what should stand before it", text)
		}
		at += i
	}
	if strings.Contains(document, "Everything that this bench requires") {
		t.Error("something is unread, and everything was read")
	}
}

// A page that has no room for a drawing says which one it leaves out, and one that has it all says nothing.
func TestWhatIsNotDrawnIsSaid(t *testing.T) {
	said := map[bool]int{}
	for _, x := range twenty {
		for _, everything := range []bool{false, true} {
			given := x.sheet(t, everything)
			third := Drawing{Name: "the end land", SVG: section(0.5, false).SVG(), Caption: "Flute 1, the end land in section, to scale: primary 0.0100, land 0.0600; dashed is not measured."}
			given.Drawings = append(slices.Clone(given.Drawings[:min(2, len(given.Drawings))]), third)
			drawn := given.fit()
			left := len(drawn.Drawings) < len(given.Drawings)
			if got := strings.Contains(sheetOf(t, given), "No room to draw the end land."); got != left {
				t.Errorf("%s: %d of %d are drawn, and that one is not is said: %v", x.kind, len(drawn.Drawings), len(given.Drawings), got)
			}
			said[left]++
		}
	}
	if said[false] == 0 || said[true] == 0 {
		t.Errorf("%d sheets have them all and %d do not: none shows the other", said[false], said[true])
	}
}
