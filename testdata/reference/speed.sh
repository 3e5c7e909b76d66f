#!/bin/sh
# How many times faster than R's coxph survival/regress fits the same data, in one run: speed.sh [ROWS]
# ROWS is one of the sizes of BenchmarkCox: 100000, 1000000 (the default) or 5000000, for which R needs 12 GB.
set -eu
cd "$(dirname "$0")/../.."
rows=${1:-1000000}
ours=$(go test -run '^$' -bench "^BenchmarkCox\$/^rows=$rows\$" ./survival/regress | awk '{ for (i = 2; i <= NF; i++) if ($i == "s/fit") print $(i-1) }')
theirs=$(Rscript --vanilla testdata/reference/speed.R "$rows")
echo "coxph: $theirs"
echo "$theirs" | sed 's/.*: \([0-9.]*\) s .*/\1/' | awk -v ours="$ours" '{ printf "survival/regress: %.3f s, %.0f times as fast\n", ours, $1 / ours }'
