package device

import "io"

// lockPort does nothing: this system itself lets only one program open a port.
func lockPort(string) (io.Closer, error) { return io.NopCloser(nil), nil }

// limitDescriptors does nothing: the serial library does not wait by descriptor numbers here.
func limitDescriptors() error { return nil }

func lacksModemLines(error) bool { return false }
