package draw

import (
	"fmt"
	"strconv"

	"flutelog/inspect/mark"
)

// Shares is the primary of each flute as a share of its land, with the share over which a secondary is needed and those
// between which it is aimed.
type Shares struct {
	Name              string     // for those who do not see it
	Values            []*float64 // flute 1 first; nil is not read
	Most              float64    // over it a secondary is needed
	AimLeast, AimMost float64
	Worst             int // flute; 0 for none
}

// Sizes of the shares.
const (
	sharesLeft, sharesTop = 46, 14
	sharesHigh            = 70
	sharesBottom          = sharesTop + sharesHigh
)

// SVG draws them as bars; solid are those over the limit.
func (h Shares) SVG() mark.HTML {
	s := newSVG("shares", width, sharesBottom+44, h.Name)
	y := func(share float64) px { return px(sharesBottom - sharesHigh*min(share, 1)) }
	s.path("band", path(point{sharesLeft, y(h.AimMost)}, point{width - 4, y(h.AimMost)}, point{width - 4, y(h.AimLeast)}, point{sharesLeft, y(h.AimLeast)})+"Z")
	s.text("small", "end", point{sharesLeft - 4, y((h.AimLeast+h.AimMost)/2) + 5}, "aim")
	pitch := float64(width-4-sharesLeft) / float64(max(len(h.Values), 1))
	for i, v := range h.Values {
		middle, thick := px(sharesLeft+pitch*(float64(i)+0.5)), px(min(0.6*pitch, 30))
		name := "small"
		if i+1 == h.Worst {
			name = "small strong"
		}
		if v == nil {
			s.text(name, "middle", point{middle, sharesBottom + 18}, strconv.Itoa(i+1))
			continue
		}
		class := "bar"
		if *v > h.Most {
			class = "bar solid"
		}
		s.path(class, path(point{middle - thick/2, sharesBottom}, point{middle - thick/2, y(*v)}, point{middle + thick/2, y(*v)}, point{middle + thick/2, sharesBottom})+"Z")
		s.text(name, "middle", point{middle, sharesBottom + 18}, strconv.Itoa(i+1))
		if i+1 == h.Worst {
			s.text("small strong", "middle", point{middle, sharesBottom + 36}, fmt.Sprintf("%.2f", *v))
		}
	}
	s.path("dash", path(point{sharesLeft, y(h.Most)}, point{width - 4, y(h.Most)}))
	s.text("small", "end", point{sharesLeft - 4, y(h.Most) + 5}, fmt.Sprintf("%.2f", h.Most))
	s.path("line", path(point{sharesLeft, sharesBottom}, point{width - 4, sharesBottom}))
	return s.done()
}
