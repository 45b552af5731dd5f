package web

import (
	"strings"
	"time"

	"flutelog/cmd/internal/look"
)

// plural prints a count with its word.
func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	if strings.HasSuffix(word, "ch") {
		word += "e"
	}
	return look.Count(n) + " " + word + "s"
}

// span says how long something is, as people do.
func span(d time.Duration) string {
	for _, u := range []struct {
		of   time.Duration
		from time.Duration // on
		word string
	}{{7 * 24 * time.Hour, 14 * 24 * time.Hour, "week"}, {24 * time.Hour, 48 * time.Hour, "day"}, {time.Hour, 2 * time.Hour, "hour"}, {time.Minute, time.Minute, "minute"}} {
		if d >= u.from {
			return plural(int(d/u.of), u.word)
		}
	}
	return plural(max(int(d/time.Second), 1), "second")
}

// moment prints a time of this register's own clock.
func (s *Site) moment(t time.Time) string {
	now := s.Now().Local()
	t = t.Local()
	today := time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, now.Location())
	switch {
	case !t.Before(today) && t.Before(today.AddDate(0, 0, 1)):
		return "today " + t.Format("15:04")
	case !t.Before(today.AddDate(0, 0, -1)) && t.Before(today):
		return "yesterday " + t.Format("15:04")
	}
	return t.Format("2 January 2006, 15:04")
}

// day prints the day of a time that a bench's clock gave; what is no time is printed as it is.
func day(stamp string) string {
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return stamp
	}
	return t.UTC().Format("2 January 2006")
}

// ahead says how far a bench's clock is off, or "" where it is near enough.
func ahead(seconds float64) string {
	d := time.Duration(seconds * float64(time.Second))
	switch {
	case d > clockOff:
		return span(d) + " ahead"
	case d < -clockOff:
		return span(-d) + " behind"
	}
	return ""
}

// clockOff is how far a bench's clock may be off before it is said: its times are still those of the day.
const clockOff = 2 * time.Minute

// silentAfter is how long a bench may say nothing before that is something to see to: it is switched off at night, and asks
// every few minutes while it is on.
const silentAfter = 4 * 24 * time.Hour
