package monitor

import "time"

// isoDay writes a day since 1 January 1970.
func isoDay(day int32) string {
	return time.Unix(int64(day)*24*60*60, 0).UTC().Format(time.DateOnly)
}
