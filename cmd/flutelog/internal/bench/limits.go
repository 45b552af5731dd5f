package bench

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// LimitSet is one table of limits over the defaults, for some materials and diameters. Of two that cover a tool, what
// the later one states stands.
type LimitSet struct {
	Materials []inspect.Material // none is every material
	From, To  length.Length      // nominal diameters; To 0 is no end
	Source    string             // where the limits come from

	bounds           []bounds
	checkingDistance length.Length
	required         []inspect.Item // nil is not stated
}

// bounds are what a set states of one limit.
type bounds struct {
	row   inspect.LimitRow
	limit inspect.Limit                    // without those of a percentage
	of    func(inspect.Tool) inspect.Limit // of a percentage: bounds that the tool's diameter gives
}

// readLimits reads the tables of limits. What a limit's key means is in inspect.LimitTable.
func (f *File) readLimits(name string, text []byte) error {
	for i, table := range f.Limits {
		set := LimitSet{Source: "bench file"}
		for _, key := range sortedKeys(table) {
			if err := set.read(key, table[key]); err != nil {
				return fmt.Errorf("%s:%d: limits, set %d: %w", name, keyLine(text, i, key), i+1, err)
			}
		}
		for k := range set.bounds {
			set.bounds[k].limit.Source = set.Source
		}
		if err := set.check(); err != nil {
			return fmt.Errorf("%s:%d: limits, set %d: %w", name, keyLine(text, i, ""), i+1, err)
		}
		f.Sets = append(f.Sets, set)
	}
	return nil
}

func sortedKeys(table map[string]any) []string {
	var keys []string
	for key := range table {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	return keys
}

// keyLine returns the line of a key in the table of limits of a place, or of the table itself.
func keyLine(text []byte, set int, key string) int {
	at, line := -1, 1
	for i, l := range strings.Split(string(text), "\n") {
		l = strings.TrimSpace(l)
		if strings.HasPrefix(l, "[") && !strings.HasPrefix(l, "[[limits]]") && at == set {
			break
		}
		if strings.HasPrefix(l, "[[limits]]") {
			if at++; at == set {
				line = i + 1
			}
		}
		name, _, found := strings.Cut(l, "=")
		if at == set && found && strings.Trim(strings.TrimSpace(name), `"'`) == key {
			return i + 1
		}
	}
	return line
}

func (s *LimitSet) read(key string, value any) error {
	wrong := func(want string) error { return fmt.Errorf("%s: want %s", key, want) }
	switch key {
	case "materials":
		for _, w := range texts(value) {
			m, err := inspect.ParseMaterial(w)
			if err != nil {
				return fmt.Errorf("material %w", err)
			}
			s.Materials = append(s.Materials, m)
		}
		if s.Materials == nil {
			return wrong(`materials, as in ["hss"]`)
		}
	case "from", "to", "checking-distance":
		l, err := oneLength(value)
		if err != nil || l < 0 {
			return fmt.Errorf("%s: want a length of more than zero, with its unit: %w", key, orFine(err))
		}
		*map[string]*length.Length{"from": &s.From, "to": &s.To, "checking-distance": &s.checkingDistance}[key] = l
	case "source":
		source, ok := value.(string)
		if !ok || source == "" {
			return wrong("words in quotes")
		}
		s.Source = source
	case "required":
		items, err := requiredItems(texts(value))
		if err != nil {
			return fmt.Errorf("required: %w", err)
		}
		s.required = items
	default:
		i := slices.IndexFunc(inspect.LimitTable, func(r inspect.LimitRow) bool { return r.Key == key })
		if i < 0 {
			return fmt.Errorf("key %q is not known; flutelog bench example shows every limit", key)
		}
		b, err := readBounds(inspect.LimitTable[i], value)
		if err != nil {
			return fmt.Errorf("%s: %w", key, err)
		}
		s.bounds = append(s.bounds, b)
	}
	return nil
}

func orFine(err error) error {
	if err == nil {
		return fmt.Errorf("it is less than zero")
	}
	return err
}

// requiredItems reads names of what is required; no name at all is an empty list, not none.
func requiredItems(names []string) ([]inspect.Item, error) {
	items := []inspect.Item{}
	for _, name := range names {
		item, err := inspect.ParseItem(name)
		if err != nil {
			return nil, err
		}
		items = append(items, item)
	}
	return items, nil
}

// texts returns the strings of a list; nil where it is none.
func texts(value any) []string {
	list, _ := value.([]any)
	var all []string
	for _, v := range list {
		if text, ok := v.(string); ok {
			all = append(all, text)
		}
	}
	if len(all) != len(list) {
		return nil
	}
	return all
}

func oneLength(value any) (length.Length, error) {
	text, ok := value.(string)
	if !ok {
		return 0, fmt.Errorf("a length stands in quotes with its unit, as in \"0.0005in\"")
	}
	return length.Parse(text, length.None)
}

// kindExamples has a value of each kind of limit, as a bench file spells it.
var kindExamples = map[inspect.LimitKind]string{
	inspect.MostLengthKind: `"0.0005in"`,
	inspect.LengthBandKind: `["0.015in", "0.020in"]`,
	inspect.SpreadKind:     `"0.0005in"`,
	inspect.AngleBandKind:  `["9", "12"]`,
	inspect.MostShareKind:  `[1, 2]`,
	inspect.LeastShareKind: `[1, 10]`,
	inspect.ShareBandKind:  `[[15, 100], [35, 100]]`,
	inspect.PercentKind:    `90`,
}

// readBounds reads the value of a limit's key.
func readBounds(row inspect.LimitRow, value any) (bounds, error) {
	b := bounds{row: row}
	set := func(least, most *inspect.Quantity) (bounds, error) {
		b.limit.Least, b.limit.Most = least, most
		return b, nil
	}
	wrong := func(want string) (bounds, error) {
		return b, fmt.Errorf("want %s, as in %s", want, kindExamples[row.Kind])
	}
	switch row.Kind {
	case inspect.MostLengthKind, inspect.SpreadKind:
		l, err := oneLength(value)
		if err != nil || l <= 0 {
			return b, fmt.Errorf("want a length of more than zero, with its unit: %w", orFine(err))
		}
		least, most := inspect.LengthQuantity(-l), inspect.LengthQuantity(l)
		if row.Kind == inspect.MostLengthKind {
			return set(nil, &most)
		}
		return set(&least, &most)
	case inspect.LengthBandKind:
		var ls []inspect.Quantity
		for _, w := range texts(value) {
			if l, err := length.Parse(w, length.None); err == nil && l >= 0 {
				ls = append(ls, inspect.LengthQuantity(l))
			}
		}
		if len(texts(value)) != 2 || len(ls) != 2 || ls[1].Length() < ls[0].Length() {
			return wrong("the least and the most")
		}
		return set(&ls[0], &ls[1])
	case inspect.AngleBandKind:
		var as []inspect.Quantity
		for _, w := range texts(value) {
			if a, err := length.ParseAngle(w); err == nil && a >= 0 && a < 90*length.Degree {
				as = append(as, inspect.AngleQuantity(a))
			}
		}
		if len(texts(value)) != 2 || len(as) != 2 || as[1].Angle() < as[0].Angle() {
			return wrong("the least and the most in degrees")
		}
		return set(&as[0], &as[1])
	case inspect.MostShareKind, inspect.LeastShareKind:
		q, ok := share(value)
		switch {
		case !ok:
			return wrong("a share of the land")
		case row.Kind == inspect.MostShareKind:
			return set(nil, q)
		}
		return set(q, nil)
	case inspect.ShareBandKind:
		if list, _ := value.([]any); len(list) == 2 {
			least, ok1 := share(list[0])
			most, ok2 := share(list[1])
			if ok1 && ok2 && !least.Share().Over(most.Share()) {
				return set(least, most)
			}
		}
		return wrong("the least and the most share of the land")
	}
	percent, ok := value.(int64)
	if !ok || percent < 1 || percent > 100 {
		return b, fmt.Errorf("want a whole number of percent, 1 to 100")
	}
	b.of = func(t inspect.Tool) inspect.Limit {
		least := inspect.LengthQuantity(t.Diameter * length.Length(percent) / 100)
		return inspect.Limit{Least: &least}
	}
	return b, nil
}

// share reads a share of a whole, with a denominator that keeps comparisons exact.
func share(value any) (*inspect.Quantity, bool) {
	list, _ := value.([]any)
	var pair []int64
	for _, v := range list {
		if n, ok := v.(int64); ok {
			pair = append(pair, n)
		}
	}
	if len(pair) != 2 || len(list) != 2 || pair[0] <= 0 || pair[0] > pair[1] || pair[1] > 1000 {
		return nil, false
	}
	q := inspect.Share{Num: pair[0], Den: pair[1]}.Quantity()
	return &q, true
}

// check refuses limits that cannot stand together over the defaults.
func (s LimitSet) check() error {
	if s.To > 0 && s.To < s.From {
		return fmt.Errorf("diameters from %s to %s: want from the smaller to the larger", s.From, s.To)
	}
	t := inspect.Tool{Diameter: length.Inch, Material: inspect.HSS, Duty: inspect.Finishing}
	l := inspect.DefaultLimits(t)
	s.over(l, t)
	if l.LeastShare().Over(l.MostShare()) {
		return fmt.Errorf("secondary-over is less than least-share, which is 1/10 where it is not stated; state both")
	}
	return nil
}

func (s LimitSet) covers(t inspect.Tool) bool {
	return t.Diameter >= s.From && (s.To == 0 || t.Diameter <= s.To) &&
		(s.Materials == nil || slices.Contains(s.Materials, t.Material))
}

func (s LimitSet) over(l inspect.Limits, t inspect.Tool) {
	for _, b := range s.bounds {
		limit := b.limit
		if b.of != nil {
			limit = b.of(t)
			limit.Source = s.Source
		}
		l.Override(b.row, limit)
	}
}

// override puts what the file's limits say of a tool over the defaults; what the tool itself must hold stands over
// both.
func (f *File) override(b *inspect.Basis, t inspect.Tool) {
	for _, s := range f.Sets {
		if !s.covers(t) {
			continue
		}
		s.over(b.Limits, t)
		if s.checkingDistance > 0 {
			b.CheckingDistance = s.checkingDistance
		}
		if s.required != nil {
			b.Required = s.required
		}
	}
	b.Limits.HoldSize(t)
}

// limitLines are the limits of the example file: every key with what stands for a tool where it is left out.
func limitLines(t inspect.Tool) string {
	var lines strings.Builder
	for _, row := range inspect.LimitTable {
		text := cmp.Or(limitText(row, row.Default(t)), kindExamples[row.Kind])
		judged := "advice unless it is stated"
		switch {
		case row.Aim:
			judged = "aimed at, never judged"
		case row.Judged && row.Default(t).Set():
			judged = "judged"
		case row.Judged:
			judged = "no limit unless it is stated"
		}
		fmt.Fprintf(&lines, "# %s = %s # %s; %s\n", row.Key, text, row.About, judged)
	}
	return lines.String()
}

// limitText is a limit as a bench file spells it, "" for none.
func limitText(row inspect.LimitRow, l inspect.Limit) string {
	if !l.Set() {
		return ""
	}
	in := func(q *inspect.Quantity) string { return q.Length().Format(length.In, 4) + "in" }
	fraction := func(q *inspect.Quantity) string { return fmt.Sprintf("[%d, %d]", q.Share().Num, q.Share().Den) }
	switch row.Kind {
	case inspect.MostLengthKind, inspect.SpreadKind:
		return fmt.Sprintf("%q", in(l.Most))
	case inspect.LengthBandKind:
		return fmt.Sprintf("[%q, %q]", in(l.Least), in(l.Most))
	case inspect.AngleBandKind:
		return fmt.Sprintf("[%q, %q]", l.Least.Angle().Format(0), l.Most.Angle().Format(0))
	case inspect.MostShareKind:
		return fraction(l.Most)
	case inspect.LeastShareKind:
		return fraction(l.Least)
	case inspect.ShareBandKind:
		return fmt.Sprintf("[%s, %s]", fraction(l.Least), fraction(l.Most))
	}
	return "90"
}
