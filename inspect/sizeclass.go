package inspect

import (
	"fmt"
	"strconv"
	"strings"

	"flutelog/inspect/length"
)

// The tolerance classes of ISO 286 for shafts of up to 80 mm: a fundamental deviation and a grade, such as h10. From memory
// of ISO 286-1 and ISO 286-2:2010, unverified; micrometres, for diameters over the row above and up to the row's.
var sizeRanges = []struct {
	upTo       length.Length // millimetres
	grades     [8]int64      // IT5 to IT12
	d, e, f, g int64         // fundamental deviations, from the nominal down to the upper limit; h has none
}{
	{3, [8]int64{4, 6, 10, 14, 25, 40, 60, 100}, 20, 14, 6, 2},
	{6, [8]int64{5, 8, 12, 18, 30, 48, 75, 120}, 30, 20, 10, 4},
	{10, [8]int64{6, 9, 15, 22, 36, 58, 90, 150}, 40, 25, 13, 5},
	{18, [8]int64{8, 11, 18, 27, 43, 70, 110, 180}, 50, 32, 16, 6},
	{30, [8]int64{9, 13, 21, 33, 52, 84, 130, 210}, 65, 40, 20, 7},
	{50, [8]int64{11, 16, 25, 39, 62, 100, 160, 250}, 80, 50, 25, 9},
	{80, [8]int64{13, 19, 30, 46, 74, 120, 190, 300}, 100, 60, 30, 10},
}

const firstGrade = 5

// SizeClass returns the least and the most diameter of a tolerance class of ISO 286 at a nominal diameter: a letter d, e, f,
// g, h or js, and a grade of 5 to 12. At 12 mm h10 is 11.930 to 12.000. Errors: a class that is not known, a nominal of
// nothing or over 80 mm.
func SizeClass(class string, nominal length.Length) (least, most length.Length, err error) {
	letter := strings.TrimRight(class, "0123456789")
	grade, err := strconv.Atoi(class[len(letter):])
	if err != nil || grade < firstGrade || grade >= firstGrade+8 || !strings.Contains(" d e f g h js ", " "+letter+" ") {
		return 0, 0, fmt.Errorf("tolerance class %q: want a letter d, e, f, g, h or js and a grade 5 to 12, such as h10", class)
	}
	for _, r := range sizeRanges {
		if nominal <= 0 || nominal > r.upTo*length.Millimetre {
			continue
		}
		width := length.Length(r.grades[grade-firstGrade]) * length.Micrometre
		if letter == "js" {
			return nominal - width/2, nominal + width/2, nil
		}
		under := map[string]int64{"d": r.d, "e": r.e, "f": r.f, "g": r.g, "h": 0}[letter]
		most = nominal - length.Length(under)*length.Micrometre
		return most - width, most, nil
	}
	return 0, 0, fmt.Errorf("tolerance class %q: want a nominal diameter of up to 80 mm, not %s", class, nominal)
}
