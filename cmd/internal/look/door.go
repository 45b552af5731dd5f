package look

import (
	"errors"
	"net/http"

	"flutelog/inspect/text"
)

// MostBody bounds what a form sends.
const MostBody = 16 << 10

// policy lets a page use what its server gives it and nothing else.
const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; " +
	"form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

var crossSite = http.NewCrossOriginProtection()

// Admit says whether a request may be served: it answers itself what another site sends and what no form of these pages
// does. The form of what is admitted is read and its texts are checked as all that people write; what is shown is bounded by
// a policy.
func Admit(w http.ResponseWriter, r *http.Request) bool {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "same-origin")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	switch {
	case crossSite.Check(r) != nil:
		http.Error(w, "refused: the request comes from another site", http.StatusForbidden)
		return false
	case r.Header.Get("Sec-Fetch-Site") == "cross-site" && r.Header.Get("Sec-Fetch-Mode") != "navigate":
		http.Error(w, "refused: another site may link here, and no more", http.StatusForbidden)
		return false
	}
	r.Body = http.MaxBytesReader(w, r.Body, MostBody)
	if err := r.ParseForm(); err != nil {
		status := http.StatusBadRequest
		if errors.As(err, new(*http.MaxBytesError)) {
			status = http.StatusRequestEntityTooLarge
		}
		http.Error(w, "refused: "+text.Show(err.Error()), status)
		return false
	}
	for name, values := range r.Form {
		for i, value := range values {
			clean, err := text.Check(value)
			if err != nil {
				http.Error(w, "refused: "+text.Show(name)+": "+err.Error(), http.StatusBadRequest)
				return false
			}
			values[i] = clean
		}
	}
	for name, values := range r.PostForm {
		copy(values, r.Form[name]) // the form's own come first among those of the address
	}
	return true
}
