package site

import (
	"bytes"
	"html/template"
	"net/url"
	"path"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// markdown turns a maker's prose into HTML. Raw HTML in it is left out, links
// that would run something are emptied (goldmark's safe default), headings sink
// below the page's own, and pictures are led through pictures, which gives the
// page's address of a picture or "" to leave it out.
func markdown(src []byte, sink int, dir string, pictures func(file, alt string) string) (template.HTML, error) {
	md := goldmark.New(
		goldmark.WithExtensions(extension.GFM),
		goldmark.WithParserOptions(parser.WithASTTransformers(util.Prioritized(&mender{sink: sink, dir: dir, pictures: pictures}, 500))),
	)
	var b bytes.Buffer
	if err := md.Convert(src, &b); err != nil {
		return "", err
	}
	return template.HTML(b.String()), nil //nolint:gosec // goldmark escapes and drops raw HTML
}

type mender struct {
	sink     int
	dir      string
	pictures func(file, alt string) string
}

// Transform implements parser.ASTTransformer.
func (m *mender) Transform(doc *ast.Document, reader text.Reader, _ parser.Context) {
	src := reader.Source()
	var drop []ast.Node
	_ = ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Heading:
			n.Level = min(6, n.Level+m.sink)
		case *ast.Image:
			dest, err := url.PathUnescape(string(n.Destination))
			if err != nil || m.pictures == nil || strings.Contains(dest, ":") || strings.HasPrefix(dest, "/") {
				drop = append(drop, n)
				break
			}
			alt := string(n.Text(src)) //nolint:staticcheck // the plain text is what is wanted
			at := m.pictures(path.Join(m.dir, dest), alt)
			if at == "" {
				drop = append(drop, n)
				break
			}
			n.Destination = []byte(at)
		}
		return ast.WalkContinue, nil
	})
	for _, n := range drop {
		if p := n.Parent(); p != nil {
			alt := ast.NewString([]byte("[picture: " + string(n.Text(src)) + "]")) //nolint:staticcheck
			p.ReplaceChild(p, n, alt)
		}
	}
}

// Prose turns a maker's Markdown into HTML for another page of ours, such as
// the bench: as markdown does, with pictures led through at.
func Prose(src, dir string, at func(file string) string) (template.HTML, error) {
	return markdown([]byte(src), 2, dir, func(file, _ string) string { return at(file) })
}
