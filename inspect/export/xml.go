package export

import (
	"bytes"
	"encoding/xml"
	"strconv"
	"strings"
)

// element is one element of an XML document: text, or other elements. Characters that XML 1.0 cannot carry become
// U+FFFD when it is written.
type element struct {
	XMLName    xml.Name
	Attributes []xml.Attr `xml:",any,attr"`
	Text       string     `xml:",chardata"`
	Elements   []*element
}

// node returns an element of others; nil ones are left out.
func node(name string, of ...*element) *element {
	e := &element{XMLName: xml.Name{Local: name}}
	for _, child := range of {
		if child != nil {
			e.Elements = append(e.Elements, child)
		}
	}
	return e
}

// text returns an element of text.
func text(name, content string) *element {
	return &element{XMLName: xml.Name{Local: name}, Text: content}
}

// textIf returns an element of text, nil where that is empty.
func textIf(name, content string) *element {
	if content == "" {
		return nil
	}
	return text(name, content)
}

// nodeIf returns an element of others, nil where there are none.
func nodeIf(name string, of ...*element) *element {
	if e := node(name, of...); len(e.Elements) > 0 {
		return e
	}
	return nil
}

// list returns an element that counts what is in it, nil where nothing is.
func list(name string, of ...*element) *element {
	e := nodeIf(name, of...)
	if e == nil {
		return nil
	}
	return e.attr("n", strconv.Itoa(len(e.Elements)))
}

// attr adds an attribute and returns the element; an empty value is left out.
func (e *element) attr(name, value string) *element {
	if value != "" {
		e.Attributes = append(e.Attributes, xml.Attr{Name: xml.Name{Local: name}, Value: value})
	}
	return e
}

func (e *element) add(of ...*element) *element {
	for _, child := range of {
		if child != nil {
			e.Elements = append(e.Elements, child)
		}
	}
	return e
}

// document returns the whole document in UTF-8.
func document(root *element) ([]byte, error) {
	var out bytes.Buffer
	out.WriteString(xml.Header)
	enc := xml.NewEncoder(&out)
	enc.Indent("", " ")
	if err := enc.Encode(root); err != nil {
		return nil, err
	}
	out.WriteByte('\n')
	return out.Bytes(), nil
}

// token folds white space as xs:token does, so that a reader who keeps it and one who folds it see the same.
func token(s string) string { return strings.Join(strings.Fields(s), " ") }
