//go:build !unix

package command

import "syscall"

var detached *syscall.SysProcAttr
