//go:build !linux

package ledger

import "os"

func syncData(f *os.File) error { return f.Sync() }
