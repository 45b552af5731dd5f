package command

import (
	"testing"
	"time"
)

// 27 November 2026 was a Friday.
func TestDay(t *testing.T) {
	now := time.Date(2026, 11, 27, 14, 30, 0, 0, time.Local)
	for text, want := range map[string]string{
		"today": "2026-11-27", "Yesterday": "2026-11-26", "fri": "2026-11-27", "friday": "2026-11-27", "Monday": "2026-11-23",
		"sat": "2026-11-21", "3 days ago": "2026-11-24", "0 days ago": "2026-11-27", "2026-01-31": "2026-01-31",
	} {
		got, err := Day("since", text, now)
		if err != nil || got.Format(time.DateOnly) != want || got.Hour() != 0 || got.Location() != time.Local {
			t.Errorf("day(%q) = %v, %v; want the beginning of %s", text, got, err, want)
		}
	}
	for _, text := range []string{"tomorrow", "31.1.2026", "-1 days ago", "2026-13-01"} {
		if _, err := Day("since", text, now); err == nil {
			t.Errorf("day(%q): want an error", text)
		}
	}
	if got, err := Day("since", "", now); err != nil || !got.IsZero() {
		t.Errorf("no day = %v, %v", got, err)
	}
}
