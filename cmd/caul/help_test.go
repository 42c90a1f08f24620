package main

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// helpEnv is an environment in an empty folder, its answers in b.
func helpEnv(t *testing.T, b *bytes.Buffer) *env {
	return &env{in: strings.NewReader(""), out: b, err: b, cwd: t.TempDir(), getenv: func(string) string { return "" },
		now: func() time.Time { return time.Date(2026, 3, 14, 9, 0, 0, 0, time.UTC) }}
}

// everyCommand calls f with every command of the program, those that only list
// others too.
func everyCommand(c *cobra.Command, f func(*cobra.Command)) {
	f(c)
	for _, sub := range c.Commands() {
		everyCommand(sub, f)
	}
}

// Every command's help has an example, and fits 80 columns.
func TestEveryCommandHasAnExample(t *testing.T) {
	var b bytes.Buffer
	known := map[string]bool{}
	everyCommand(newRoot(helpEnv(t, &b)), func(c *cobra.Command) {
		path := strings.TrimPrefix(c.CommandPath(), "caul ")
		known[path] = true
		if path != "caul" && !strings.HasPrefix(path, "completion") && c.Runnable() && !c.HasSubCommands() {
			require.NotEmpty(t, c.Example, path)
		}
		if strings.HasPrefix(path, "completion") {
			return // cobra's own words
		}
		b.Reset()
		c.SetOut(&b)
		require.NoError(t, c.Help())
		for _, l := range strings.Split(b.String(), "\n") {
			assert.LessOrEqual(t, len([]rune(l)), 80, "%s: %s", path, l)
		}
	})
	for path := range examples {
		require.True(t, known[path], "an example of a command that is not there: %s", path)
	}
}

// Every example is a command line that the program understands: its flags are
// there, and what it is given is of the right number.
func TestExamplesAreUnderstood(t *testing.T) {
	var b bytes.Buffer
	for path, e := range examples {
		for _, line := range strings.Split(e, "\n") {
			line, _, _ = strings.Cut(line, " > ")
			words := shellWords(line)
			require.Equal(t, "caul", words[0], line)
			root := newRoot(helpEnv(t, &b))
			c, rest, err := root.Find(words[1:])
			require.NoError(t, err, line)
			require.True(t, strings.HasPrefix(c.CommandPath(), "caul "+path), line)
			require.NoError(t, c.ParseFlags(rest), line)
			if c.Args != nil {
				require.NoError(t, c.Args(c, c.Flags().Args()), line)
			}
		}
	}
}

// The examples of the sums are worked out.
func TestSumExamplesAreWorkedOut(t *testing.T) {
	n := 0
	for path, e := range examples {
		if !strings.HasPrefix(path, "reckon ") {
			continue
		}
		n++
		var b bytes.Buffer
		require.Zero(t, run(context.Background(), helpEnv(t, &b), shellWords(e)[1:]), "%s\n%s", e, b.String())
	}
	require.NotZero(t, n)
}

// shellWords splits a line as a shell does where nothing but double quotes is
// used.
func shellWords(s string) []string {
	var out []string
	quoted, word, open := false, "", false
	for _, r := range s {
		switch {
		case r == '"':
			quoted, open = !quoted, true
		case r == ' ' && !quoted:
			if open {
				out = append(out, word)
			}
			word, open = "", false
		default:
			word, open = word+string(r), true
		}
	}
	if open {
		out = append(out, word)
	}
	return out
}
