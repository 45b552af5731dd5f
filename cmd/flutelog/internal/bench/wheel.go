package bench

import (
	"fmt"
	"slices"
	"strings"

	"flutelog/inspect"
	"flutelog/inspect/length"
)

// Wheel returns the wheel of a name.
func (f *File) Wheel(name string) (Wheel, error) {
	var names []string
	for _, w := range f.Wheels {
		if w.Name == name {
			return w, nil
		}
		names = append(names, w.Name)
	}
	if names == nil {
		return Wheel{}, fmt.Errorf("wheel %q: the bench file lists no wheel; add a [[wheel]] as flutelog bench example shows it", name)
	}
	return Wheel{}, fmt.Errorf("wheel %q: the bench file lists %s; name one of these", name, strings.Join(names, ", "))
}

// CheckWheel refuses a wheel that the bench file, where it lists wheels, does not name.
func (f *File) CheckWheel(name string) error {
	if name == "" || len(f.Wheels) == 0 {
		return nil
	}
	_, err := f.Wheel(name)
	return err
}

// wheelFor returns the diameter of the wheel that grinds a tool where there is but one for its material; 0 else.
func (f *File) wheelFor(t inspect.Tool) length.Length {
	var d length.Length
	for _, w := range f.Wheels {
		if !slices.Contains(w.Materials, t.Material) {
			continue
		}
		if d > 0 {
			return 0
		}
		d = w.Diameter
	}
	return d
}
