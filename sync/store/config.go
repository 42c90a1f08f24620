package store

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	gitconfig "github.com/go-git/go-git/v5/plumbing/format/config"
)

// settings is what of git's configuration matters for reading and writing a shop's files.
type settings struct {
	fileMode     bool
	ignoreCase   bool
	symlinks     bool
	excludesFile string
}

func readConfig(path string) (*gitconfig.Config, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	c := gitconfig.New()
	if err := gitconfig.NewDecoder(bytes.NewReader(data)).Decode(c); err != nil {
		return nil, &Error{ErrDamaged, path, "correct the file; git config -l shows where it fails", err}
	}
	return c, nil
}

func truth(s string, def bool) bool {
	switch strings.ToLower(s) {
	case "":
		return def
	case "true", "yes", "on", "1":
		return true
	}
	return false
}

func userConfigs() []string {
	var out []string
	home, _ := os.UserHomeDir()
	x := os.Getenv("XDG_CONFIG_HOME")
	if x == "" && home != "" {
		x = filepath.Join(home, ".config")
	}
	if x != "" {
		out = append(out, filepath.Join(x, "git", "config"))
	}
	if home != "" {
		out = append(out, filepath.Join(home, ".gitconfig"))
	}
	return out
}

func loadSettings(git string) (settings, error) {
	s := settings{fileMode: true, symlinks: true}
	home, _ := os.UserHomeDir()
	if x := os.Getenv("XDG_CONFIG_HOME"); x != "" {
		s.excludesFile = filepath.Join(x, "git", "ignore")
	} else if home != "" {
		s.excludesFile = filepath.Join(home, ".config", "git", "ignore")
	}
	for i, path := range append(userConfigs(), filepath.Join(git, "config")) {
		own := i == len(userConfigs())
		c, err := readConfig(path)
		if err != nil {
			if own && !errors.Is(err, os.ErrNotExist) {
				return s, err
			}
			continue
		}
		core := c.Section("core")
		if v := core.Option("excludesfile"); v != "" {
			if rest, ok := strings.CutPrefix(v, "~/"); ok {
				v = filepath.Join(home, rest)
			}
			s.excludesFile = v
		}
		s.fileMode = truth(core.Option("filemode"), s.fileMode)
		s.ignoreCase = truth(core.Option("ignorecase"), s.ignoreCase)
		s.symlinks = truth(core.Option("symlinks"), s.symlinks)
		if !own {
			continue
		}
		if core.Option("worktree") != "" {
			return s, &Error{ErrUnhandled, path, "open the shop in the folder that core.worktree names", errors.New("core.worktree is set")}
		}
		ext := c.Section("extensions")
		if f := ext.Option("objectformat"); f != "" && !strings.EqualFold(f, "sha1") {
			return s, &Error{ErrUnhandled, path, "clone the history into a repository of format sha1", fmt.Errorf("object format %s", f)}
		}
		if f := ext.Option("refstorage"); f != "" && !strings.EqualFold(f, "files") {
			return s, &Error{ErrUnhandled, path, "run: git refs migrate --ref-format=files", fmt.Errorf("ref storage %s", f)}
		}
	}
	return s, nil
}
