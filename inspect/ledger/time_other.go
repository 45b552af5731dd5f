//go:build !linux

package ledger

import "time"

// systemTime reads the wall clock. Whether it is synchronised, and the time since boot, are not known here.
func systemTime() Time { return Time{UTC: time.Now()} }
