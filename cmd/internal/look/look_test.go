package look

import (
	"net/http/httptest"
	"strings"
	"testing"

	"flutelog/inspect/record"
)

// No standing is shown without its mark and its word, and the style that all pages share has what marks are drawn by.
func TestStandings(t *testing.T) {
	for _, s := range record.Standings {
		if shown := string(Standing(s)); !strings.Contains(shown, "<path") && !strings.Contains(shown, "<circle") || !strings.Contains(shown, "<span>"+string(s)+"</span>") {
			t.Errorf("%s is shown as %q", s, shown)
		}
	}
	if !strings.Contains(Style, ".mark {") || !strings.Contains(Style, ".drawing") {
		t.Error("the style has no marks, or no drawings")
	}
	w := httptest.NewRecorder()
	ServeIcon(w, nil)
	if w.Header().Get("Content-Type") != "image/svg+xml" || !strings.HasPrefix(w.Body.String(), "<svg") {
		t.Errorf("the icon: %v", w.Header())
	}
}
