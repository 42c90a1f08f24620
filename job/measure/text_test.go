package measure

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// What goes out as JSON comes back as the same quantity.
func TestJSONRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		type all struct {
			L Length
			S Span
			T Temperature
			M Money
		}
		in := all{
			Length(rapid.Int64Range(-4e13, 4e13).Draw(t, "length")),
			Span(rapid.Int64Range(0, 1e6).Draw(t, "span")) * Minute,
			Temperature(rapid.SampledFrom([]int64{5, 9}).Draw(t, "scale") * rapid.Int64Range(-5000, 15000).Draw(t, "hundredths")),
			Money{rapid.Int64Range(-1e12, 1e12).Draw(t, "money"), "USD"},
		}
		b, err := json.Marshal(in)
		require.NoError(t, err)
		var out all
		require.NoError(t, json.Unmarshal(b, &out), string(b))
		require.Equal(t, in, out, string(b))
	})
}
