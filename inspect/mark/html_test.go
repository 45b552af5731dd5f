package mark

import (
	"io/fs"
	"os"
	"regexp"
	"strings"
	"testing"
)

// A template writes what it is given escaped, for text and for a value in quotes alike, and markup by Raw alone.
func TestTemplatesEscape(t *testing.T) {
	unescaped := regexp.MustCompile(`\{%[a-z]+(\.\d+)?=`)
	unquoted := regexp.MustCompile(`\s[\w-]+=\{%`)
	n := 0
	tree := os.DirFS("../..")
	err := fs.WalkDir(tree, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".qtpl") {
			return err
		}
		n++
		text, err := fs.ReadFile(tree, path)
		for _, bad := range []*regexp.Regexp{unescaped, unquoted} {
			if found := bad.Find(text); found != nil {
				t.Errorf("%s: %s", path, found)
			}
		}
		return err
	})
	if err != nil || n == 0 {
		t.Fatal(n, err)
	}
}
