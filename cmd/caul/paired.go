package main

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// The tokens of paired benches lie with the user's settings, never in a shop,
// so that they travel on no stick and in no history. A shop is known there by
// its folder.

func pairedFile() (string, error) {
	conf, err := os.UserConfigDir()
	if err != nil {
		return "", err
	}
	return filepath.Join(conf, "caul", "paired.json"), nil
}

// readTokens gives the tokens by shop and remote; none where there are none.
func readTokens() (map[string]map[string]string, error) {
	file, err := pairedFile()
	if err != nil {
		return nil, err
	}
	all := map[string]map[string]string{}
	b, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return all, nil
	}
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(b, &all); err != nil {
		return nil, &fault{code: exitFailed, msg: file + " does not read: " + err.Error(), hint: "move it away and pair again"}
	}
	return all, nil
}

// keepToken writes a token down for the syncs that come.
func keepToken(shop, remote, token string) error {
	all, err := readTokens()
	if err != nil {
		return err
	}
	if all[shop] == nil {
		all[shop] = map[string]string{}
	}
	all[shop][remote] = token
	b, err := json.MarshalIndent(all, "", "  ")
	if err != nil {
		return err
	}
	file, err := pairedFile()
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return err
	}
	return writePrivate(file, append(b, '\n'))
}

// writePrivate replaces a file that only its owner may read, whole or not at
// all.
func writePrivate(file string, b []byte) error {
	t, err := os.CreateTemp(filepath.Dir(file), ".caul-") // made with mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(t.Name())
	_, err = t.Write(b)
	if err := errors.Join(err, t.Sync(), t.Close()); err != nil {
		return err
	}
	return os.Rename(t.Name(), file)
}

// tokenOf gives the token of a shop's remote, "" where none is kept.
func tokenOf(shop string) func(string) string {
	return func(remote string) string {
		all, err := readTokens()
		if err != nil {
			return ""
		}
		return all[shop][remote]
	}
}
