package draw

import (
	"fmt"
	"html"
	"strings"

	"flutelog/inspect/mark"

	"github.com/boombuler/barcode"
	"github.com/boombuler/barcode/qr"
)

// quiet is how many modules stay white around the symbol.
const quiet = 4

// Symbol returns a QR code of a text (ISO/IEC 18004, level H) as an SVG that is as many millimetres wide as its
// modules want, its quiet zone of four modules included; most is the most it may be wide, and shrinks them. It holds
// printable ASCII only, which every reader takes alike; other texts, and what is too long, are an error.
func Symbol(text string, module, most float64) (svg mark.HTML, wide float64, err error) {
	for _, r := range text {
		if r <= ' ' || r > '~' {
			return "", 0, fmt.Errorf("symbol of %q: it holds letters, digits and signs of ASCII only", text)
		}
	}
	code, err := qr.Encode(text, qr.H, qr.Auto)
	if err != nil {
		return "", 0, fmt.Errorf("symbol of %q: %w", text, err)
	}
	modules := code.Bounds().Dx()
	all := modules + 2*quiet
	module = min(module, most/float64(all))
	wide = module * float64(all)
	var d strings.Builder
	for y := range modules {
		for x := 0; x < modules; x++ {
			from := x
			for x < modules && dark(code, x, y) {
				x++
			}
			if x > from {
				fmt.Fprintf(&d, "M%d %dh%dv1h-%dz", from+quiet, y+quiet, x-from, x-from)
			}
		}
	}
	return mark.HTML(fmt.Sprintf(`<svg class="symbol" viewBox="0 0 %d %d" role="img" aria-label="%s" shape-rendering="crispEdges" width="%.2fmm" height="%.2fmm" xmlns="http://www.w3.org/2000/svg"><path fill="#fff" stroke="none" d="M0 0h%dv%dH0z"/><path fill="#000" stroke="none" d="%s"/></svg>`,
		all, all, html.EscapeString("square code: "+text), wide, wide, all, all, d.String())), wide, nil
}

func dark(code barcode.Barcode, x, y int) bool {
	r, _, _, _ := code.At(x, y).RGBA()
	return r == 0
}
