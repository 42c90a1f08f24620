//go:build !linux && !darwin

package store

import "os"

func sysStat(os.FileInfo, *Stat) {}
