package page

import (
	"errors"
	"net/url"
	"slices"
	"strings"
)

// form is what a person sent, with what was wrong with it: what is refused comes back as it was typed, the reason at the
// field that it is about.
type form struct {
	url.Values
	Wrong map[string]string // by the name of the field; "" is the form as a whole
}

// fieldError is an error about one field of a form.
type fieldError struct {
	Field string
	error
}

func (e fieldError) Unwrap() error { return e.error }

// at says which field an error is about; nil stays nil.
func at(field string, err error) error {
	if err == nil {
		return nil
	}
	return fieldError{field, err}
}

// refused returns a form as it was sent, with each of the errors at its field.
func refused(sent url.Values, errs ...error) form {
	f := form{sent, map[string]string{}}
	for _, err := range slices.Backward(errs) { // of several at a field the first is said
		var one fieldError
		if errors.As(err, &one) {
			f.Wrong[one.Field] = one.Error()
		} else {
			f.Wrong[""] = err.Error()
		}
	}
	return f
}

// field is one field of a form, for a template.
type field struct {
	Name, Label, Value, Wrong string
	Options                   []option // of a choice
}

type option struct{ Value, Words string }

// Field returns a field of the form with its label.
func (f form) Field(name, label string) field {
	return field{Name: name, Label: label, Value: f.Get(name), Wrong: f.Wrong[name]}
}

// Choice returns a field that is chosen from options, each a value or value=words.
func (f form) Choice(name, label string, options ...string) field {
	c := f.Field(name, label)
	for _, o := range options {
		value, words, _ := strings.Cut(o, "=")
		c.Options = append(c.Options, option{value, words})
	}
	return c
}

// ChoiceOf returns a field that is chosen from values; one more, "", stands for none of them.
func (f form) ChoiceOf(name, label string, values []string, more ...string) field {
	c := f.Field(name, label)
	for _, v := range append(more, values...) {
		words := ""
		if v == "" {
			words = "not told"
		}
		c.Options = append(c.Options, option{v, words})
	}
	return c
}

// Opened says whether any of some fields was filled or refused, so that what holds them is shown open.
func (f form) Opened(names ...string) bool {
	return slices.ContainsFunc(names, func(name string) bool { return f.Get(name) != "" || f.Wrong[name] != "" })
}
