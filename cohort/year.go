package cohort

import "math"

// DaysPerYear is the length of a year wherever days become years.
const DaysPerYear = 365.25

// DayOfYear is the day on which a number of years since operation is reached,
// ⌊365.25·years⌋: 1 → 365, 3 → 1095, 5 → 1826, 10 → 3652, 15 → 5478, 20 → 7305. A joint
// closed on its first anniversary, after 365 days, has been followed for one
// year; of 365.25 days it would never have, in three years of four. It is the
// day of every estimate, number at risk and expected revision of that year.
func DayOfYear(years float64) float64 { return math.Floor(float64(DaysPerYear * years)) }
