package exchange

// What tests of coarsening look at: days as they are told, the days that stand as they
// are, and the error of coarsened counts.
var (
	CoarseDay     = Coarse.day
	CoarseBound   = Coarse.bound
	CoarseErrorOf = Coarse.errorOf
	CoarseMost    = Coarse.most
)
