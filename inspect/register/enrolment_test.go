package register

import (
	"strings"
	"testing"
)

// An enrolment that is copied whole is taken, with spaces and line ends around it; cut short or changed it is refused.
func TestEnrolment(t *testing.T) {
	for _, address := range []string{"register.shop.example:8443", "10.0.0.7:8443", "[fd00::7]:8443"} {
		e := Enrolment{Address: address, Token: strings.Repeat("-_aB", 10) + "aaA", Key: strings.Repeat("0f", 32)}
		text := e.String()
		if got, err := ParseEnrolment("  " + text + "\r\n"); err != nil || got != e {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
		for i := range text {
			if got, err := ParseEnrolment(text[:i]); err == nil {
				t.Errorf("cut to %q it is taken: %+v", text[:i], got)
			}
		}
	}
	for _, text := range []string{"", "https://register.shop.example:8443", "flute-register://register:8443/"} {
		if e, err := ParseEnrolment(text); err == nil {
			t.Errorf("%q is taken: %+v", text, e)
		}
	}
}
