package dates

import "testing"

func TestPlaceholder(t *testing.T) {
	for cell, want := range map[string]bool{
		"0000-00-00": true, "0000-00-00 00:00:00": true, "1900-01-01": true, "1900-01-01T00:00:00": true, "1/1/1900": true, "01.01.1900": true,
		"1753-01-01": true, "01/01/1753": true, "9999-12-31": true, "31/12/9999": true, "12/31/9999": true, "9999-12-31 23:59:59.997": true, "1-Jan-1900": true,
		"1900-01-02": false, "1900-12-31": false, "2/1/1900": false, "9999-12-30": false, "1753-12-31": false, "0000-01-01": false, "9999": false, "9999-12/31": false,
		"": false, "none": false, "2019-04-03": false, "3/4/2019": false, "0/0/0": false, "1753-1-1-1753": false, "1753-1-1": true,
	} {
		if got := Placeholder([]byte(cell), Parse([]byte(cell), Options{})); got != want {
			t.Errorf("%q: %v", cell, got)
		}
	}
}
