package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"caul/job/measure"
	"caul/job/reckon"
)
