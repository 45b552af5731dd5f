package board

import (
	"fmt"
	"regexp"
	"strconv"
)

// MostAdded is how many tools are added at once at most: a slip in a range must not fill a ledger.
const MostAdded = 1000

var rangeOf = regexp.MustCompile(`^(.*?)(\d+)\.\.(.*?)(\d+)$`)

// Spread returns the ids that are given: each by itself, or the first and the last of a range, EM-1..EM-12.
func Spread(given []string) ([]string, error) {
	var ids []string
	for _, one := range given {
		m := rangeOf.FindStringSubmatch(one)
		if m == nil {
			ids = append(ids, one)
			continue
		}
		from, err1 := strconv.Atoi(m[2])
		to, err2 := strconv.Atoi(m[4])
		if err1 != nil || err2 != nil || m[3] != "" && m[3] != m[1] || to < from || to-from >= MostAdded {
			return nil, fmt.Errorf("%q: want the first and the last of at most %d ids, as EM-1..EM-12", one, MostAdded)
		}
		for n := from; n <= to; n++ {
			ids = append(ids, fmt.Sprintf("%s%0*d", m[1], len(m[2]), n))
		}
	}
	return ids, nil
}
