package store

import (
	"strings"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// unsafeName tells why a path must not be written to a working folder, or nothing. It guards .git in every spelling that some
// file system takes for it (case, trailing dots and spaces, NTFS short names and streams, characters HFS+ ignores), and
// ways out of the shop.
func unsafeName(path string) string {
	if path == "" || path[0] == '/' {
		return "the name is not inside the shop"
	}
	for _, n := range strings.Split(path, "/") {
		switch {
		case n == "" || n == "." || n == "..":
			return "the name is not inside the shop"
		case strings.ContainsAny(n, "\\\x00"):
			return "the name holds a character that is a separator elsewhere"
		case looksGit(n):
			return "the name stands for git's own folder on some systems"
		}
	}
	return ""
}

func looksGit(n string) bool {
	n = strings.Map(func(r rune) rune {
		switch {
		case r >= 0x200c && r <= 0x200f, r >= 0x202a && r <= 0x202e, r >= 0x206a && r <= 0x206f, r == 0xfeff:
			return -1 // HFS+ does not see these
		}
		return r
	}, n)
	n, _, _ = strings.Cut(n, ":") // NTFS streams
	n = strings.ToLower(strings.TrimRight(n, ". "))
	return n == ".git" || n == "git~1"
}

// Awkward tells why a name gives trouble on a stick or on Windows, or nothing. Sources: Microsoft's "Naming Files, Paths, and
// Namespaces" and the exFAT specification's table of invalid characters (the latter unverified).
func Awkward(path string) string {
	for _, n := range strings.Split(path, "/") {
		if strings.ContainsAny(n, "<>:\"|?*") {
			return "holds one of < > : \" | ? *"
		}
		for _, r := range n {
			if r < 32 {
				return "holds a control character"
			}
		}
		if strings.HasSuffix(n, ".") || strings.HasSuffix(n, " ") {
			return "ends in a dot or a space"
		}
		stem, _, _ := strings.Cut(strings.ToUpper(n), ".")
		switch stem {
		case "CON", "PRN", "AUX", "NUL":
			return "is the name of a device on Windows"
		}
		if len(stem) == 4 && (stem[:3] == "COM" || stem[:3] == "LPT") && stem[3] >= '1' && stem[3] <= '9' {
			return "is the name of a device on Windows"
		}
	}
	return ""
}

// Fold is what a case-folding file system compares names by: two names with one fold cannot live side by side there.
func Fold(name string) string { return norm.NFC.String(cases.Fold().String(norm.NFC.String(name))) }

// Unsafe tells why a path must not be written to a working folder, or nothing.
func Unsafe(path string) string { return unsafeName(path) }
