package record

import (
	"fmt"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// ReadSeen reads what is right of a sight as it is typed: yes or no, or the length of a chip, whose bare number is in the
// unit.
func ReadSeen(sight inspect.Sight, typed string, unit length.Unit) (inspect.Seen, error) {
	seen := inspect.Seen{Sight: sight}
	switch strings.ToLower(typed) {
	case "yes":
		seen.Yes = true
	case "no":
	default:
		if !sight.Chip() {
			return seen, fmt.Errorf("%q: %s was seen or not: want yes or no", typed, strings.ReplaceAll(string(sight), "-", " "))
		}
		long, err := length.Entry{Unit: unit}.Parse(typed)
		if err != nil {
			return seen, err
		}
		seen.Yes, seen.Length = true, &long.Value
	}
	return seen, nil
}
