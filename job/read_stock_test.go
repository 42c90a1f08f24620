package job

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// An amount is a number and a unit, with a blank between or without.
func TestAmountsAsPeopleWriteThem(t *testing.T) {
	for text, want := range map[string]string{
		"500 ml": "500 ml", "500ml": "500 ml", "0.5 L": "0.5 l", "16 fl oz": "16 fl oz", "16fl oz": "16 fl oz", "2.5m2": "2.5 m2", "3  m": "3 m",
		"ml": "", "500": "", "5e3 ml": "", "-1 ml": "", "0 ml": "", "1 stone": "", "1.2.3 l": "",
	} {
		s, err := LoadFS(fuzzShop("prices.yaml", []byte("items: [{item: glue, amount: '"+text+"', price: 3}]\n")), "")
		if want == "" {
			require.Error(t, err, text)
			continue
		}
		require.NoError(t, err, text)
		require.Equal(t, want, s.Prices.Items[0].Amount, text)
	}
}
