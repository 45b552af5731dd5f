package paper

import (
	"io"
	"strings"

	"flutelog/inspect/mark"
)

// Certificate is what a customer gets of a job: a row a tool, what was found, what was done and what is left.
type Certificate struct {
	Job       string
	Customer  string
	Order     string // the customer's own reference
	Date      string
	Lead      string  // how many tools, received when, how many inspected
	Sums      []Count // how the tools stand
	Unread    []string
	AllRead   string // said where nothing is unread
	Caption   string // units, where and how the figures were read
	Rows      []CertificateRow
	Limits    []string // and where they come from
	ReadWith  []string
	Notes     []string
	Signed    []Signature
	Cautions  []string
	Proof     Proof
	Practice  bool
	Back      string // address of the page it was made on
	Condition string // why it is no certificate yet; "" where it is
}

// Count is how many tools stand alike.
type Count struct {
	Mark  mark.Mark
	Words string
}

// CertificateRow is one tool.
type CertificateRow struct {
	Ruling              Ruling
	Tool, What          string
	FoundWear           string
	FoundTIR            string
	FoundDiameter       string
	Faces, Divisions    string // done
	TIR, TIRUncertainty string // left
	Share, Relief       string
	Diameter, Length    string
	Note                string // the condition, who and when, and what was not read
}

// WriteCertificate writes the certificate as one document. Errors are those of w.
func WriteCertificate(w io.Writer, c Certificate) error {
	return write(w, "certificate", strings.TrimSuffix("Job "+isolated(c.Job)+", "+isolated(c.Customer), ", "), c.html)
}
