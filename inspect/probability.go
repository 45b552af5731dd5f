package inspect

import (
	"strconv"
	"strings"
)

// FormatProbability prints a probability with six decimals, without trailing zeros. One that is short of 1, or more
// than 0, is never rounded to it: it has as many decimals as it takes to tell.
func FormatProbability(p float64) string {
	if p <= 0 || p >= 1 {
		return strconv.FormatFloat(min(max(p, 0), 1), 'f', -1, 64)
	}
	for decimals := 6; decimals < 17; decimals++ {
		s := strconv.FormatFloat(p, 'f', decimals, 64)
		if v, _ := strconv.ParseFloat(s, 64); v > 0 && v < 1 {
			return strings.TrimRight(s, "0")
		}
	}
	return strconv.FormatFloat(p, 'f', -1, 64)
}
