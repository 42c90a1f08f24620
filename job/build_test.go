package job

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	east "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/text"
	"pgregory.net/rapid"
)

var buildSteps = []Step{{ID: "mill", Name: "Mill the ribs"}, {ID: "core", Name: "Glue the core"}}

func TestBuildSections(t *testing.T) {
	b := ReadBuild("jobs/x/build.md", []byte(`Before any heading.

# The table

Why.

## mill

- [ ] one
- [x] two

### With the fence

1. [X] three

## Glue the core

Text.

Anything
--------

- [ ] four
`+"```\n- [ ] not a task\n## core\n```\n"+`
<!--
- [ ] not a task
-->

## Set-up again {#mill}
`), buildSteps)
	var got []string
	for _, s := range b.Sections {
		line := fmt.Sprintf("%d %q step=%q line=%d", s.Level, s.Heading, s.Step, s.At.Line)
		for _, k := range s.Tasks {
			line += fmt.Sprintf(" [%s %v %d:%d]", k.Text, k.Done, k.At.Line, k.At.Col)
		}
		got = append(got, line)
	}
	require.Equal(t, []string{
		`0 "" step="" line=1`,
		`1 "The table" step="" line=3`,
		`2 "mill" step="mill" line=7 [one false 9:4] [two true 10:4]`,
		`3 "With the fence" step="mill" line=12 [three true 14:5]`,
		`2 "Glue the core" step="core" line=16`,
		`2 "Anything" step="" line=20 [four false 23:4]`,
		`2 "Set-up again" step="mill" line=33`,
	}, got)
	require.Len(t, b.StepSections("mill"), 3)
	require.Equal(t, "Text.", b.Sections[4].Body)
}

// libraryView lists headings and tasks as goldmark, a CommonMark library, sees
// them.
func libraryView(src []byte) []string {
	md := goldmark.New(goldmark.WithExtensions(extension.TaskList))
	doc := md.Parser().Parse(text.NewReader(src))
	var out []string
	_ = ast.Walk(doc, func(n ast.Node, in bool) (ast.WalkStatus, error) {
		if !in {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Heading:
			out = append(out, fmt.Sprintf("heading %d", n.Level))
		case *east.TaskCheckBox:
			out = append(out, fmt.Sprintf("task %v", n.IsChecked))
		}
		return ast.WalkContinue, nil
	})
	return out
}

func ownView(src []byte) []string {
	b := ReadBuild("build.md", src, nil)
	var out []string
	for _, s := range b.Sections {
		if s.Level > 0 {
			out = append(out, fmt.Sprintf("heading %d", s.Level))
		}
		for _, k := range s.Tasks {
			out = append(out, fmt.Sprintf("task %v", k.Done))
		}
	}
	return out
}

// TestBuildAsCommonMark holds what is read from build.md against a CommonMark
// library on the demo's texts and on random ones made of the usual pieces.
func TestBuildAsCommonMark(t *testing.T) {
	n := 0
	require.NoError(t, fs.WalkDir(os.DirFS("demo/files/jobs"), ".", func(p string, e fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(p, ".md") {
			return err
		}
		src, err := os.ReadFile("demo/files/jobs/" + p)
		require.NoError(t, err)
		require.Equal(t, libraryView(src), ownView(src), p)
		n++
		return nil
	}))
	require.Equal(t, 3, n)
	rapid.Check(t, func(t *rapid.T) {
		pieces := []string{"# One\n", "## Two ##\n", "### \n", "####### no\n", "#no\n", "Plain text.\n", "- [ ] open\n", "- [x] done\n", "* [X] done\n", "1. [ ] first\n",
			"```\n- [ ] in code\n# in code\n```\n", "~~~ text\n## in code\n~~~\n", "Under\n=====\n", "Below\n---\n", "> quoted\n", "- [y] no box\n", "- item\n", "[ ] no list\n"}
		var b bytes.Buffer
		for range rapid.IntRange(0, 8).Draw(t, "pieces") {
			b.WriteString(rapid.SampledFrom(pieces).Draw(t, "piece"))
			b.WriteString("\n")
		}
		if w, g := fmt.Sprint(libraryView(b.Bytes())), fmt.Sprint(ownView(b.Bytes())); w != g {
			t.Fatalf("%q:\nlibrary %s\nhere    %s", b.String(), w, g)
		}
	})
}
