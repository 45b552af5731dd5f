package record

import (
	"errors"
	"testing"
)

// A reason is a word at the least, in whatever script people write: noise and signs are none.
func TestReasonIsAWord(t *testing.T) {
	for _, why := range []string{
		"worn", "Riss", "скол", "χτύπημα", // three letters and more where there are capitals
		"裂纹", "欠け", "균열", "รอยร้าว", "दरार", "को टूटा", "شق", "סדק", "ճաք", "ბზარი", "nứt", "see 裂纹",
	} {
		if err := (Who{By: "R. Vale", Why: why}).check("withdraw", true); err != nil {
			t.Errorf("%q: %v", why, err)
		}
	}
	for _, why := range []string{"", " ", "x", "ok", "OK.", "да", "οκ", "no", "-", "...", "12345", "裂", "ok ok", "a b c d", "½ in", "→→→"} {
		if err := (Who{By: "R. Vale", Why: why}).check("withdraw", true); !errors.Is(err, ErrNoReason) {
			t.Errorf("%q is taken for a reason: %v", why, err)
		}
	}
}
