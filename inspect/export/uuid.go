package export

import (
	"crypto/sha1"
	"encoding/hex"
	"strings"
)

// namespace is what all our names stand in: the name-based UUID of the URL urn:flutelog:export. It never changes.
var namespace = nameUUID([16]byte{0x6b, 0xa7, 0xb8, 0x11, 0x9d, 0xad, 0x11, 0xd1, 0x80, 0xb4, 0x00, 0xc0, 0x4f, 0xd4, 0x30, 0xc8}, "urn:flutelog:export")

// nameUUID returns the UUID version 5 of a name: the first 16 bytes of the SHA-1 of namespace and name, with version
// and variant set. Source: RFC 9562 5.5.
func nameUUID(space [16]byte, name string) (u [16]byte) {
	sum := sha1.Sum(append(space[:], name...))
	copy(u[:], sum[:])
	u[6] = u[6]&0x0f | 0x50
	u[8] = u[8]&0x3f | 0x80
	return u
}

// id returns the UUID of what the parts name, as text.
func id(parts ...string) string {
	u := nameUUID(namespace, strings.Join(parts, "/"))
	text := hex.EncodeToString(u[:])
	return strings.Join([]string{text[:8], text[8:12], text[12:16], text[16:20], text[20:]}, "-")
}

// FileName returns a name for a file of what an id names: characters other than letters and digits of ASCII, point,
// underscore and hyphen become underscores, and eight digits of the id's UUID then tell it from another that looks so.
func FileName(of, suffix string) string {
	plain := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '_', r == '-':
			return r
		}
		return '_'
	}, of)
	if plain != of {
		plain += "-" + id("name", of)[:8]
	}
	return plain + suffix
}
