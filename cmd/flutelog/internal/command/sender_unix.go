//go:build unix

package command

import "syscall"

// detached makes a program that no key of the terminal ends.
var detached = &syscall.SysProcAttr{Setsid: true}
