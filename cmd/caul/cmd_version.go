package main

import (
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// version is the release this is; a build may set it with -ldflags.
var version = "0.1.0"

func newVersion(e *env) *cobra.Command {
	return &cobra.Command{Use: "version", Short: "which caul this is", Args: cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			v := map[string]any{"caul": version, "go": runtime.Version(), "json": jsonVersion}
			if b, ok := debug.ReadBuildInfo(); ok {
				for _, s := range b.Settings {
					if s.Key == "vcs.revision" {
						v["revision"] = s.Value
					}
				}
			}
			return e.print("version", v, func() error {
				e.printf("caul %s, %s, %s/%s\n", version, runtime.Version(), runtime.GOOS, runtime.GOARCH)
				return nil
			})
		}}
}
