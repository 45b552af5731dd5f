package bench

import (
	"fmt"
	"strings"
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
		return Wheel{}, fmt.Errorf("wheel %q: the bench file lists no wheel", name)
	}
	return Wheel{}, fmt.Errorf("wheel %q: the bench file lists %s", name, strings.Join(names, ", "))
}

// CheckWheel refuses a wheel that the bench file, where it lists wheels, does not name.
func (f *File) CheckWheel(name string) error {
	if name == "" || len(f.Wheels) == 0 {
		return nil
	}
	_, err := f.Wheel(name)
	return err
}
