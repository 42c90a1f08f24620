package sync

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"

	"go.yaml.in/yaml/v3"

	"caul/sync/remote"
	"caul/sync/store"
)

// Remote is a place this machine syncs with.
type Remote struct {
	Name string      `yaml:"name" json:"name"`
	URL  string      `yaml:"url" json:"url"`
	Kind remote.Kind `yaml:"kind" json:"kind"`
	// Branch is the branch there; empty until the first sync finds out.
	Branch string `yaml:"branch,omitempty" json:"branch,omitempty"`
	// Met tells that this machine has synced with it before.
	Met bool `yaml:"met,omitempty" json:"met,omitempty"`
	// Auto asks for a sync with this remote after each log entry when it is within reach.
	Auto bool `yaml:"auto,omitempty" json:"auto,omitempty"`
}

// RemoteOptions are what may be said when a remote is added.
type RemoteOptions struct {
	// Group marks a folder of other people's shared builds: it is never settled with, only looked into for bundles.
	Group  bool
	Branch string
	Auto   bool
}

type machineFile struct {
	Machine string   `yaml:"machine"`
	Remotes []Remote `yaml:"remotes,omitempty"`
}

// Trouble with what a machine knows of itself.
var (
	ErrNoMachine = errors.New("this machine has no name yet")
	ErrName      = errors.New("not a usable name")
	ErrNoRemote  = errors.New("no remote of that name")
	ErrTaken     = errors.New("there is a remote of that name already")
)

var goodName = regexp.MustCompile(`^[\pL\pN][\pL\pN ._-]{0,39}$`)

// CheckName tells whether a machine or a remote may be called s.
func CheckName(s string) error { return checkName(s) }

func checkName(s string) error {
	if !goodName.MatchString(s) || strings.HasSuffix(s, ".lock") || strings.HasSuffix(s, ".") || strings.Contains(s, "..") {
		return &store.Error{Kind: ErrName, Path: fmt.Sprintf("%q", s), Hint: "use up to 40 letters, digits, dashes or spaces, for example shop or home-desk"}
	}
	return nil
}

func (s *Shop) machinePath() string { return filepath.Join(s.repo.Own, "machine.yaml") }

func (s *Shop) loadMachine() error {
	s.own = machineFile{}
	data, err := os.ReadFile(s.machinePath())
	if errors.Is(err, os.ErrNotExist) {
		return nil
	}
	if err != nil {
		return store.Name(err, s.machinePath())
	}
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	if err := d.Decode(&s.own); err != nil {
		return &store.Error{Kind: store.ErrDamaged, Path: s.machinePath(), Hint: "correct the file, or delete it and set the machine's name and remotes anew", Err: err}
	}
	return nil
}

func (s *Shop) saveMachine() error {
	data, err := yaml.Marshal(&s.own)
	if err != nil {
		return err
	}
	if err := store.MakeBelow(s.repo.Disk, s.repo.Git, s.repo.Own, 0o777); err != nil {
		return store.Name(err, s.repo.Own)
	}
	return store.Name(store.WriteFile(s.repo.Disk, s.machinePath(), data, 0o600), s.repo.Own)
}

// Machine is the name of this machine; empty when it has none yet.
func (s *Shop) Machine() string { return s.own.Machine }

// SetMachine names this machine. Two machines of one shop should not share a name.
func (s *Shop) SetMachine(name string) error {
	if err := checkName(name); err != nil {
		return err
	}
	s.own.Machine = name
	return s.saveMachine()
}

// Remotes lists the remotes in the order they were added.
func (s *Shop) Remotes() []Remote { return append([]Remote(nil), s.own.Remotes...) }

// AddRemote makes a remote known. The address is a folder, ssh://host/path or host:path, https://host/path, or caul://host:port
// for another machine's bench. It need not be within reach yet.
func (s *Shop) AddRemote(name, url string, o RemoteOptions) error {
	if err := checkName(name); err != nil {
		return err
	}
	for _, r := range s.own.Remotes {
		if strings.EqualFold(refName(r.Name), refName(name)) {
			return &store.Error{Kind: ErrTaken, Path: name, Hint: "`caul remote forget " + name + "` first, or choose another name"}
		}
	}
	kind, err := remote.KindOf(url)
	if err != nil {
		return err
	}
	if url, err = remote.Clean(url); err != nil {
		return err
	}
	if kind == remote.Folder {
		if url, err = filepath.Abs(url); err != nil {
			return err
		}
		if o.Group {
			kind = remote.Group
		}
		if rel, err := filepath.Rel(url, s.repo.Dir); err == nil && rel == "." {
			return &store.Error{Kind: remote.ErrBadRemote, Path: url, Hint: "this is the shop itself; name a folder outside it"}
		}
	} else if o.Group {
		return &store.Error{Kind: remote.ErrBadRemote, Path: url, Hint: "other people's work is taken from a folder only"}
	}
	s.own.Remotes = append(s.own.Remotes, Remote{Name: name, URL: url, Kind: kind, Branch: o.Branch, Auto: o.Auto})
	return s.saveMachine()
}

// RemoveRemote forgets a remote. Nothing at the remote is touched.
func (s *Shop) RemoveRemote(name string) error {
	for i, r := range s.own.Remotes {
		if r.Name == name {
			s.own.Remotes = append(s.own.Remotes[:i:i], s.own.Remotes[i+1:]...)
			return s.saveMachine()
		}
	}
	return &store.Error{Kind: ErrNoRemote, Path: name, Hint: "`caul remote` lists them"}
}
