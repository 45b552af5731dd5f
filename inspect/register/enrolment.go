package register

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"strings"
)

// Enrolment is what a bench must know of a register: where it is, the token by which it knows the bench, and the key by
// which the bench knows it. It is secret. It is handed over as one line of text, in a file or by pasting.
type Enrolment struct {
	Address string // host:port
	Token   string // 32 random bytes, base64url without padding
	Key     string // SHA-256 of the key that the register's certificate is for, as SubjectPublicKeyInfo in DER; 64 hex digits
}

// enrolmentScheme begins the line: what it is for can be seen, and no browser follows it.
const enrolmentScheme = "flute-register"

// String returns the enrolment as one line:
//
//	flute-register://TOKEN@HOST:PORT/KEY
func (e Enrolment) String() string {
	return fmt.Sprintf("%s://%s@%s/%s", enrolmentScheme, e.Token, e.Address, e.Key)
}

// ParseEnrolment reads what String returns; spaces around it do not count.
func ParseEnrolment(text string) (Enrolment, error) {
	fail := func(why string) (Enrolment, error) {
		return Enrolment{}, errors.New("enrolment: " + why + "; want the whole line that `fluteregister enrol` printed")
	}
	u, err := url.Parse(strings.TrimSpace(text))
	if err != nil || u.Scheme != enrolmentScheme || u.User == nil || u.Port() == "" || u.Hostname() == "" {
		return fail("not " + enrolmentScheme + "://TOKEN@HOST:PORT/KEY")
	}
	e := Enrolment{Address: u.Host, Token: u.User.Username(), Key: strings.TrimPrefix(u.Path, "/")}
	if token, err := base64.RawURLEncoding.DecodeString(e.Token); err != nil || len(token) != 32 {
		return fail("the token is not whole")
	}
	if key, err := hex.DecodeString(e.Key); err != nil || len(key) != sha256.Size {
		return fail("the key is not whole")
	}
	return e, nil
}
