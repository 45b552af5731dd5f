package command

import (
	"strconv"
	"strings"
	"time"
)

// Day reads a day as a person says it, and returns when it begins in the bench's own zone: today, yesterday, a weekday
// (the last one that has begun), "3 days ago", or a date such as 2026-01-31. None is the zero time.
func Day(flag, text string, now time.Time) (time.Time, error) {
	word := strings.ToLower(strings.TrimSpace(text))
	if word == "" {
		return time.Time{}, nil
	}
	now = now.Local()
	begins := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.Local)
	switch word {
	case "today":
		return begins, nil
	case "yesterday":
		return begins.AddDate(0, 0, -1), nil
	}
	if number, ok := strings.CutSuffix(word, " days ago"); ok {
		if n, err := strconv.Atoi(number); err == nil && n >= 0 && n < 100_000 {
			return begins.AddDate(0, 0, -n), nil
		}
	}
	for back := range 7 {
		d := begins.AddDate(0, 0, -back)
		if name := strings.ToLower(d.Weekday().String()); word == name || word == name[:3] {
			return d, nil
		}
	}
	t, err := time.ParseInLocation(time.DateOnly, word, time.Local)
	if err != nil {
		return t, Usagef("--%s %q: want today, yesterday, a weekday, \"3 days ago\", or a date such as 2026-01-31", flag, text)
	}
	return t, nil
}
