package inspect

import (
	"math"
	"strconv"
	"strings"
)

// FormatProbability prints a probability with six decimals, without trailing zeros. One that is short of 1, or more
// than 0, is never rounded to it: it has as many decimals as it takes to tell. What is worked out from readings is never
// sure, so that what a float64 holds for 1 or 0 is printed as what lies next to it.
func FormatProbability(p float64) string {
	p = min(max(p, 0x1p-53), math.Nextafter(1, 0))
	for decimals := 6; decimals < 17; decimals++ {
		s := strconv.FormatFloat(p, 'f', decimals, 64)
		if v, _ := strconv.ParseFloat(s, 64); v > 0 && v < 1 {
			return strings.TrimRight(s, "0")
		}
	}
	return strconv.FormatFloat(p, 'f', -1, 64)
}
