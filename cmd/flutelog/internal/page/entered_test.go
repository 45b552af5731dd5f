package page

import (
	"strings"
	"testing"
)

// The answer says what the machinist will enter before it is signed, and that it is not entered yet: half the diameter is the
// radius. What is not let out says nothing of the kind. As they were read (testdata/make-ledger-2): EM-2 0.4995 in when it came
// in and 0.4921 in after its grind, MM-12 11.812 mm, which is 11.812/25.4 = 0.46504 in.
func TestAnswerForTheMachinist(t *testing.T) {
	c := kept(t).client()
	for _, tt := range []struct {
		id     string
		says   []string
		unsaid string
	}{
		{"MM-12.1", []string{"For the machinist", "<dt>Cutting diameter</dt><dd>0.46504 in</dd>", "<dt>Radius offset</dt><dd>0.23252 in</dd>", "Not to be entered before it is released."}, "since"},
		{"EM-2.2", []string{"For the machinist", "<dt>Cutting diameter</dt><dd>0.49210 in</dd>", "<dt>Radius offset</dt><dd>0.24605 in</dd>", "<dt>Diameter since it came in</dt><dd>-0.00740 in</dd>"}, "Not to be entered"},
		{"EM-1.1", nil, "For the machinist"},
	} {
		body := c.get(link("/inspection", tt.id)).body
		_, said, _ := strings.Cut(body, `id="h-for"`)
		said, _, _ = strings.Cut(said, "</section>")
		for _, want := range tt.says {
			if !strings.Contains(said, want) {
				t.Errorf("%s does not say %q: %s", tt.id, want, said)
			}
		}
		if strings.Contains(said, tt.unsaid) {
			t.Errorf("%s says %q", tt.id, tt.unsaid)
		}
	}
}
