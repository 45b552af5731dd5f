package ledger

import "bytes"

// maxDepth is how deep arrays and objects may stand in each other.
const maxDepth = 1000

// IsCompactJSON says whether text is one JSON value (RFC 8259) without spaces outside strings. Package
// encoding/json can tell too, in three times the time, and verifying a ledger is mostly this.
func IsCompactJSON(text []byte) bool {
	rest := skipValue(text, maxDepth)
	return rest != nil && len(rest) == 0
}

// skipValue returns what follows the value that text begins with, nil when there is none. So do the
// others.
func skipValue(text []byte, depth int) []byte {
	if len(text) == 0 || depth == 0 {
		return nil
	}
	switch text[0] {
	case '"':
		return skipString(text)
	case '{':
		return skipMembers(text[1:], '}', depth)
	case '[':
		return skipMembers(text[1:], ']', depth)
	case 't':
		return skipWord(text, "true")
	case 'f':
		return skipWord(text, "false")
	case 'n':
		return skipWord(text, "null")
	}
	return skipNumber(text)
}

// skipMembers skips the values of an array, or the names and values of an object, and the bracket that
// ends it.
func skipMembers(text []byte, end byte, depth int) []byte {
	if len(text) > 0 && text[0] == end {
		return text[1:]
	}
	for {
		if end == '}' {
			if text = skipString(text); len(text) == 0 || text[0] != ':' {
				return nil
			}
			text = text[1:]
		}
		text = skipValue(text, depth-1)
		switch {
		case len(text) == 0:
			return nil
		case text[0] == end:
			return text[1:]
		case text[0] != ',':
			return nil
		}
		text = text[1:]
	}
}

func skipWord(text []byte, word string) []byte {
	if !bytes.HasPrefix(text, []byte(word)) {
		return nil
	}
	return text[len(word):]
}

func skipString(text []byte) []byte {
	if len(text) == 0 || text[0] != '"' {
		return nil
	}
	for i := 1; i < len(text); i++ {
		switch c := text[i]; {
		case !special[c]:
		case c == '"':
			return text[i+1:]
		case c == '\\':
			n := escapeLength(text[i:])
			if n == 0 {
				return nil
			}
			i += n - 1
		default:
			return nil
		}
	}
	return nil
}

// special says which bytes do not stand for themselves in a string.
var special = func() (special [256]bool) {
	for c := range byte(' ') {
		special[c] = true
	}
	special['"'], special['\\'] = true, true
	return special
}()

// escapeLength returns how many bytes the escape has that text begins with, 0 when it is none.
func escapeLength(text []byte) int {
	const short, long = len(`\n`), len(`\u0000`)
	switch {
	case len(text) >= short && bytes.IndexByte([]byte(`"\/bfnrt`), text[1]) >= 0:
		return short
	case len(text) >= long && text[1] == 'u' && madeOf(string(text[2:long]), digits+"abcdefABCDEF"):
		return long
	}
	return 0
}

func skipNumber(text []byte) []byte {
	text = bytes.TrimPrefix(text, []byte("-"))
	if bytes.HasPrefix(text, []byte("0")) {
		text = text[1:]
	} else if text = skipDigits(text); text == nil {
		return nil
	}
	if bytes.HasPrefix(text, []byte(".")) {
		if text = skipDigits(text[1:]); text == nil {
			return nil
		}
	}
	if len(text) > 0 && (text[0] == 'e' || text[0] == 'E') {
		text = text[1:]
		if len(text) > 0 && (text[0] == '+' || text[0] == '-') {
			text = text[1:]
		}
		return skipDigits(text)
	}
	return text
}

// skipDigits skips one digit or more.
func skipDigits(text []byte) []byte {
	n := 0
	for n < len(text) && text[n] >= '0' && text[n] <= '9' {
		n++
	}
	if n == 0 {
		return nil
	}
	return text[n:]
}
