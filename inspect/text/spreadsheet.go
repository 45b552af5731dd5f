package text

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Spreadsheet returns what a spreadsheet makes of a text when it opens a file and looks for numbers and dates, and
// whether the text is changed by it: 0071 becomes 71, 412.10 becomes 412.1, MAR 3 and 3/4 become dates, TRUE a truth
// value, and of a number all but 15 digits are lost. Two ids with one result are one and the same there. What is left
// alone is returned as it is.
//
// Sources: what a spreadsheet did with such cells when it was tried, the rest from memory; the 15 digits are those of IEEE
// 754 double precision. Words for months and truth values are those of English.
func Spreadsheet(s string) (becomes string, changed bool) {
	t := strings.TrimSpace(s)
	if number := asNumber(t); number != "" {
		return number, number != s
	}
	if date := asDate(t); date != "" {
		return date, true
	}
	switch upper := strings.ToUpper(t); upper {
	case "TRUE", "FALSE":
		return upper + " (a truth value)", true
	}
	return s, false
}

var (
	plainNumber = regexp.MustCompile(`^([+-]?)([0-9]*)(?:[.,]([0-9]*))?(?:[eE]([+-]?[0-9]{1,3}))?%?$`)
	dayTime     = regexp.MustCompile(`^[0-9]{1,2}:[0-9]{2}(:[0-9]{2})?$`)
	numericDate = regexp.MustCompile(`^([0-9]{1,4})[-/]([0-9]{1,2})(?:[-/]([0-9]{1,4}))?$`)
	monthFirst  = regexp.MustCompile(`^([A-Za-z]{3,9})[ ./-]?([0-9]{1,4})(?:[ ,./-]+([0-9]{2,4}))?$`)
	dayFirst    = regexp.MustCompile(`^([0-9]{1,2})[ ./-]?([A-Za-z]{3,9})(?:[ ,./-]*([0-9]{2,4}))?$`)
)

// asNumber returns a number as a spreadsheet shows it, "" for what is none.
func asNumber(s string) string {
	m := plainNumber.FindStringSubmatch(s)
	if m == nil || m[2]+m[3] == "" {
		return ""
	}
	whole := m[1] + m[2] + "." + m[3]
	if m[4] != "" {
		whole += "e" + m[4]
	}
	value, err := strconv.ParseFloat(whole, 64)
	if err != nil {
		return ""
	}
	number := strconv.FormatFloat(value, 'g', 15, 64)
	if value == 0 {
		number = "0" // without a sign
	}
	if strings.HasSuffix(s, "%") {
		number += " percent"
	}
	return number
}

var months = []string{"january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december"}

// month returns the number of a month by its name or the first three letters, "" for none.
func month(word string) string {
	word = strings.ToLower(word)
	i := slices.IndexFunc(months, func(m string) bool { return word == m || word == m[:3] || word == "sept" && m == "september" })
	if i < 0 {
		return ""
	}
	return "01 02 03 04 05 06 07 08 09 10 11 12"[3*i : 3*i+2]
}

// asDate returns the date or time that a spreadsheet takes a text for, "" for none. Which of two numbers is the month
// depends on where the spreadsheet stands.
func asDate(s string) string {
	trim := func(n string) string { return strings.TrimLeft(n, "0") }
	if dayTime.MatchString(s) {
		return trim(s) + " (a time of day)"
	}
	if m := numericDate.FindStringSubmatch(s); m != nil {
		parts := []string{trim(m[1]), trim(m[2])}
		if m[3] != "" {
			parts = append(parts, trim(m[3]))
		}
		return strings.Join(parts, "/") + " (a date)"
	}
	if m := monthFirst.FindStringSubmatch(s); m != nil && month(m[1]) != "" {
		return strings.TrimSuffix(month(m[1])+"/"+trim(m[2])+"/"+m[3], "/") + " (a date)"
	}
	if m := dayFirst.FindStringSubmatch(s); m != nil && month(m[2]) != "" {
		return strings.TrimSuffix(month(m[2])+"/"+trim(m[1])+"/"+m[3], "/") + " (a date)"
	}
	return ""
}
