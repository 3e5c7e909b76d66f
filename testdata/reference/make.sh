#!/bin/sh
# Make again every file of testdata that a script makes: hand, the counts of published, reference.
# Needs python3 and R with survival, etm, cmprsk and prodlim (Debian: r-base-core r-cran-survival r-cran-etm
# r-cran-cmprsk r-cran-prodlim). Then `git diff` should show nothing but package versions.
set -eu
cd "$(dirname "$0")"
python3 ../hand/work.py ../hand
Rscript --vanilla ../published/counts.R ../published
Rscript --vanilla random.R .
Rscript --vanilla regression.R regression
Rscript --vanilla contrast.R contrast
Rscript --vanilla agreement.R > agreement.txt
