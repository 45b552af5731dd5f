package text

import "testing"

// What a spreadsheet does with ids, serials and jobs. Tried in one (a number format looked for in every cell): 0071,
// MAR 3, TRUE, 412.10, 1234567890123e45; the rest common practice, no source.
func TestSpreadsheet(t *testing.T) {
	for in, want := range map[string]string{
		"0071": "71", "412.10": "412.1", "412,10": "412.1", "0412": "412", "00": "0", ".5": "0.5", "5.": "5", "-07": "-7", "-0.0": "0", "+5": "5", "1e5": "100000", "1E2": "100", "-0": "0",
		"12345678901234567": "1.23456789012346e+16", "0.12345678901234567": "0.123456789012346", "1234567890123e45": "1.234567890123e+57",
		"50%": "50 percent", "MAR 3": "03/3 (a date)", "mar-03": "03/3 (a date)", "3 March": "03/3 (a date)", "3MAR": "03/3 (a date)", "Sept 26": "09/26 (a date)", "3/4": "3/4 (a date)", "03-4": "3/4 (a date)",
		"1/2/26": "1/2/26 (a date)", "12:30": "12:30 (a time of day)", "TRUE": "TRUE (a truth value)", "false": "FALSE (a truth value)",
	} {
		if got, changed := Spreadsheet(in); got != want || !changed {
			t.Errorf("%q: got %q, %v, want %q", in, got, changed, want)
		}
	}
	for _, in := range []string{"", "EM-0412", "412", "412.1", "0", "-7", "T.412", "MARK 3", "MAR", "J-17", "1.2.3", "A1", "12:3x", "TRUE 1", "e5", ".", "-", "%", "12 34", "Müller", "1 1 1"} {
		if got, changed := Spreadsheet(in); got != in || changed {
			t.Errorf("%q: got %q, %v, want it left alone", in, got, changed)
		}
	}
}
